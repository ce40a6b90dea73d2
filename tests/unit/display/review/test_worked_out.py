"""What a traced estimate is, in a few lines: it says no more and nothing else than the other pages."""

from __future__ import annotations

import pandas as pd
import pytest

from pipeline.display.review import worked_out
from pipeline.estimates.n_response.curves import LINEAR_PLATEAU, MITSCHERLICH, QUADRATIC, QUADRATIC_PLATEAU
from pipeline.estimates.n_response.optimum import BEYOND
from pipeline.trace import Step
from tests.unit.display.rows import NONE
from tests.unit.display.weather_rows import slope_row
from tests.unit.display.words.test_money import row as money_row
from tests.unit.display.words.test_n_response import curve

ALONE = {
    "model": QUADRATIC_PLATEAU, "trial_id": "2091-A", "n_plots": 16, "a_kg_ha": 963.1, "b": 3.574, "c": NONE,
    "join_kg_ha": NONE, "n_unit": "lb/ac", "warnings": "", "interval_method": "profile",
}  # fmt: skip


def test_a_curve_that_never_levels_off_has_no_formula_with_holes():
    told = " ".join(worked_out._curve(curve(**ALONE, flag=BEYOND, aonr=NONE, eonr=NONE, highest_rate=100.0)))
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
        ({}, ["as good within the margin; difference 1.4 bu/ac",
              "Difference by mixed model, standard error 0.90, 33 site-years in 4 seasons",
              "Lower limit: 1.40 − t(97.5%, df 30.0) × 0.90 = −0.44 bu/ac", "no worse than −3.00 bu/ac; half an LSD"]),
        ({"n_site_years": 3}, ["as good within the margin, from too few to claim anything; difference 1.4 bu/ac"]),
        ({"scale": "ratio", "unit": "ratio", "digits": 3, "estimate": 1.012, "lower_limit": 0.99, "upper_limit": 1.035,
          "margin_limit": 0.98, "n_without_ratio": 2},
         ["as good within the margin; a ratio of 1.012", worked_out.LOG_RATIOS,
          "The ratio leaves out 2 site-years with only a published difference | Interval of the ratio: 0.9900 to"
          " 1.0350",
          "Margin: no worse than a ratio of 0.9800; half an LSD"]),
        ({"estimate": NONE, "verdict": "too few", "reason": "No average."}, ["seasons tested: too few; No average."]),
    ],
)  # fmt: skip
def test_a_test_against_a_margin_is_told_on_its_own_scale(changed, says):
    row = {
        "target": "seasons tested", "scale": "difference", "unit": "bu/ac", "digits": 1, "estimate": 1.4,
        "std_error": 0.9, "df": 30.0, "lower_limit": -0.44, "upper_limit": 3.24, "margin_limit": -3.0,
        "margin_basis": "half an LSD", "method": "mixed model", "verdict": "as good within the margin",
        "n_site_years": 33, "n_seasons": 4, "n_without_ratio": None,
        "assay_sensitivity": "shown", "assay_reason": "it out-yields zero-N",
    }  # fmt: skip
    told = " | ".join(worked_out._as_good(row | changed))
    assert [each for each in says if each not in told] == []


LIMITS = {"conf_level": 0.95, "conf_low": 1.25, "conf_high": 9.75}
GAIN = LIMITS | {
    "target": "seasons tested", "estimate": 5.5, "unit": "bu/ac", "digits": 1, "n_site_years": 33, "n_seasons": 4,
    "method": "mixed model", "formula": "gain ~ 1", "df": 7.25, "df_method": "Satterthwaite", "rule": "It leads.",
    "warnings": "A warning.", "reason": "Too few.",
}  # fmt: skip
TOLD = {
    "gains": GAIN | {"moderator": "all", "level": "all", "is_headline": True},
    "money": money_row(value_per_unit=0.72, cost=5.7, gain_std_error=1.765, interval_covers="Only the gain."),
    "long_run_gains": GAIN | {"classes_met": "dry, wet"},
    "field_shares": GAIN | {"above": "break-even", "share": 0.76, "threshold": 2.3, "tau": 6.9},
    "trait_gains": GAIN | {"trait": "final stand", "unit": "plants/ac", "digits": 0, "estimate": 512.0},
    "response_curves": curve(a_kg_ha=963.1, b=3.574, c=NONE, join_kg_ha=151.2, warnings=""),
    "trial_curves": curve(**ALONE) | {"join_kg_ha": 151.2},
    "rate_losses": LIMITS | {
        "n_unit": "lb/ac", "loss": 38.5, "currency": "$", "interval_method": "site-year bootstrap", "n_rate": 80.0,
        "eonr": 127.75, "price_ratio": 7.753, "worth_1_per_ac_kg_ha": 14.73, "n_site_years": 30,
        "n_curve_site_years": 35, "warnings": "",
    },
    "efficiencies": LIMITS | {
        "efficiency": "agronomic efficiency", "estimate": 36.48, "n_rate": 120.0, "n_unit": "lb/ac", "n_site_years": 35,
        "status": "estimated",
    },
    "nitrogen_saved": LIMITS | {
        "rate_is": "named rate", "nitrogen_saved": 13.5, "n_unit": "lb/ac", "comparator_rate": 80.0,
        "comparator_family": "urea", "same_yield_rate": 66.5, "family": "blend", "n_site_years": 20, "warnings": "",
        "status": "not estimable: why",
    },
    "weather_slopes": slope_row(),
    "weather_gains": GAIN | {"covariate": "excess water", "level": "all", "n_years": 300, "share_outside": 0.05},
}  # fmt: skip
PRICED = "economic optimum: the highest rate whose last kg of N returns at least 7.000 kg of yield, its price"
OVER = "Gain over the excess water of the reference years, "


@pytest.mark.parametrize(
    ("kind", "changed", "says"),
    [
        ("gains", {}, [
            "Gain: 5.5 bu/ac (95% interval 1.2 to 9.8 bu/ac)",
            "Target: seasons tested; all site-years; mixed model, the headline", "Formula: gain ~ 1; df: Satterthwaite",
            "Rule: It leads.", "Warnings: A warning."]),
        ("gains", {"estimate": NONE, "moderator": "drainage group", "level": "P", "is_headline": False, "formula": None,
                   "df_method": None, "warnings": ""}, [
            "Gain: not estimable", "Target: seasons tested; drainage group P; mixed model, not the headline",
            "Formula: none; df: not known", "Rule: It leads.", "Warnings: none"]),
        ("gains", {"moderator": "N rate", "level": "89.67", "rate_kg_ha": 89.67, "rate_lb_ac": 80.0}, [
            "Gain: 5.5 bu/ac (95% interval 1.2 to 9.8 bu/ac)",
            "Target: seasons tested; N rate 80 lb/ac (90 kg/ha); mixed model, the headline"]),
        ("money", {}, [
            "Net change: $14.34 per acre (−\u2060$6.19 to $34.87), future seasons, long-run weather",
            "Formula: gain × value of one more unit − costs that do not grow with yield = 5.610 bu/ac × $0.7200 −"
            " $5.70",
            "Interval: net change ± t(df 4.0) × 1.765 bu/ac × value; Only the gain.",
            "Breaks even at: costs / value = 2.250 bu/ac"]),
        ("money", {"cost": -5.7}, [
            "Net change: $14.34 per acre (−\u2060$6.19 to $34.87), future seasons, long-run weather",
            "Formula: gain × value of one more unit − costs that do not grow with yield = 5.610 bu/ac × $0.7200 −"
            " (−\u2060$5.70)"]),
        ("money", {"net_change": NONE, "reason": "No price."}, ["Net change: not worked out; No price."]),
        ("long_run_gains", {}, [
            "Gain at long-run weather: 5.5 bu/ac (95% interval 1.2 to 9.8 bu/ac), seasons tested",
            "Formula: gain ~ 1: class means, each with the share of its class in the reference period; df 7.2"
            " (Satterthwaite)",
            "From 33 site-years with a class; classes met: dry, wet", "Warnings: A warning."]),
        ("long_run_gains", {"estimate": NONE}, [
            "Gain at long-run weather, seasons tested: not estimable; Too few."]),
        ("field_shares", {}, [
            "Share of fields whose true gain is above break-even (2.3 bu/ac): 76%",
            "Formula: normal distribution around the average with the spread between fields, 6.9 bu/ac; seasons"
            " tested"]),
        ("field_shares", {"share": NONE}, ["Share of fields whose true gain is above break-even: Too few."]),
        ("trait_gains", {"formula": None}, [
            "Final stand, treatment less comparator: 512 plants/ac (95% interval 1 to 10 plants/ac)",
            "Target: seasons tested; mixed model; 33 site-years in 4 seasons", "Formula: none", "Rule: It leads.",
            "Warnings: A warning."]),
        ("trait_gains", {"estimate": NONE}, ["Final stand, treatment less comparator: not estimable"]),
        ("response_curves", {}, [
            "Quadratic-plateau curve over 33 site-years: found; declared beforehand",
            "Rate for highest yield (lb/ac): 159.0 (148.0 to 173.0); economic optimum: 141.0 (133.0 to 150.0);"
            " interval: site-year bootstrap",
            "Curve, kg/ha: 963.1 + 3.574 × (N − N squared / (2 × 151.2)) up to N = 151.2, level above; " + PRICED,
            "Warnings: none"]),
        ("response_curves", {"is_primary": False}, [
            "Quadratic-plateau curve over 33 site-years: found; beside the declared one"]),
        ("response_curves", {"b": NONE, "flag": "fewer than 4 rates"}, [
            "Quadratic-plateau curve: not fitted; fewer than 4 rates"]),
        ("response_curves", {"price_ratio": NONE, "eonr": NONE, "interval_method": None}, [
            "Quadratic-plateau curve over 33 site-years: found; declared beforehand",
            "Rate for highest yield (lb/ac): 159.0 (no interval); economic optimum: no price; interval: none",
            "Curve, kg/ha: 963.1 + 3.574 × (N − N squared / (2 × 151.2)) up to N = 151.2, level above"]),
        ("response_curves", {"aonr_low": NONE, "eonr_high": 240.2}, [
            "Quadratic-plateau curve over 33 site-years: found; declared beforehand",
            "Rate for highest yield (lb/ac): 159.0 (open to 173.0); economic optimum: 141.0 (133.0 to open); interval:"
            " site-year bootstrap"]),
        ("trial_curves", {}, ["Quadratic-plateau curve of 2091-A alone, 16 plots: found"]),
        ("trial_curves", {"b": NONE, "flag": "no zero-N"}, [
            "Quadratic-plateau curve of 2091-A: not fitted; no zero-N"]),
        ("rate_losses", {}, [
            "Net return lost at 80.0 lb/ac against the economic optimum, 127.8 lb/ac: $38.50 per acre (95% interval"
            " $1.25 to $9.75)",
            "Formula: (curve at the best rate − curve at this rate − 7.753 × (best rate − this rate)), kg/ha, / 14.73,"
            " the kg/ha of yield worth $1 per acre",
            f"Interval: {worked_out.rate_losses.INTERVAL}",
            "Tested in 30 of the 35 site-years behind the curve", "Warnings: none"]),
        ("rate_losses", {"conf_high": NONE}, [
            "Net return lost at 80.0 lb/ac against the economic optimum, 127.8 lb/ac: $38.50 per acre (95% interval"
            " $1.25 to open)"]),
        ("efficiencies", {}, [
            "Agronomic efficiency at 120 lb/ac: 36.48 kg per kg (95% interval 1.25 to 9.75), 35 site-years",
            "Formula: (mean yield at the rate − mean yield at zero-N) / rate, in each site-year; t interval over"
            " site-years"]),
        ("efficiencies", {"conf_low": NONE, "status": "fewer than 3 site-years: no interval", "n_site_years": 2,
                          "efficiency": "partial factor productivity"}, [
            "Partial factor productivity at 120 lb/ac: 36.48 kg per kg (fewer than 3 site-years: no interval), 2"
            " site-years",
            "Formula: mean yield at the rate / rate, in each site-year"]),
        ("efficiencies", {"estimate": NONE, "status": "does not apply"}, ["Agronomic efficiency: does not apply"]),
        ("nitrogen_saved", {}, [
            "N saved at equal yield, at named rate: 13.5 lb/ac (1.2 to 9.8)",
            "Formula: 80.0 lb/ac of urea, less the 66.5 lb/ac at which the curve of blend gives the same yield; both"
            " curves over the 20 site-years with both",
            "Interval: site-years drawn anew, both curves fitted to each draw", "Warnings: none"]),
        ("nitrogen_saved", {"conf_low": NONE}, ["N saved at equal yield, at named rate: 13.5 lb/ac (open to 9.8)"]),
        ("nitrogen_saved", {"nitrogen_saved": NONE}, [
            "N saved at equal yield, at named rate: not estimable: why"]),
        ("weather_slopes", {}, [
            "Slope of the gain on rain after application (declared), shown: 0.93 bu/ac per in. (0.10 to 1.72)",
            "Target: seasons tested; rests on all differences; mixed model, the headline",
            "Formula: gain ~ 1 + x; df: Satterthwaite", "Rule: The covariate differs within and between seasons.",
            "Warnings: none"]),
        ("weather_slopes", {"is_shown": False, "estimate": NONE, "reason": "Too few.", "formula": None}, [
            "Slope of the gain on rain after application (declared), not shown: not estimable; Too few.",
            "Target: seasons tested; rests on all differences; mixed model, the headline",
            "Formula: none; df: Satterthwaite"]),
        ("weather_slopes", {"is_headline": False}, [
            "Slope of the gain on rain after application (declared): 0.93 bu/ac per in. (0.10 to 1.72)",
            "Target: seasons tested; rests on all differences; mixed model, not the headline"]),
        ("weather_gains", {}, [
            OVER + "all places, seasons tested: 5.5 bu/ac (95% interval 1.2 to 9.8 bu/ac)",
            "Formula: average on the line at the covariate of each place's reference years, 300 in all, a place"
            " counting as often as it has site-years; df 7.2 (Satterthwaite)",
            "Outside the values met: 5% of these years", "Warnings: A warning."]),
        ("weather_gains", {"level": "Alder", "n_years": 30}, [
            OVER + "Alder, seasons tested: 5.5 bu/ac (95% interval 1.2 to 9.8 bu/ac)",
            "Formula: average on the line at the covariate of each of 30 reference years; df 7.2 (Satterthwaite)"]),
        ("weather_gains", {"level": "P", "estimate": NONE}, [
            OVER + "P: somewhat poorly drained and wetter, seasons tested: not estimable; Too few."]),
    ],
)  # fmt: skip
def test_what_is_read_off_averages_and_curves_is_told_with_its_numbers(monkeypatch, kind, changed, says):
    monkeypatch.setattr(worked_out.prices, "of_budget", lambda row: [])
    told = worked_out.TELLERS[kind](TOLD[kind] | changed)
    assert told[: len(says)] == says


@pytest.mark.parametrize(
    ("kind", "changed", "without"),
    [
        ("nitrogen_saved", {"conf_low": NONE, "conf_high": NONE, "warnings": "fewer than 4 site-years: no interval"},
         "13.5 lb/ac (no interval)"),
        ("rate_losses", {"conf_low": NONE, "conf_high": NONE, "interval_method": None},
         "$38.50 per acre (no interval)"),
    ],
)  # fmt: skip
def test_no_draws_are_told_where_there_is_no_interval(kind, changed, without):
    first, *others = worked_out.TELLERS[kind](TOLD[kind] | changed)
    assert first.endswith(without) and not [line for line in others if line.startswith("Interval")]


@pytest.mark.parametrize(
    ("kind", "changed", "asked", "named"),
    [
        ("response_curves", {}, "corn, urea, at planting, 1 pass", "curve of urea, at planting, 1 pass"),
        ("weather_slopes", {}, "half-coated blend against urea (blend)",
         "slope on rain after application: 0.93 bu/ac per in. (0.10 to 1.72)"),
        ("money", {}, "blend against urea (c)", "partial budget: $14.34 per acre"),
        ("gains", {}, "a against b (c)", "average gain in the seasons tested: 5.5 bu/ac"),
        ("gains", {"estimate": NONE}, "a against b (c)", "average gain in the seasons tested: not known"),
        ("long_run_gains", {}, "a against b (c)",
         "average gain in the seasons tested, at long-run weather: 5.5 bu/ac"),
    ],
)  # fmt: skip
def test_what_an_estimate_asks_and_how_it_is_named_where_another_rests_on_it(kind, changed, asked, named):
    row = TOLD[kind] | changed
    row = row if {"says", "family"} & set(row) else row | {"says": "a against b", "comparison_id": "c"}
    assert (worked_out._asked(row), worked_out.named(row)) == (asked, named)


def test_a_budget_has_its_items_box_by_box_in_the_page_too():
    items = [("added returns", "yield", 25.26), ("added costs", "premium", 9.92), ("added costs", "drying", 1.0)]
    items = pd.DataFrame(items, columns=["box", "item", "amount"])
    behind = pd.Series(TOLD["long_run_gains"] | {"estimate_id": "8e573083-0456"})
    step = Step("gains", pd.Series(TOLD["gains"] | {"estimate_id": "61e5b691-fc07"}), (behind,), items)
    first, *below = str(worked_out.in_page([step])).splitlines()
    assert first.startswith("- Gain: 5.5 bu/ac") and "61e5b691-fc07" in first
    assert below[4:7] == ["    - Added costs: drying 1.00 per acre", "    - Added costs: premium 9.92 per acre",
                          "    - Added returns: yield 25.26 per acre"]  # fmt: skip
    assert below[7].startswith("    - Worked out from ") and below[7].endswith("at long-run weather: 5.5 bu/ac")
