"""What a traced estimate is, in a few lines: it says no more and nothing else than the other pages."""

from __future__ import annotations

import pytest

from pipeline.display.review import worked_out
from pipeline.estimates.n_response.curves import LINEAR_PLATEAU, MITSCHERLICH, QUADRATIC, QUADRATIC_PLATEAU
from pipeline.estimates.n_response.optimum import BEYOND
from tests.unit.display.rows import NONE
from tests.unit.display.words.test_money import row as money_row
from tests.unit.display.words.test_n_response import curve

ALONE = {
    "model": QUADRATIC_PLATEAU, "trial_id": "2091-A", "n_plots": 16, "a_kg_ha": 963.1, "b": 3.574, "c": NONE,
    "join_kg_ha": NONE, "n_unit": "lb/ac", "warnings": "", "interval_method": "profile",
}  # fmt: skip


def test_a_curve_that_never_levels_off_has_no_formula_with_holes():
    told = " ".join(worked_out._trial_curve(curve(**ALONE, flag=BEYOND, aonr=NONE, eonr=NONE, highest_rate=100.0)))
    assert "Rate for highest yield (lb/ac): not found up to 100; economic optimum: not found up to 100;" in told
    assert "begins as 963.1 + 3.574 × N; where it levels off lies beyond the highest rate tested" in told
    assert "not known" not in told and "no rate tested" not in told


@pytest.mark.parametrize(
    ("model", "says"),
    [
        (QUADRATIC_PLATEAU, "963.1 + 3.574 × (N − N squared / (2 × 151.2)) up to N = 151.2, level above"),
        (LINEAR_PLATEAU, "963.1 + 3.574 × N up to N = 151.2, level above"),
        (QUADRATIC, "963.1 + 3.574 × N + −0.01250 × N squared"),
        (MITSCHERLICH, "963.1 + 3.574 × (1 − exp(−0.01250 × N))"),
    ],
)
def test_each_curve_has_its_formula_with_its_own_numbers(model, says):
    c = 0.0125 if model == MITSCHERLICH else -0.0125
    assert worked_out._formula(curve(**ALONE) | {"model": model, "join_kg_ha": 151.2, "c": c}) == says


@pytest.mark.parametrize(("df", "is_withheld"), [(1.9, True), (2.0, True), (2.1, False)])
def test_an_interval_of_money_that_no_other_page_prints_says_so(monkeypatch, df, is_withheld):
    monkeypatch.setattr(worked_out.prices, "of_budget", lambda row: [])
    monkeypatch.setattr(worked_out.money, "planning_prices", lambda row, used: "Prices.")
    shared = {"value_per_unit": 0.72, "cost": -5.7, "gain_std_error": 26.5, "interval_covers": "Only the gain."}
    told = " ".join(worked_out._net_change(money_row(**shared, df=df, target="seasons to come", n_seasons=4)))
    assert ("the other pages do not print it: not known from 4 seasons." in told) == is_withheld


@pytest.mark.parametrize(
    ("changed", "says"),
    [
        ({}, ["as good within the margin; difference 1.4 bu/ac", "Difference by mixed model, standard error 0.90",
              "Lower limit: 1.40 − t(97.5%, df 30.0) × 0.90 = −0.44 bu/ac", "no worse than −3.00 bu/ac; half an LSD"]),
        ({"n_site_years": 3}, ["as good within the margin, from too few to claim anything; difference 1.4 bu/ac"]),
        ({"scale": "ratio", "unit": "ratio", "digits": 3, "estimate": 1.012, "lower_limit": 0.99, "upper_limit": 1.035,
          "margin_limit": 0.98},
         ["as good within the margin; a ratio of 1.012", worked_out.LOG_RATIOS,
          "Interval of the ratio: 0.9900 to 1.0350", "Margin: no worse than a ratio of 0.9800; half an LSD"]),
        ({"estimate": NONE, "verdict": "too few", "reason": "No average."}, ["seasons tested: too few; No average."]),
    ],
)  # fmt: skip
def test_a_test_against_a_margin_is_told_on_its_own_scale(changed, says):
    row = {
        "target": "seasons tested", "scale": "difference", "unit": "bu/ac", "digits": 1, "estimate": 1.4,
        "std_error": 0.9, "df": 30.0, "lower_limit": -0.44, "upper_limit": 3.24, "margin_limit": -3.0,
        "margin_basis": "half an LSD", "method": "mixed model", "verdict": "as good within the margin",
        "n_site_years": 33, "n_seasons": 4, "assay_sensitivity": "shown", "assay_reason": "it out-yields zero-N",
    }  # fmt: skip
    told = " | ".join(worked_out._as_good(row | changed))
    assert [each for each in says if each not in told] == []
