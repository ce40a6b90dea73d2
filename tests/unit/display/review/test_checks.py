"""The reviewer's checks: what moves a headline, classes at other cuts, calibration, and doubts that rest on rows."""

from __future__ import annotations

import pandas as pd
import pytest

from pipeline.display.review import checks
from pipeline.display.review import doubts as doubt_words
from pipeline.estimates.engines.interval_rules import ADJUSTMENTS
from pipeline.simulation import season_zero
from tests.unit.display.review.test_evidence import COMPARISON, FLOW
from tests.unit.display.rows import NONE, gain_row
from tests.unit.display.season.test_comparisons import rows_of


def robust_row(**changed) -> dict:
    row = {
        "kind": "one season left out",
        "left_out": "2091",
        "method": "mixed model",
        "estimate": 5.0,
        "conf_low": 1.0,
        "conf_high": 9.0,
        "n_seasons": 3,
        "changes_conclusion": False,
        "unit": "bu/ac",
        "digits": 1,
    }
    return row | changed


def test_robustness_by_kind():
    rows = pd.DataFrame(
        [robust_row(), robust_row(left_out="2092", estimate=3.2, changes_conclusion=True), robust_row(estimate=NONE)]
    )
    (cells,) = [
        cells
        for name, cells in rows_of(checks.robustness_table(rows, label="r")).items()
        if name == "One season left out"
    ]
    assert cells == ["2", "3.2 to 5.0", "1 time: 2092"]


def test_where_as_good_is_shown_the_table_and_the_cautions_count_how_often_it_is_lost():
    rows = pd.DataFrame([robust_row(), robust_row(left_out="2092"), robust_row(left_out="2093", estimate=NONE)])
    lost = pd.Series([False, True, True], dtype="boolean")
    table = checks.robustness_table(rows, label="r", loses_as_good=lost)
    assert rows_of(table)["One season left out"][2:] == ["never", "1 time: 2092"]
    said = doubts(robustness=rows, loses_as_good=lost)
    assert "Whether as good is shown depends on a part of the data or on the method: one season left out 1 of 2" in said
    assert "Whether zero" not in said


def test_one_change_is_printed_with_its_method():
    row = robust_row(kind="planned, no result: counted as no gain", method="plain mean", estimate=8.61)
    (cells,) = [
        cells
        for name, cells in rows_of(checks.robustness_table(pd.DataFrame([row]), label="r")).items()
        if name.startswith("Planned")
    ]
    assert cells[1] == "8.6 (plain mean)"


def test_the_farthest_residuals_are_named():
    rows = pd.DataFrame({
        "kind": ["site-year gain"] * 2 + ["block gain"] * 3, "standardized": [0.5, -3.24, 1.0, NONE, 2.0],
        "place": list("ABCDE"), "season": range(2091, 2096),
    })  # fmt: skip
    assert (
        checks.residuals(rows)
        == "Standardized residuals of site-year gains: the farthest of 2 is \u22123.2 standard deviations out (B 2092),"
        " 1 beyond 3; of block gains: the farthest of 2 is 2.0 standard deviations out (E 2095), 0 beyond 3."
    )


def cut_row(**changed) -> dict:
    row = {
        "level": "wet",
        "left_out": "birch-2093",
        "estimate": 9.0,
        "conf_low": 4.0,
        "conf_high": 14.0,
        "n_site_years": 9,
        "n_seasons": 3,
        "unit": "bu/ac",
        "digits": 1,
        "changes_conclusion": False,
    }
    return row | changed


def test_classes_at_other_cuts_stand_beside_the_classes_as_they_are():
    moved = pd.DataFrame(
        [
            cut_row(changes_conclusion=True),
            cut_row(level="dry", changes_conclusion=None),
            cut_row(level="normal", estimate=NONE, n_site_years=2),
        ]
    )
    standing = pd.DataFrame(
        [cut_row(estimate=11.4, conf_low=6.5, conf_high=16.4, n_site_years=10), cut_row(level="normal", conf_low=NONE)]
    )
    table = checks.other_cuts_table(moved, standing, label="c")
    rows = rows_of(table)
    assert rows["Wet"] == ["11.4 (6.5 to 16.4), n = 10", "9.0 (4.0 to 14.0), n = 9", "yes"]
    assert rows["Dry"] == ["no site-year", "9.0 (4.0 to 14.0), n = 9", "nothing to compare"]
    assert rows["Normal"][0] == "9.0, n = 9" and rows["Normal"][1].startswith("[no average, n = 2]{.grey")
    assert "birch-2093" in table


def test_a_class_of_few_site_years_or_one_season_is_grey_at_other_cuts_too():
    moved = pd.DataFrame([cut_row(n_seasons=1), cut_row(level="dry", n_site_years=5)])
    rows = rows_of(checks.other_cuts_table(moved, moved, label="c"))
    assert all(
        cell.startswith("[9.0 (4.0 to 14.0), n = ") and ".grey" in cell
        for level in (rows["Wet"], rows["Dry"])
        for cell in level[:2]
    )


def caught_row(**changed) -> dict:
    row = {"truth": "no gain anywhere", "target": "seasons tested", "method": "interval we publish", "coverage": 0.945,
           "coverage_mc_error": 0.016,
           "n_programs": 200, "seed": 1, "verdict": "as stated"}  # fmt: skip
    return row | changed


CAUGHT = pd.DataFrame([
    caught_row(), caught_row(target="seasons to come", coverage=0.88, coverage_mc_error=0.012,
                             verdict="too narrow: catches the truth less often than 93.5%"),
    caught_row(method="wrong: all plots pooled", coverage=0.7, verdict="too narrow: x", coverage_mc_error=0.032),
])  # fmt: skip


def test_calibration_prints_the_rows_that_matter():
    table = checks.calibration_table(CAUGHT, "seasons tested", label="k")
    assert rows_of(table)["No gain anywhere"] == ["94.5%", "88.0%, too narrow", "70.0%, too narrow"]
    assert "200 simulated programs" in table and "seed 1" in table and "1.6%" in table
    assert rows_of(checks.calibration_table(CAUGHT.iloc[:1], "seasons tested", label="k"))["No gain anywhere"][1:] == [
        "no interval",
        "no interval",
    ]


def doubts(**changed) -> str:
    empty = pd.DataFrame
    found = {
        "comparison": COMPARISON, "headlines": pd.DataFrame([gain_row() | {"warnings": ""}]),
        "agreement": empty({"agrees": [True], "target": ["seasons tested"]}),
        "robustness": pd.DataFrame([robust_row()]),
        "diagnostics": empty({"standardized": [2.9], "place": ["Alder"], "season": [2091]}),
        "site_years": empty({"near_cut": [False]}),
        "flow": FLOW | {"n_held": 0}, "calibration": CAUGHT,
    }  # fmt: skip
    return " ".join(doubt_words.doubts(**(found | changed)))


def test_explored_classes_are_grey_and_rates_in_both_units():
    row = {"moderator": "previous crop", "level": "corn", "method": "mixed model", "is_headline": True,
           "estimate": 5.04, "conf_low": 1.0, "conf_high": 9.0,
           "n_site_years": 7, "n_seasons": 2, "n_unknown": 3, "unit": "bu/ac", "digits": 1, "shown_as": "sentence",
           "p_value_holm": 0.04, "rate_kg_ha": NONE,
           "rate_lb_ac": NONE, "kind": "exploratory", "estimate_id": "0a1b2c3d-4e5f"}  # fmt: skip
    rate = row | {
        "moderator": "N rate",
        "level": "134.6",
        "p_value_holm": NONE,
        "rate_kg_ha": 134.6,
        "rate_lb_ac": 120.0,
        "estimate": 6.0,
    }
    few = row | {"level": "wheat", "shown_as": "count", "n_site_years": 2, "n_seasons": 1, "estimate": NONE}
    beside = {"method": "plain mean", "is_headline": False, "conf_high": 8.0}
    rows = [each | more for each in (row, rate, few) for more in ({}, beside)]
    table = checks.explored_table(pd.DataFrame(rows), label="e")
    assert (
        "| Previous crop (exploratory) | corn | [5.0 (1.0 to 9.0), n = 7 in 2 seasons]" in table
        and "| N rate (exploratory) | 120 lb/ac (135 kg/ha) |" in table
    )
    assert table.count("[5.0 (1.0 to 8.0)]{") == 1, "alone stands the plain mean"
    assert "no test" in table and "no average, n = 2 in 1 season" in table and table.count("[no mean]") == 1
    assert table.count("n = 7 in 2 seasons]{") == 2 and "0a1b2c3d-4e5f" in table
    declared = checks.explored_table(pd.DataFrame([each | {"kind": "declared"} for each in rows]), label="e")
    assert (
        "| N rate (declared) | 120 lb/ac (135 kg/ha) | 6.0 (1.0 to 9.0), n = 7 in 2 seasons |" in declared
        and "[no average, n = 2 in 1 season]{" in declared
    )


def test_where_nothing_stands_out_the_sample_itself_is_doubted():
    assert (
        doubts()
        == "Site-years are those that cooperators offered, not a random draw from the region: how well they represent"
        " it is a judgment."
    )


@pytest.mark.parametrize(
    ("changes", "says"),
    [
        (
            {
                "comparison": COMPARISON | {"n_seasons": 4},
                "headlines": pd.DataFrame([gain_row(target="seasons to come")]),
            },
            "4 seasons say little",
        ),
        ({"comparison": COMPARISON | {"n_places": 1}}, "All site-years come from one place"),
        ({"comparison": COMPARISON | {"n_trials_missing_rates": 2}}, "2 trials without one of the named rates"),
        (
            {"agreement": pd.DataFrame({"agrees": [False], "target": ["seasons to come"]})},
            "In future seasons, the methods disagree",
        ),
        ({"agreement": pd.DataFrame({"agrees": [None], "target": ["seasons tested"]})}, "Site-years are"),
        ({"calibration": CAUGHT.iloc[:0]}, "run make calibrate"),
        (
            {"comparison": COMPARISON | {"declared_target": "seasons to come"}},
            "the interval is too narrow where no gain anywhere",
        ),
        ({"robustness": pd.DataFrame([robust_row(changes_conclusion=True)])}, "one season left out 1 of 1 time."),
        (
            {"diagnostics": pd.DataFrame({"standardized": [-3.1], "place": ["Alder"], "season": [2091]})},
            "1 residual beyond 3 standard deviations (Alder 2091)",
        ),
        ({"site_years": pd.DataFrame({"near_cut": [True, False]})}, "1 site-year within 0.2"),
        ({"site_years": pd.DataFrame({"near_cut": [True]})}, "other cut points could class it differently"),
        ({"site_years": pd.DataFrame({"near_cut": [True, True]})}, "other cut points could class them differently"),
        ({"flow": FLOW}, "3 trials of the crop held"),
        (
            {"headlines": pd.DataFrame([gain_row() | {"warnings": "R: did not converge"}])},
            "In the seasons tested, the fit warned: R: did not converge.",
        ),
    ],
)
def test_each_doubt_rests_on_its_rows(changes, says):
    assert says in doubts(**changes)


TO_COME = gain_row(target="seasons to come")
SEASON_ZERO = TO_COME | {"rule": f"With 5 or more seasons. {ADJUSTMENTS['season zero']}"}


@pytest.mark.parametrize(("n_seasons", "simulated"), [(3, 3), (4, 4), (5, 4), (12, 10)])
def test_a_season_variance_of_zero_is_doubted_by_what_the_kept_study_found(n_seasons, simulated):
    """In the words of the layouts with as many seasons, or the next fewer ones."""
    kept = pd.read_csv(season_zero.FILE)
    kept = kept[kept["n_seasons"].eq(simulated) & kept["ratio"].isin([0.25, 0.5, 1.0])]
    least, most = 100 * kept["coverage_zero"].min(), 100 * kept["coverage_zero"].max()
    said = doubts(comparison=COMPARISON | {"n_seasons": n_seasons}, headlines=pd.DataFrame([SEASON_ZERO]))
    assert "A season variance estimated as zero does not show that seasons are alike." in said
    assert f"In simulations of {simulated} seasons that did differ" in said
    assert f"in {least:.1f} to {most:.1f}% of the programs with such an estimate" in said


@pytest.mark.parametrize("other", [TO_COME, SEASON_ZERO | {"estimate": NONE}, gain_row() | {"rule": None}])
def test_a_season_variance_above_zero_is_not_doubted(other):
    assert "season variance" not in doubts(headlines=pd.DataFrame([other]))


@pytest.mark.parametrize(
    ("changes", "says_not"),
    [
        ({"comparison": COMPARISON | {"n_seasons": 5}, "headlines": pd.DataFrame([TO_COME])}, "say little"),
        (
            {"comparison": COMPARISON | {"n_seasons": 2}, "headlines": pd.DataFrame([TO_COME | {"estimate": NONE}])},
            "say little",
        ),
        ({"diagnostics": pd.DataFrame({"standardized": [3.0], "place": ["Alder"], "season": [2091]})}, "residual"),
    ],
)
def test_no_doubt_without_its_cause(changes, says_not):
    assert says_not not in doubts(**changes)
