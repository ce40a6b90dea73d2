from __future__ import annotations

import pandas as pd
import pytest

from pipeline.display.season import comparisons, left_out
from pipeline.display.words import where
from pipeline.estimates.average.robustness import PLACE, SEASON
from tests.unit.display.rows import NONE, gain_row

CELL = {"moderator": "drainage group x rainfall class"}


@pytest.fixture
def gains() -> pd.DataFrame:
    """One comparison: its average, one class of each kind that a table can show, and the target that was not
    declared.
    """
    return pd.DataFrame(
        [
            gain_row(),
            gain_row(
                target="seasons to come",
                is_declared=False,
                estimate=5.69,
                conf_low=-1.04,
                conf_high=12.41,
                estimate_id="57d3bebf",
            ),
            gain_row(method="plain mean", is_headline=False, estimate=5.69),
            gain_row(moderator="drainage group", level="P", n_site_years=13),
            gain_row(moderator="drainage group", level="W", estimate=1.2, conf_low=-1.0),
            gain_row(
                moderator="rainfall class",
                level="dry",
                estimate=-0.9,
                n_site_years=6,
                n_seasons=1,
                seasons="2091",
                shown_as="grey",
            ),
            gain_row(
                **CELL,
                level="P x wet",
                estimate=NONE,
                conf_low=NONE,
                conf_high=NONE,
                n_site_years=2,
                n_seasons=2,
                shown_as="count",
            ),
            gain_row(**CELL, level="P x normal", estimate=7.38, n_site_years=8),
            gain_row(
                **CELL,
                level="W x dry",
                estimate=1.29,
                n_site_years=3,
                n_seasons=1,
                seasons="2091",
                shown_as="grey",
            ),
        ]
    )


def rows_of(table: str) -> dict[str, list[str]]:
    lines = [line.strip("| ").split(" | ") for line in table.splitlines() if line.startswith("| ")]
    return {cells[0]: cells[1:] for cells in lines}


def test_both_targets_stand_side_by_side_with_the_declared_one_in_bold(gains):
    agreement = pd.DataFrame(
        [
            {
                "comparison_id": gains["comparison_id"].iloc[0],
                "is_declared": True,
                "agrees": True,
                "sentence": "",
            }
        ]
    )
    changed = {
        "comparison_id": "blend",
        "is_declared": True,
        "kind": PLACE,
        "estimate": 1.0,
        "changes_conclusion": True,
    }
    others = [
        changed | other
        for other in ({"comparison_id": "other", "kind": SEASON}, {"is_declared": False, "kind": SEASON})
    ]
    averages = gains[gains["moderator"] == "all"].assign(kg_ha_per_unit=62.77)
    table = comparisons.comparisons_table(averages, agreement, pd.DataFrame([changed, *others]))
    assert "(1 bu/ac = 62.8 kg/ha)" in table
    row = rows_of(table)["Half-coated blend, one application, against urea"]
    assert row[1].startswith("**5.8** (3.4 to 8.2) [[b78c8b79]")
    assert row[2].startswith("5.7 (\u22121.0 to 12.4) [[57d3bebf]")
    assert (row[0], row[3]) == ("a gain, but it depends on one place; methods agree", "33 in 4 seasons")
    # here a place, and not a season
    assert "one season" not in table and "'Depends on': leave that one out, and the answer changes." in table
    firm = comparisons.comparisons_table(averages, agreement, pd.DataFrame([changed | {"is_declared": False}]))
    assert "leave that one out" not in firm
    unknown = averages.assign(estimate=NONE, conf_low=NONE, conf_high=NONE)
    row = rows_of(comparisons.comparisons_table(unknown, agreement, pd.DataFrame([changed])))
    cells = row["Half-coated blend, one application, against urea"]
    assert cells[1].startswith("**none** [[b78c8b79]") and cells[2].startswith("none [[57d3bebf]")


def test_classes_show_what_their_counts_allow(gains):
    rows = rows_of(where.where_table(gains, "seasons tested"))
    assert rows["Drainage group"] == ["Dry (2091 only)", "Normal", "Wet", "Any rainfall"]
    poor, well = rows["P: somewhat poorly drained and wetter"], rows["W: well and moderately well drained"]
    assert poor == [
        "none",
        "7.4 (3.4 to 8.2), n\u00a0=\u00a08",
        "n\u00a0=\u00a02",
        "5.8 (3.4 to 8.2), n\u00a0=\u00a013",
    ]
    assert well[0].startswith("[1.3 (3.4 to 8.2), n\u00a0=\u00a03]{.grey")


def test_classes_without_an_average_for_seasons_to_come_say_why_they_are_only_counted(gains):
    none = gains.assign(estimate=float("nan"), target="seasons to come")
    caption = where.where_table(none, "seasons to come")
    assert "No average in future seasons can be estimated, so all are only counted." in caption
    assert "can be estimated" not in where.where_table(gains, "seasons tested")


def test_sentences_on_classes_say_the_test_and_who_has_no_class(gains):
    tests = pd.DataFrame(
        [
            {
                "moderator": "rainfall class",
                "target": "seasons tested",
                "p_value": 0.11,
                "p_value_holm": 0.11,
                "warnings": "",
                "n_unknown": 1,
            },
            {
                "moderator": "drainage group",
                "target": "seasons tested",
                "p_value": 0.005,
                "p_value_holm": 0.01,
                "warnings": "",
                "n_unknown": 2,
            },
        ]
    )
    assert where.where_sentences(gains, tests) == [
        "The gain differs between drainage groups (p = 0.010).",
        "P: somewhat poorly drained and wetter: a gain is shown, 5.8 (3.4 to 8.2) bu/ac, 13 site-years.",
        "W: well and moderately well drained: the average could be zero, 1.2 (\u22121.0 to 8.2) bu/ac, 33 site-years.",
        "Whether the gain differs between rainfall classes is not known yet: no class has 6 site-years in 2 seasons.",
        "The p-values are adjusted (Holm 1979) for 2 ways of dividing the site-years.",
        "2 site-years are in the last row only: the drainage class is not known, or the trials lie on soils of two"
        " drainage groups.",
        "1 site-year is in the last column only: the rainfall class is not known.",
    ]


def test_a_held_trial_says_what_was_found_and_where():
    finding = {
        "trial_id": "T1",
        "severity": "holds the trial",
        "check_name": "plots.moisture outside its hard range",
        "file": "plots.csv",
        "table_name": "plots",
        "found": "0.209",
        "expected": "8 to 45% (corn)",
    }
    findings = pd.DataFrame([finding | {"row_number": row} for row in (529, 528)])
    assert (
        left_out.why_left_out("T1", "held: moisture ...", findings)
        == "Held: moisture delivered as 0.209; 8 to 45% (corn) is expected"
    )
    word = findings.assign(check_name="plots.n_source is not a known word", expected="one of: uan, urea", found="ura")
    assert left_out.why_left_out("T1", "held: ...", word) == "Held: N source delivered as ura; a known word is expected"
    wide = findings.assign(check_name="block lacks treatment", found="block 3 lacks C50-40")
    assert left_out.why_left_out("T1", "held: ...", wide) == "Held: block lacks treatment (block 3 lacks C50-40)"
    # one whose finding holds it may have been lost all the same, and one may be held by what no finding here tells
    for trial_id in ("T1", "T2"):
        assert left_out.why_left_out(trial_id, "not harvested: lost, hail", findings) == "Not harvested: lost, hail"
    assert left_out.why_left_out("T2", "held: by its twin", findings) == "Held: by its twin"
    without = findings.assign(check_name="plots.moisture is empty", found="(empty)", expected="water in the grain")
    assert left_out.why_left_out("T1", "held: ...", without) == "Held: moisture was not delivered"


def test_a_trial_that_not_all_comparisons_leave_out_names_those_that_do():
    says = {"a": "blend against urea", "b": "blend against split urea", "c": "blend against nothing"}
    lost, lacks = "not harvested: lost", "the trial has no comparator at an N rate of this comparison"
    rows = [("a", "T1", lost), ("b", "T1", lost), ("c", "T1", lost), ("b", "T2", lacks), ("c", "T2", lacks)]
    frame = pd.DataFrame(rows, columns=["comparison_id", "trial_id", "reason"]).assign(place="Alder", season=2091)
    findings = pd.DataFrame(columns=["trial_id", "severity"])
    table = left_out.left_out_table(frame, findings, says)
    assert rows_of(table)["Alder 2091 (T1)"] == ["Not harvested: lost"]
    assert rows_of(table)["Alder 2091 (T2)"] == [
        "The trial has no comparator at an N rate of this comparison (blend against split urea; blend against nothing)"
    ]
    assert "At the end, in parentheses: of which comparisons, where not of all." in table
    alike = rows_of(left_out.left_out_table(frame, findings, says | {"b": says["c"]}))["Alder 2091 (T2)"]
    assert alike[0].endswith(" of this comparison (blend against nothing)")
    assert "in parentheses" not in left_out.left_out_table(frame[:3], findings, says)
    nowhere = left_out.left_out_table(frame[:3].assign(place=None, season=pd.NA), findings, says)
    assert rows_of(nowhere)["Place not known, season not known (T1)"] == ["Not harvested: lost"]
