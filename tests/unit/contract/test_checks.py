"""Every check that follows from the declarations: a row is planted for each, and each must be found at its own place.

All rows go into one program and are loaded once; a row is a sound one (the examples of the declaration) with a key
of its own and one fault.
"""

from __future__ import annotations

import re
from dataclasses import dataclass

import pytest

from pipeline.contract.checks import BROUGHT_AGAIN, DOUBLED_KEYS, declared_checks, range_said
from pipeline.contract.tables import NOTED, Column, Table, declared_tables
from pipeline.contract.units import UNITS
from pipeline.sql_steps import LAYERS, Step, steps_of
from tests.tiny_program import write_tiny_program

TRIAL_OF_CROP = {"corn": "2091-A-corn", "cotton": "2091-B-cotton", "soybean": "2091-S-soybean"}
SOUND_MOISTURE = {"corn": "18.2", "cotton": "", "soybean": "12"}
# what makes a row's key its own, and the words that tie it to the sound program
TIES = {
    "sites": {"place": "Alder"},
    "trials": {"season": "2091", "site_id": "Alder Bench", "planted": "2091-05-02", "harvested": "2091-10-04"},
    "treatments": {"trial_id": "2091-A-corn"},
    "nitrogen_applications": {"trial_id": "2091-A-corn", "treatment_code": "U-120"},
    "plots": {"trial_id": "2091-A-corn", "treatment_code": "U-120", "caused_by_treatment": "", "cause": ""},
    "weather_daily": {"place": "Alder"},
    "rain_history": {"place": "Alder"},
    "irrigations": {"trial_id": "2091-A-corn"},
    "harvests": {"trial_id": "2091-B-cotton"},
    "measurements": {"trial_id": "2091-A-corn"},
    "printed_means": {"trial_id": "2091-A-corn"},
    "prices": {},
}
OWN_KEY = {
    "sites": "site_id",
    "trials": "trial_id",
    "treatments": "treatment_code",
    "nitrogen_applications": "application",
    "plots": "plot",
    "weather_daily": "date",
    "rain_history": "date",
    "irrigations": "date",
    "harvests": "plot",
    "measurements": "plot",
    "printed_means": "treatment_code",
    "prices": "item",
}
NOT_OF_TYPE = {"number": "12,5", "integer": "1.5", "date": "13/05/2093", "yes_no": "maybe"}


@dataclass(frozen=True)
class Planted:
    """One row: its fault as heading to cell, and the check that must speak; an empty check means silence."""

    table: str
    check: str
    severity: str
    column: str
    fault: tuple[tuple[str, str], ...]
    mend: str = ""


def _planted(table: Table) -> list[Planted]:
    cases = []
    for column in table.plain_columns:
        heads = list(column.unit_of_heading)
        place, name = " or ".join(heads), f"{table.name}.{column.name}"

        def case(check, *fault, severity=column.severity, at=place, mend=""):
            cases.append(Planted(table.name, check and f"{name} {check}", severity, at, fault, mend))

        if column.required:
            case("is empty", *((head, "") for head in heads), mend="fill it in")
        if column.type != "text":
            expected = {
                "number": "a number like 12.5",
                "integer": "a whole number",
                "date": "a date as year-month-day",
                "yes_no": "yes or no",
            }
            case(f"is not {expected[column.type]}", (heads[0], NOT_OF_TYPE[column.type]), at=heads[0], mend="write")
        if len(heads) > 1:
            case(
                "in two units",
                (heads[0], column.example or "1"),
                *((head, "1") for head in heads[1:]),
                mend="clear one of them",
            )
        if column.words or column.words_from:
            case(
                "is not a known word",
                (heads[0], column.example + "q"),
                at=column.name,
                mend=f'nearest known word: "{column.example}"',
            )
        for crop, limits in (column.by_crop or {"": {"hard": column.hard, "typical": column.typical}}).items():
            _at_limits(case, column, crop, limits)
    return cases


def _at_limits(case, column: Column, crop: str, limits: dict) -> None:
    """At a limit nothing is said, in any unit; just below and above it the check speaks."""
    tie = (("trial_id", TRIAL_OF_CROP[crop]),) if crop else ()
    if crop and column.name != "moisture":
        tie += (("moisture_pct", SOUND_MOISTURE[crop]),)
    hard, typical = limits.get("hard"), limits.get("typical")
    for low_high, kind, severity in ((hard, "hard", column.severity), (typical, "typical", NOTED)):
        if not low_high:
            continue
        for limit, outward in zip(low_high, (-1, 1), strict=True):
            if not (kind == "typical" and hard and limit in hard):
                step = 1 if column.type == "integer" else 1e-4 * max(1.0, abs(limit))
                case(
                    f"outside its {kind} range",
                    (_head(column), f"{limit + outward * step:.10g}"),
                    *tie,
                    severity=severity,
                    at=_head(column),
                )
            if kind == "typical" or not typical:
                for head in column.unit_of_heading:
                    case(
                        "",
                        *((other, "") for other in column.unit_of_heading),
                        (head, _in_unit(column, head, limit)),
                        *tie,
                    )


def _head(column: Column) -> str:
    return next(iter(column.unit_of_heading))


def _in_unit(column: Column, head: str, limit: float) -> str:
    """A limit (in the first unit) as it would be typed under another heading."""
    if not column.units:
        return f"{limit:g}"
    unit = UNITS[column.unit_of_heading[head]]
    return f"{(column.in_stored_unit(limit) - unit.offset) / unit.factor:.12g}"


CASES = [case for table in declared_tables().values() for case in _planted(table)]
DOUBLED = {"sites": "drainage_source", "trials": "series", "treatments": "additive",
           "nitrogen_applications": "placement",
           "plots": "notes", "weather_daily": "temp_max_f", "rain_history": "rain_in", "irrigations": "irrigation_in",
           "harvests": "gin_turnout_fraction", "measurements": "value", "printed_means": "citation",
           "prices": "price"}  # fmt: skip


def _headings(table: Table) -> list[str]:
    return [head for column in table.plain_columns for head in column.unit_of_heading]


def _sound_row(table: Table, number: int) -> dict[str, str]:
    row = {next(iter(column.unit_of_heading)): column.example for column in table.plain_columns} | TIES[table.name]
    # days of April, outside every rainfall window
    own = f"{1900 + number % 100}-04-{1 + number // 100:02}" if OWN_KEY[table.name] == "date" else f"case {number}"
    return row | {OWN_KEY[table.name]: own}


def _with_all_headings(tiny, table: Table) -> None:
    if not tiny.path(table.name).exists():
        tiny.write(table.name, [_headings(table)])
    rows = tiny.rows(table.name)
    new = [head for head in _headings(table) if head not in rows[0]]
    tiny.write(table.name, [rows[0] + new, *(row + [""] * len(new) for row in rows[1:])])


def _write_rows(tiny) -> tuple[list[int], dict[str, tuple[int, int]]]:
    numbers, doubled = [], {}
    rows = {}
    for table in declared_tables().values():
        _with_all_headings(tiny, table)
        rows[table.name] = tiny.rows(table.name)
    for number, case in enumerate(CASES):
        table, cells = declared_tables()[case.table], rows[case.table]
        row = _sound_row(table, number) | dict(case.fault)
        cells.append([row.get(head, "") for head in cells[0]])
        numbers.append(len(cells))
    for name, column in DOUBLED.items():
        row, cells = _sound_row(declared_tables()[name], len(CASES)), rows[name]
        cells.append([row.get(head, "") for head in cells[0]])
        cells.append([(row | {column: "0.25"}).get(head, "") for head in cells[0]])
        doubled[name] = (len(cells) - 1, len(cells))
    for name, cells in rows.items():
        tiny.write(name, cells)
    return numbers, doubled


@pytest.fixture(scope="module")
def planted(tmp_path_factory):
    """The tiny program to which all rows are to come."""
    return write_tiny_program(tmp_path_factory.mktemp("checks") / "program")


@pytest.fixture(scope="module")
def found(planted):
    """(findings by table and row, row numbers of CASES, row numbers of the doubled keys)."""
    tiny = planted
    tiny.add_delivery(TRIAL_OF_CROP["soybean"])
    tiny.change("trials", 2, "crop", "soybean", f"2091/{TRIAL_OF_CROP['soybean']}")
    numbers, doubled = _write_rows(tiny)
    findings = tiny.checked()["reports.findings"]
    from_declarations = {check.name for table in declared_tables().values() for check in declared_checks(table)}
    findings = findings[findings["check_name"].isin(from_declarations)]
    by_place = {}
    for row in findings.itertuples():
        by_place.setdefault((row.file, row.row_number), []).append(row)
    return by_place, numbers, doubled


def _name(case: Planted) -> str:
    return f"{case.check or 'silent'} {dict(case.fault)}"


@pytest.mark.parametrize("index", range(len(CASES)), ids=lambda i: f"{CASES[i].table}: {_name(CASES[i])}")
def test_a_planted_fault_is_found_at_its_place_and_nowhere_else(found, index):
    by_place, numbers, _ = found
    case = CASES[index]
    here = by_place.get((f"seasons/2091/{case.table}.csv", numbers[index]), [])
    assert [row.check_name for row in here] == ([case.check] if case.check else [])
    for row in here:
        assert (row.severity, row.column_name, row.table_name) == (case.severity, case.column, case.table)
        assert row.found and row.expected and row.mend
        assert row.mend.startswith(case.mend)


@pytest.mark.parametrize("name", DOUBLED)
def test_two_rows_of_one_key_with_different_contents(found, name):
    by_place, _, doubled = found
    first, second = doubled[name]
    file = f"seasons/2091/{name}.csv"
    assert (file, first) not in by_place
    (row,) = [r for r in by_place[file, second] if "two rows for one key" in r.check_name]
    assert row.severity == declared_tables()[name].doubled
    assert row.expected == f"once; first delivered in {file}" and row.found.endswith(f"(first in row {first})")
    assert row.mend == "the two rows differ: correct or remove one"


def test_a_check_is_left_out_only_where_it_would_find_nothing(found, planted):
    """Without the rows that meet the condition tried first, the check finds none of those planted."""
    steps = [step for step in steps_of(LAYERS).values() if step.only_where != Step.only_where]
    steps = [step for step in steps if step.rows_of != DOUBLED_KEYS]
    assert len(steps) > 200
    with planted.loaded() as warehouse:
        assert sorted(warehouse.table(DOUBLED_KEYS)["table_name"]) == sorted(DOUBLED)
        count = "select count(*) from trials.findings"
        before = warehouse.execute(count).fetchone()
        for step in steps:
            warehouse.execute(f"begin transaction; delete from {step.rows_of} as t where {step.only_where}")
            warehouse.execute(step.query)
            assert warehouse.execute(count).fetchone() == before, step.name
            warehouse.execute("rollback")


def test_every_declared_check_has_a_planted_fault():
    planted = {case.check for case in CASES if case.check} | {f"{name} has two rows for one key" for name in DOUBLED}
    assert planted == {check.name for table in declared_tables().values() for check in declared_checks(table)}


def test_nothing_is_found_in_the_sound_program(tiny):
    tables = tiny.checked()
    assert tables["reports.findings"].empty
    assert set(tables["reports.trials"]["status"]) == {"accepted"}


def test_a_key_that_stands_twice_is_looked_for_once(tiny):
    """Only then is a table asked which of its rows say the same again, and which other things."""
    tiny.repeat("plots", 2)
    tiny.write("irrigations", [["trial_id", "date", "irrigation_in"], ["", "2091-06-01", "1"], ["", "2091-06-01", "1"]])
    with tiny.staged() as warehouse:
        assert warehouse.table(DOUBLED_KEYS)["table_name"].tolist() == ["plots"], "an empty key is none"
        assert warehouse.table("staging.repeats")["table_name"].tolist() == ["plots"]


def test_rows_that_differ_in_a_free_factor_alone_are_no_repeat(tiny):
    rows = tiny.rows("treatments")
    rows = [[*rows[0], "factor_variety"], *([*row, "A"] for row in rows[1:]), [*rows[-1], "B"]]
    tiny.write("treatments", rows)
    findings = tiny.checked()["reports.findings"]
    assert findings[["check_name", "severity"]].to_numpy().tolist() == [
        ["treatments has two rows for one key", "holds the trial"]
    ]


def test_a_word_like_no_known_word_is_never_answered_with_another_thing(tiny):
    tiny.change("trials", 2, "crop", "maize")
    found = tiny.checked()["reports.findings"].set_index("check_name")
    assert (
        found.loc["trials.crop is not a known word", "mend"]
        == 'write one of these; or put into headings.yml: words: {trials: {crop: {"maize": <one of these>}}}'
    )


def test_every_declared_range_is_said_with_its_unit_as_people_write_it():
    said = {
        f"{table.name}.{column.name}": range_said(column, column.hard)
        for table in declared_tables().values()
        for column in table.columns
        if column.hard
    }
    assert said["weather_daily.temp_max"] == "-60 to 135 \u00b0F"
    assert said["plots.harvest_length"] == "1 to 5,000 ft" and said["trials.season"] == "1900 to 2199"
    temperature = next(c for c in declared_tables()["weather_daily"].columns if c.name == "temp_max")
    assert range_said(temperature, temperature.hard, "metric") == "-51.11 to 57.22 \u00b0C"
    assert not [
        range_ for range_ in said.values() if "_" in range_ or range_.endswith((" f", " pct", "rain/in", "fraction"))
    ]


@pytest.mark.parametrize(
    ("column", "typed", "says"),
    [
        ("moisture_pct", "0.183", "a hundred times too small: a fraction typed as a percent? If so, write 18.3"),
        ("moisture_pct", "1830%", "a hundred times too large: a percent typed as a fraction? If so, write 18.3"),
        ("test_weight_lb_bu", "5710", "a hundred times too large: a decimal point left out? If so, write 57.1"),
        ("test_weight_lb_bu", "0.57", "a hundred times too small: a decimal point in the wrong place? If so, write 57"),
        ("test_weight_lb_bu", "5.7", "typed in the wrong unit or place? correct it"),
    ],
)
def test_a_value_out_of_place_is_told_as_it_would_be_written(tiny, column, typed, says):
    tiny.fill("plots", column, "")
    tiny.change("plots", 2, column, typed)
    found = tiny.checked()["reports.findings"].query("check_name.str.endswith('outside its hard range')")
    (mend,) = found["mend"]
    until_then = "; until then it counts as not given" if column == "test_weight_lb_bu" else ""
    assert mend.endswith(until_then) and mend.removesuffix(until_then).removesuffix(".0") == says


@pytest.mark.parametrize(
    ("table", "column", "typed"),
    [
        ("plots", "stand_plants_ac", "many"),
        ("trials", "planted", "in May"),
        ("trials", "irrigated", "some"),
        ("sites", "latitude", "541"),
        ("nitrogen_applications", "product_n_pct", "460"),
    ],
)
def test_a_noted_value_that_is_not_read_is_told_to_count_as_not_given(tiny, table, column, typed):
    tiny.fill(table, column, "")
    tiny.change(table, 2, column, typed)
    found = tiny.checked()["reports.findings"]
    (mend,) = found[(found["found"] == typed) & (found["table_name"] == table)]["mend"]
    assert mend.endswith("; until then it counts as not given")


def test_a_later_delivery_counts_in_the_tables_of_which_that_is_said():
    (named,) = re.findall(r"table_name in \(('trials'.*?)\)", steps_of(LAYERS)["staging.brought_again"].query)
    assert tuple(re.findall(r"'(\w+)'", named)) == BROUGHT_AGAIN


@pytest.mark.parametrize("season", ["999999999", "2147483647", "-2147483648"])
def test_a_year_of_many_digits_is_a_finding_and_stops_nothing(tiny, season):
    """A hundred times as much, or one year more or less, is beyond what the column's integer type holds."""
    tiny.change("trials", 2, "season", season)
    found = tiny.checked()["reports.findings"]
    mine = found[found["check_name"] == "trials.season outside its hard range"]
    assert mine["found"].tolist() == [season]
    assert mine["mend"].tolist() == ["typed in the wrong unit or place? correct it"]
