"""What becomes of a delivered row: used, set aside or held, with the reason, drawn case by case."""

from __future__ import annotations

import pytest

from tests.tiny_program import write_tiny_program

# what was done to a sound trial: (table, row, column, value); then fates of its plots (rows 2-7), of its other rows,
# and a reason
SOUND = ["used"] * 6
DRAWN = {
    "nothing": ([], SOUND, "used", None),
    "hail on one plot": (
        [("plots", 4, "outcome", "damaged"), ("plots", 4, "cause", "hail")],
        ["used", "used", "set aside", "used", "used", "used"], "used", "damaged: hail"),
    "lost, no cause given": (
        [("plots", 4, "outcome", "lost")],
        ["used", "used", "set aside", "used", "used", "used"], "used", "lost: no cause given"),
    "damaged by its treatment": (
        [("plots", 4, "outcome", "damaged"), ("plots", 4, "cause", "burnt"),
         ("plots", 4, "caused_by_treatment", "yes")],
        SOUND, "used", None),
    "no weight": (
        [("plots", 3, "harvest_weight_lb", "")],
        ["used", "set aside", "used", "used", "used", "used"], "used",
        "harvested plot without yield: no harvest_weight"),
    "no plot number": (
        [("plots", 3, "plot", "")],
        ["used", "set aside", "used", "used", "used", "used"], "used", "plots.plot is empty: (empty)"),
    "moisture as a fraction": (
        [("plots", 3, "moisture_pct", "0.182")], ["held"] * 6, "held",
        "trial held: plots.moisture outside its hard range: 0.182 "
        "(seasons/2091/moisture as a fraction/plots.csv row 3)"),
    "an unknown source": (
        [("treatments", 4, "n_source", "coatd blend")], ["held"] * 6, "held",
        ("trial held: treatments.n_source is not a known word: coatd blend (seasons/2091/an unknown"
         " source/treatments.csv row 4)")),
    "held, and one plot lost": (
        [("plots", 3, "moisture_pct", "0.182"), ("plots", 4, "outcome", "lost")], ["held"] * 6, "held", None),
    "held, and one row without a plot number": (
        [("plots", 3, "moisture_pct", "0.182"), ("plots", 4, "plot", "")],
        ["held", "held", "set aside", "held", "held", "held"], "held", None),
    "trial lost": (
        [("trials", 2, "outcome", "lost"), ("trials", 2, "outcome_reason", "flood")], ["set aside"] * 6, "used",
        "trial lost; flood"),
}  # fmt: skip


@pytest.fixture(scope="module")
def fates(tmp_path_factory):
    tiny = write_tiny_program(tmp_path_factory.mktemp("fates") / "program")
    for name, (changes, *_) in DRAWN.items():
        tiny.add_delivery(name)
        for table, row, column, value in changes:
            tiny.change(table, row, column, value, f"2091/{name}")
    tiny.add_delivery("twice")
    tiny.repeat("plots", 4, "2091/twice")
    tiny.append(
        "sites",
        site_id="Alder Bench",
        place="Alder",
        drainage_class="well drained",
        drainage_source="mapped component",
    )
    with tiny.loaded() as warehouse:
        return warehouse.table("trials.row_fates")


def _of(fates, name: str, table: str):
    return fates[fates["file"] == f"seasons/2091/{name}/{table}.csv"].sort_values("row_number")


@pytest.mark.parametrize("name", DRAWN)
def test_fates_of_a_trial(fates, name):
    _, plots, others, reason = DRAWN[name]
    rows = _of(fates, name, "plots")
    assert rows["row_number"].tolist() == [2, 3, 4, 5, 6, 7]
    assert rows["fate"].tolist() == plots
    for table in ("trials", "treatments", "nitrogen_applications"):
        assert set(_of(fates, name, table)["fate"]) == {others}, table
    unused = rows[rows["fate"] != "used"]
    assert unused["reason"].notna().all() and rows[rows["fate"] == "used"]["reason"].isna().all()
    if reason:
        assert set(unused["reason"]) == {reason}


def test_a_row_delivered_twice_is_used_once(fates):
    rows = _of(fates, "twice", "plots")
    assert rows["fate"].tolist() == [*SOUND, "set aside"]
    assert rows["reason"].iloc[-1].endswith("says the same as seasons/2091/twice/plots.csv row 4")


def test_a_site_described_anew_counts_once(fates):
    rows = fates[fates["file"] == "seasons/2091/sites.csv"].sort_values("row_number")
    assert rows["row_number"].tolist() == [2, 3, 4]
    assert sorted(rows["fate"]) == ["set aside", "used", "used"]


def test_a_site_is_as_its_latest_season_describes_it(tiny):
    heads, first, _ = tiny.rows("sites")
    anew = dict(zip(heads, first, strict=True)) | {"drainage_source": "dominant component"}
    tiny.write("sites", [heads, list(anew.values())], 2092)
    with tiny.loaded() as warehouse:
        fates = warehouse.read("select * from trials.row_fates where table_name = 'sites'").set_index("file")
        sites = warehouse.table("trials.sites").set_index("site_id")
    assert sites.loc[anew["site_id"], "drainage_source"] == "dominant component"
    assert fates.loc["seasons/2092/sites.csv", "fate"] == "used"
    told = fates.loc["seasons/2091/sites.csv"].set_index("row_number")[["fate", "reason"]]
    assert told.loc[2].tolist() == ["set aside", "described anew in seasons/2092/sites.csv"]
    assert told.loc[3, "fate"] == "used"


def test_a_site_whose_later_delivery_leaves_the_drainage_class_empty_keeps_its_own(tiny):
    heads, first, _ = tiny.rows("sites")
    cells = dict(zip(heads, first, strict=True))
    tiny.write("sites", [heads, list((cells | {"drainage_class": "", "drainage_source": ""}).values())], 2092)
    checked = tiny.checked()
    assert checked["reports.findings"][["check_name", "severity"]].to_numpy().tolist() == [
        ["sites has two rows for one key", "noted"]
    ]
    counts = checked["reports.row_counts"].query("table_name == 'sites'").set_index("season")
    assert counts[["used", "set_aside"]].to_numpy().tolist() == [[2, 0], [1, 0]]
    with tiny.loaded() as warehouse:
        site = warehouse.table("trials.sites").set_index("site_id").loc[cells["site_id"]]
    assert site[["drainage_class", "drainage_source"]].tolist() == ["well drained", cells["drainage_source"]]


def test_picks_and_readings_count_with_their_plot(tiny):
    tiny.change("plots", 3, "outcome", "lost")
    tiny.change("plots", 3, "cause", "deer")
    for row in (2, 3, 4):
        tiny.change("plots", row, "harvest_weight_lb", "")
    tiny.repeat("plots", 4)
    of_plots = [["2091-A-corn", plot] for plot in ("101", "102", "103")]
    heads = ["trial_id", "plot", "trait", "date", "value", "unit"]
    tiny.write("measurements", [heads, *([*plot, "plant height", "2091-07-01", "40", "in"] for plot in of_plots)])
    heads = ["trial_id", "plot", "pick", "harvest_weight_lb"]
    tiny.write("harvests", [heads, *([*plot, "1", "40"] for plot in of_plots)])
    with tiny.loaded() as warehouse:
        fates = warehouse.table("trials.row_fates").sort_values("row_number").set_index("table_name")
    for table in ("measurements", "harvests"):
        rows = fates.loc[table]
        assert rows["fate"].tolist() == ["used", "set aside", "used"]
        assert rows["reason"].iloc[1] == "plot 102 is set aside: lost: deer"


def test_a_file_that_comes_twice_holds_no_trial_for_the_row_that_lacks_its_plot(tiny):
    tiny.change("plots", 3, "plot", "")
    tiny.write("plots", tiny.rows("plots"), "2091/again")
    findings = tiny.checked()["reports.findings"]
    assert "holds the trial" not in set(findings["severity"])
    assert (findings["check_name"] == "plots.plot is empty").sum() == 2
