"""Of two deliveries of a trial the later one counts: what it takes the place of, and what it has to bring again."""

from __future__ import annotations

import hashlib

import pytest

from tests.tiny_program import TinyProgram, write_tiny_program

PICKS = ["trial_id", "plot", "pick", "harvest_weight_lb"]
READINGS = ["trial_id", "plot", "trait", "date", "value", "unit"]
KG_PER_LB = 0.45359237


def _delivered(tiny: TinyProgram, **files: tuple[str, str]) -> None:
    """Files of the season are received on their days; a file is told by its folder: folder=(day, table ...)."""
    lines = []
    for folder, (day, *tables) in files.items():
        for table in tables:
            path = tiny.path(table, f"2091/{folder}")
            lines.append(f"{folder}/{table}.csv,{hashlib.sha256(path.read_bytes()).hexdigest()},a,2091-11-{day}")
    manifest = tiny.folder / "seasons/2091/manifest.csv"
    manifest.write_text("\n".join(["file,sha256,sender,received", *lines]) + "\n")


@pytest.fixture
def picked(tmp_path):
    """A cotton trial in its own folder, whose plots have no weight of their own; and the weights by plot, in lb."""
    tiny = write_tiny_program(tmp_path / "program")
    tiny.add_delivery("first", like="2091-B-cotton")
    heads, *plots = tiny.rows("plots", "2091/first")
    at = [heads.index(name) for name in ("plot", "harvest_weight_lb")]
    weights = {row[at[0]]: float(row[at[1]]) for row in plots}
    tiny.fill("plots", "harvest_weight_lb", "", "2091/first")
    return tiny, weights


def _write_picks(tiny: TinyProgram, folder: str, shares: dict[str, float], weights: dict[str, float]) -> None:
    rows = [
        ["first", plot, pick, f"{lb * share:.3f}"] for plot, lb in weights.items() for pick, share in shares.items()
    ]
    tiny.write("harvests", [PICKS, *rows], f"2091/{folder}")


def _weights(tiny: TinyProgram) -> dict[str, float]:
    with tiny.loaded() as warehouse:
        plots = warehouse.table("trials.plots").query("trial_id == 'first'").set_index("plot")
    return (plots["harvest_weight_kg"] / KG_PER_LB).round(2).to_dict()


def test_a_second_pick_that_comes_later_is_added_to_the_first(picked):
    tiny, weights = picked
    _write_picks(tiny, "first", {"1": 0.75}, weights)
    _write_picks(tiny, "later", {"2": 0.25}, weights)
    _delivered(tiny, first=("10", "harvests"), later=("20", "harvests"))
    assert _weights(tiny) == pytest.approx(weights, abs=0.01)


def test_a_pick_that_comes_again_takes_the_place_of_that_pick_alone(picked):
    tiny, weights = picked
    _write_picks(tiny, "first", {"1": 0.75, "2": 0.5}, weights)
    _write_picks(tiny, "later", {"2": 0.25}, weights)
    _delivered(tiny, first=("10", "harvests"), later=("20", "harvests"))
    assert _weights(tiny) == pytest.approx(weights, abs=0.01)
    counts = tiny.checked()["reports.row_counts"].query("table_name == 'harvests'").iloc[0]
    assert counts[["delivered", "used", "superseded"]].tolist() == [18, 12, 6]


def test_readings_of_another_day_or_trait_stay(tiny):
    june = [["2091-A-corn", plot, "plant height", "2091-06-10", "41", "in"] for plot in ("101", "102")]
    early = [[*row[:2], "final stand", row[3], "28000", "plants/ac"] for row in june]
    tiny.write("measurements", [READINGS, *june, *early], "2091/june")
    july = [[*row[:3], "2091-07-10", "80", "in"] for row in june]
    lodging = [[*row[:2], "lodging", *row[3:4], "5", "pct"] for row in june]
    again = [[*row[:4], "42", "in"] for row in june]
    tiny.write("measurements", [READINGS, *july, *lodging, *again], "2091/fall")
    _delivered(tiny, june=("10", "measurements"), fall=("20", "measurements"))
    with tiny.loaded() as warehouse:
        found = warehouse.table("trials.measurements")
    heights = found[(found["trait"] == "plant height") & (found["plot"] == "101")].sort_values("date")
    assert (heights["value"] / 2.54).round(3).tolist() == [42.0, 80.0]
    assert set(found["trait"]) == {"final stand", "lodging", "plant height"}


@pytest.mark.parametrize(("kept", "lacking"), [((1, 2, 3, 4, 5, 6), ""), ((2,), "101, 103, 201 and 2 more")])
def test_a_later_delivery_that_lacks_plots_of_the_earlier_holds_the_trial(tiny, kept, lacking):
    heads, *rows = tiny.rows("plots")
    at = heads.index("trial_id")
    corn = [row for row in rows if row[at] == "2091-A-corn"]
    tiny.write("plots", [heads, *(row for row in rows if row[at] != "2091-A-corn")])
    tiny.write("plots", [heads, *corn], "2091/first")
    tiny.write("plots", [heads, *(corn[number - 1] for number in kept)], "2091/later")
    _delivered(tiny, first=("10", "plots"), later=("20", "plots"))
    findings = tiny.checked()["reports.findings"].query("severity == 'holds the trial'")
    if not lacking:
        assert findings.empty
        return
    (found,) = findings.itertuples()
    assert (found.check_name, found.file, found.row_number, found.column_name, found.trial_id) == (
        "later delivery lacks plots", "seasons/2091/later/plots.csv", 2, "plot", "2091-A-corn"
    )  # fmt: skip
    assert found.found == f"without {lacking}, which seasons/2091/first/plots.csv brought"
    assert found.expected == "all plots of the trial, since the later delivery takes the place of the earlier"
