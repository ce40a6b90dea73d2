"""A temperature beyond its hard range is noted and not known: no warmth, water use or release is worked out from it."""

from __future__ import annotations

import pytest

from pipeline.contract.tables import declared_tables
from tests.tiny_program import write_tiny_program

HARD = {
    column.name: column.hard
    for column in declared_tables()["weather_daily"].columns
    if column.name in ("temp_max", "temp_min", "soil_temp")
}
OTHERS = {"temp_max": "135", "temp_min": "-80", "soil_temp": "60"}  # what stands beside, so that the rest is sound
BESIDE = {"temp_max": "temp_min", "temp_min": "temp_max"}
# by how much a limit is passed -> whether the value is known
STEPS = {0: True, 1: True, -0.01: False, -1e308: False}
CASES = [(name, end, step) for name in HARD for end in (0, 1) for step in STEPS]


@pytest.fixture(scope="module")
def read(tmp_path_factory):
    """Day of 2091 and of the history -> the stored temperatures (C); a case is a day of each."""
    tiny = write_tiny_program(tmp_path_factory.mktemp("temperatures") / "program")
    for table, season, year in (("weather_daily", 2091, 2091), ("rain_history", 2091, 2074)):
        for name in HARD:
            tiny.fill(table, f"{name}_f", "", season)
        for number, (name, end, step) in enumerate(CASES):
            value = HARD[name][end] + (step if end == 0 else -step)
            cells = {f"{name}_f": f"{value:.15g}"}
            cells |= {f"{beside}_f": OTHERS[beside] for each, beside in BESIDE.items() if each == name}
            tiny.append(table, season, place="Alder", date=f"{year}-07-{number + 1:02}", rain_in="0", **cells)
    with tiny.loaded() as warehouse:
        return warehouse.table("trials.daily_weather")


@pytest.mark.parametrize("year", [2091, 2074])
@pytest.mark.parametrize("number", range(len(CASES)), ids=map(str, CASES))
def test_a_limit_is_known_and_what_lies_beyond_is_not(read, year, number):
    name, _, step = CASES[number]
    days = read[[(day.year, day.month, day.day) == (year, 7, number + 1) for day in read["date"]]]
    (known,) = days[f"{name}_c"].notna()
    assert known == STEPS[step]
