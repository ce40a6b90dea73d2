"""The reviewer's page: counts that add up, models in words, and doubts that rest on rows."""

from __future__ import annotations

import pandas as pd
import pytest

from pipeline.display import review
from tests.unit.display.rows import NONE, gain_row
from tests.unit.display.test_season import rows_of

FLOW = {"n_listed": 37, "n_not_harvested": 1, "n_held": 3, "n_not_eligible": 2, "n_used": 31, "n_site_years": 31}
COMPARISON = {"says": "blend against urea", "unit": "bu/ac", "declared_target": "seasons tested", "seasons": "2091, 2092, 2093", "may_differ": "n_source",
              "also_differs": None, "declared": pd.Timestamp("2090-11-15"), "n_seasons": 5, "n_trials_missing_rates": 0}  # fmt: skip


def robust_row(**changed) -> dict:
    row = {"kind": "one season left out", "left_out": "2091", "method": "mixed model", "estimate": 5.0, "conf_low": 1.0, "conf_high": 9.0,
           "n_seasons": 3, "changes_conclusion": False, "unit": "bu/ac", "digits": 1}  # fmt: skip
    return row | changed


def test_the_flow_adds_up():
    numbers = [int(cells[0]) for name, cells in rows_of(review.flow_table(FLOW, label="f")).items() if name != "Trials of the crop"]
    assert numbers[0] == sum(numbers[1:]) == 37


def test_the_question_names_target_and_date():
    said = " ".join(review.question(COMPARISON, ", at the same N rate"))
    assert "over the seasons tested (2091 to 2093) and places like these" in said and "15 November 2090" in said
    said = " ".join(review.question(COMPARISON | {"declared_target": "seasons to come"}, ""))
    assert "seasons to come included" in said


def test_the_model_in_textbook_notation():
    parts = pd.DataFrame({"component": ["place", "residual", "site-year", "tau2, two-stage REML"], "standard_deviation": [0.0, 9.23, 4.84, 5.2]})
    row = gain_row() | {"df": 28.4, "df_method": "Satterthwaite", "formula": "x"}
    said = review.model(parts, row)
    assert "Gain of a block = \u03bc + A + P + e" in said
    assert "A (site-year) 4.8 bu/ac and P (place) estimated as zero; one block's gain scatters by 9.2 bu/ac" in said
    assert "on 28.4 df (Satterthwaite)" in said


def test_without_a_model_the_method_is_said():
    row = gain_row(method="plain mean") | {"df": 3, "df_method": "x", "formula": "mean of the site-year gains"}
    assert review.model(pd.DataFrame(), row) == "Plain mean: mean of the site-year gains."


def test_robustness_by_kind():
    rows = pd.DataFrame([robust_row(), robust_row(left_out="2092", estimate=3.2, changes_conclusion=True), robust_row(estimate=NONE)])
    (cells,) = [cells for name, cells in rows_of(review.robustness_table(rows, label="r")).items() if name == "One season left out"]
    assert cells == ["2", "3.2 to 5.0", "1 time: 2092"]


def doubts(**changed) -> str:
    empty = pd.DataFrame
    found = {
        "comparison": COMPARISON, "headlines": pd.DataFrame([gain_row() | {"warnings": ""}]),
        "agreement": empty({"agrees": [True], "sentence": ["They agree."]}), "robustness": pd.DataFrame([robust_row()]),
        "diagnostics": empty({"standardized": [2.9], "place": ["Alder"], "season": [2091]}), "site_years": empty({"near_cut": [False]}),
        "flow": FLOW | {"n_held": 0},
    }  # fmt: skip
    return " ".join(review.doubts(**(found | changed)))


def test_where_nothing_stands_out_the_sample_itself_is_doubted():
    assert doubts() == "Site-years are those that cooperators offered, not a random draw from the region: how far they stand for it is a judgement."


@pytest.mark.parametrize(
    ("changes", "says"),
    [
        ({"comparison": COMPARISON | {"n_seasons": 4}}, "4 seasons say little"),
        ({"comparison": COMPARISON | {"n_trials_missing_rates": 2}}, "2 trials without one of the named rates"),
        ({"agreement": pd.DataFrame({"agrees": [False], "sentence": ["The two-stage lies apart."]})}, "The two-stage lies apart."),
        ({"agreement": pd.DataFrame({"agrees": [None], "sentence": ["Nothing to compare."]})}, "Site-years are"),
        ({"robustness": pd.DataFrame([robust_row(changes_conclusion=True)])}, "One season left out: 2091 would change whether the interval reaches zero."),
        ({"diagnostics": pd.DataFrame({"standardized": [-3.1], "place": ["Alder"], "season": [2091]})}, "1 residual beyond 3 standard deviations (Alder 2091)"),
        ({"site_years": pd.DataFrame({"near_cut": [True]})}, "1 site-year within 0.2"),
        ({"flow": FLOW}, "3 trials of the crop held"),
        ({"headlines": pd.DataFrame([gain_row() | {"warnings": "R: did not converge"}])}, "In the seasons tested, the fit warned: R: did not converge."),
    ],
)
def test_each_doubt_rests_on_its_rows(changes, says):
    assert says in doubts(**changes)


def test_what_made_the_numbers_names_versions_seed_and_hashes():
    program = {"code_commit": "abc", "lock_sha256": "l" * 64, "settings_sha256": "s" * 64, "inputs_sha256": "i" * 64, "python": "3.11.7",
               "packages": '{"duckdb": "2.0.1"}', "r_versions": '{"R": "4.2.2"}'}  # fmt: skip
    rows = rows_of(review.versions(program))
    assert rows["Code"] == ["abc"] and rows["Packages and R"] == ["duckdb 2.0.1, R 4.2.2"]
    assert rows["program.yml, sha256"] == ["s" * 64] and int(rows["Random seed of resampling"][0]) > 0


def test_corrections_with_their_cause():
    row = {"says": "weight of plot 202", "correction": "c1", "cause": "ticket misread", "who": "A", "date": pd.Timestamp("2091-11-02"),
           "treatment_known": False, "state": "applied"}  # fmt: skip
    table = review.corrections_table(pd.DataFrame([row]))
    assert "| ticket misread | A, 2 November 2091 | no | applied |" in table
