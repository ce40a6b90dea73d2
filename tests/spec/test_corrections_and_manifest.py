"""A correction changes a row only while its old value stands there; a manifest tells which file changed since it
came.
"""

from __future__ import annotations

import hashlib
import re
import shutil

import pandas as pd
import pytest

from pipeline.errors import UserError
from pipeline.warehouse import open_warehouse
from tests.tiny_program import write_tiny_program

CORRECTION = """\
- table: plots
  where: {{trial_id: 2091-A-corn, {which}}}
  change: {{harvest_weight_lb: {{old: "{old}", new: "{new}"}}}}
  cause: scale print misread
  who: analyst 2
  date: 2091-12-01
  treatment_known: no
"""


def correction(old: str, new: str, which: str = "plot: 102") -> str:
    return CORRECTION.format(which=which, old=old, new=new)


# plot, its weight as delivered, its corrections, the weight that counts, and what is found of those that do not match:
# row, found, expected; {0} is the place of the first correction, {1} of the second
DRAWN = {
    "expects what stands there": ("102", 41.3, [correction("41.3", "44.1")], 44.1, []),
    "expects another": (
        "103", 42.9, [correction("40.0", "44.1", "plot: 103")], 42.9,
        [(4, 'harvest_weight_lb is "42.9"', '"40.0", per {0}')]),
    "empties the cell": ("202", 41.6, [correction("41.6", "", "plot: 202")], None, []),
    "finds no row": (
        "999", None, [correction("41.3", "44.1", "plot: 999")], None,
        [(None, "no row of season 2091 where trial_id is 2091-A-corn, plot is 999", "at least one row")]),
    "a chain": (
        "203", 43.2, [correction("43.2", "44.1", "plot: 203"), correction("44.1", "45.5", "plot: 203")], 44.1,
        [(7, 'harvest_weight_lb is "43.2" ({0} changes it to "44.1")', '"44.1", per {1}')]),
    "two of one cell by other conditions": (
        "101", 22.3, [correction("22.3", "23.1", "plot: 101"), correction("22.3", "24.5", "treatment_code: ZERO")],
        22.3,
        [(2, "harvest_weight_lb is changed by {1} too", "one correction of a cell, not {0} and another"),
         (2, "harvest_weight_lb is changed by {0} too and 1 more rows",
          "one correction of a cell, not {1} and another")]),
}  # fmt: skip


def yield_of_plot(tables, plot: str) -> float:
    plots = tables["reports.plots"]
    return plots.loc[(plots["trial_id"] == "2091-A-corn") & (plots["plot"] == plot), "yield"].item()


@pytest.fixture(scope="module")
def corrected(tmp_path_factory):
    """The tables of a program with all these corrections, and the weights that raw holds."""
    tiny = write_tiny_program(tmp_path_factory.mktemp("corrected") / "program")
    corrections(tiny, *(entry for case in DRAWN.values() for entry in case[2]))
    tables = tiny.load()
    with open_warehouse(tiny.folder / "warehouse.duckdb", read_only=True) as warehouse:
        query = (
            "select cells ->> 'plot' as plot, cells ->> 'harvest_weight_lb' as w from raw.rows where cells ->>"
            " 'trial_id' = '2091-A-corn' and table_name = 'plots'"
        )
        raw = warehouse.read(query)
    return tables, raw.set_index("plot")["w"]


@pytest.mark.parametrize("name", [name for name in DRAWN if name != "finds no row"])
def test_a_correction_is_applied_only_to_what_it_expects(corrected, name):
    tables, raw = corrected
    plot, delivered, _, counts, _ = DRAWN[name]
    assert raw[plot] == f"{delivered}", "what was delivered is never edited"
    bushels = yield_of_plot(tables, plot)
    if counts is None:
        assert bushels != bushels
    else:
        # 18.2 % moisture, 150 square feet
        assert bushels == pytest.approx(counts * 81.8 / 84.5 / 56 / (150 / 43_560))


def test_each_correction_that_no_longer_matches_is_named_with_what_stands_there(corrected):
    lines, drawn = 1, []
    for _, _, entries, _, found in DRAWN.values():
        places = []
        for entry in entries:
            places.append(f"seasons/2091/corrections.yml line {lines}")
            lines += entry.count("\n")
        drawn += [(row, *(text.format(*places) for text in texts)) for row, *texts in found]
    findings = corrected[0]["reports.findings"].query("check_name == 'correction no longer matches'")
    assert set(findings["severity"]) == {"noted"} and findings["mend"].notna().all()
    rows = [None if pd.isna(row) else row for row in findings["row_number"]]
    told = zip(rows, findings["found"], findings["expected"], strict=True)
    assert sorted(told, key=lambda finding: finding[1]) == sorted(drawn, key=lambda finding: finding[1])
    (chained,) = findings.loc[findings["row_number"] == 7, "mend"]
    assert "write one entry" in chained


def corrections(tiny, *texts: str) -> None:
    (tiny.folder / "seasons/2091/corrections.yml").write_text("".join(texts))


@pytest.mark.parametrize(
    ("texts", "says"),
    [
        (
            [("41.3", "44.1"), ("41.3", "45.5")],
            "line 8: harvest_weight_lb of trial_id 2091-A-corn, plot 102 is changed in line 1 too; keep one",
        ),
        ([("41.3", "41.3")], 'line 3: harvest_weight_lb is "41.3" before and after'),
        ([("41.3", "4x4")], 'line 3: the new harvest_weight_lb is "4x4"; expected a number like 12.5'),
    ],
)
def test_corrections_that_cannot_be_meant_are_refused(tiny, texts, says):
    corrections(tiny, *(correction(old, new) for old, new in texts))
    with pytest.raises(UserError, match=re.escape(f"seasons/2091/corrections.yml, {says}")):
        tiny.checked()


def test_a_review_still_to_come_is_refused(tiny):
    corrections(tiny, correction("41.3", "44.1").replace("2091-12-01", "2299-12-01"))
    with pytest.raises(UserError, match='line 1: "date" is 2299-12-01, which is still to come'):
        tiny.checked()


def test_corrections_of_the_same_row_of_two_files_are_both_applied(tiny):
    """Each is of a file of its own: none is the other's rival."""
    tiny.add_delivery("east")
    corrections(tiny, correction("41.3", "44.1"), correction("41.3", "45.5").replace("2091-A-corn", "east"))
    checked = tiny.checked()
    plots = checked["reports.plots"].query("plot == '102'").set_index("trial_id")["yield"]
    assert plots["east"] / plots["2091-A-corn"] == pytest.approx(45.5 / 44.1)
    assert checked["reports.findings"].empty


def test_a_manifest_tells_which_file_changed_is_new_or_is_gone(tiny):
    names = [
        f"{table}.csv" for table in ("sites", "rain_history", "trials", "treatments", "nitrogen_applications", "plots")
    ]
    lines = [
        f"{name},{hashlib.sha256((tiny.folder / 'seasons/2091' / name).read_bytes()).hexdigest()},coop-07,2091-11-20"
        for name in names
    ]
    manifest = tiny.folder / "seasons/2091/manifest.csv"
    manifest.write_text(
        "\n".join(["file,sha256,sender,received", *lines, f"gone.csv,{'0' * 64},coop-07,2091-11-20"]) + "\n"
    )
    tiny.change("plots", 2, "harvest_weight_lb", "22.4")
    findings = tiny.checked()["reports.findings"]
    assert set(findings["check_name"]) == {"file changed since received"} and set(findings["severity"]) == {"noted"}
    by_file = findings.set_index("file")["found"]
    assert by_file["seasons/2091/plots.csv"].startswith("sha256 ")
    assert by_file["seasons/2091/weather_daily.csv"] == "a file the manifest does not list"
    assert by_file["seasons/2091/gone.csv"] == "a line for a file that is not there"
    assert len(findings) == 3 and findings["mend"].notna().all()


def test_a_corrected_copy_beside_the_first_is_told_with_both_ways_to_settle_it(tiny):
    """Its keys are told, and not nitrogen that was applied twice; what is said mends it."""
    names = ("trials", "treatments", "nitrogen_applications", "plots")
    tiny.add_delivery("beside")
    for folder in ("first", "again"):
        (tiny.folder / "seasons/2091" / folder).mkdir()
        for name in names:
            shutil.copy(tiny.path(name), tiny.path(name, f"2091/{folder}"))
    for name in names:
        tiny.path(name).unlink()
    tiny.change("plots", 2, "harvest_weight_lb", "22.4", "2091/again")
    tiny.fill("nitrogen_applications", "product_n_pct", "45", "2091/again")
    findings = tiny.checked()["reports.findings"]
    held = findings[findings["severity"] == "holds the trial"]
    assert set(held["check_name"]) == {
        f"{name} has two rows for one key" for name in ("plots", "nitrogen_applications")
    }
    assert set(held["expected"]) == {f"once; first delivered in seasons/2091/again/{name}.csv" for name in names[2:]}
    (mend,) = set(held["mend"])
    assert mend == (
        "say which is right; if one file as a whole corrects the other, take the older out of the season's folder, or"
        " write into manifest.csv there when each was received: the later one counts"
    )
    sha256 = {path: hashlib.sha256(path.read_bytes()).hexdigest() for path in (tiny.folder / "seasons").rglob("*.csv")}
    lines = [
        f"{folder}/{name}.csv,{sha256[tiny.path(name, f'2091/{folder}')]},a,2091-11-{day}"
        for folder, day in (("first", 10), ("again", 20), ("beside", 15))
        for name in names
    ]
    manifest = tiny.folder / "seasons/2091/manifest.csv"
    of_one = [line for line in lines if not line.startswith("first/")]
    manifest.write_text("\n".join(["file,sha256,sender,received", *of_one]) + "\n")
    checked = tiny.checked()  # nobody knows when the other came
    assert "holds the trial" in set(checked["reports.findings"]["severity"])
    assert not checked["reports.row_counts"]["superseded"].any()
    manifest.write_text("\n".join(["file,sha256,sender,received", *lines]) + "\n")
    checked = tiny.checked()
    assert "holds the trial" not in set(checked["reports.findings"]["severity"])
    assert yield_of_plot(checked, "101") == pytest.approx(22.4 * 81.8 / 84.5 / 56 / (150 / 43_560)), "the later counts"
    manifest.unlink()
    shutil.rmtree(tiny.folder / "seasons/2091/first")
    assert "holds the trial" not in set(tiny.checked()["reports.findings"]["severity"])


def test_of_two_files_of_one_folder_none_is_the_later_one(tiny):
    shutil.copy(tiny.path("plots"), tiny.folder / "seasons/2091/corrected.csv")
    tiny.change("plots", 2, "harvest_weight_lb", "22.4")
    (tiny.folder / "seasons/2091/headings.yml").write_text("tables: {corrected: plots}\n")
    (mend,) = tiny.checked()["reports.findings"].query("severity == 'holds the trial'")["mend"]
    assert (
        mend
        == "say which is right; if one file as a whole corrects the other, take the older out of the season's folder"
    )


def test_a_file_has_one_line_in_a_manifest(tiny):
    """With two, each of its rows was counted twice among those that a later delivery replaces."""
    tiny.write("plots", tiny.rows("plots"), "2091/again")
    manifest = tiny.folder / "seasons/2091/manifest.csv"
    days = (("plots.csv", 10), ("again/plots.csv", 20), (" plots.csv", 12))
    manifest.write_text(
        "\n".join(["file,sha256,sender,received", *(f"{file},{'0' * 64},a,2091-11-{day}" for file, day in days)])
    )
    with pytest.raises(UserError) as refused:
        tiny.checked()
    assert str(refused.value) == (
        "seasons/2091/manifest.csv row 4, file: plots.csv has a line in row 2 already; keep the line of the file that"
        " is there now"
    )
    manifest.write_text(manifest.read_text().rpartition("\n")[0])
    counts = tiny.checked()["reports.row_counts"].query("table_name == 'plots'")
    assert counts["superseded"].sum() == 12
    assert counts["delivered"].sum() == counts[["used", "set_aside", "held", "superseded"]].sum().sum()
