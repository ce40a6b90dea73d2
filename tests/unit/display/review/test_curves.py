"""What stands behind the N rates, for the reviewer: each table says one thing, and nothing chooses by fit."""

from __future__ import annotations

import pandas as pd

from pipeline.display.review import curves
from pipeline.estimates.n_response.optimum import BEYOND
from tests.unit.display.rows import NONE
from tests.unit.display.words.test_n_response import curve

OPTIMA = pd.DataFrame(
    [{"model": "quadratic-plateau", "family": "urea, at planting, 1 pass", "n_found": 20, "n_ladders": 33}]
)


def test_a_plateau_that_is_not_reached_is_not_printed():
    assert "not reached | 33 | 20 of 33" in curves.curves_table(
        pd.DataFrame([curve(flag=BEYOND)]), OPTIMA, label="curves"
    )


def test_other_shapes_stand_beside_and_do_not_choose():
    shapes = [curve(), curve(model="quadratic", is_primary=False, eonr=NONE, aicc=2400.0), curve(family="uan")]
    table = curves.other_models(pd.DataFrame(shapes), label="shapes")
    assert "| Nitrogen treatment | Quadratic-plateau | Quadratic |" in table and "AICc does not choose" in table
    assert "| Urea, at planting, 1 pass | 141 (2,453) | none (2,400) |" in table
    assert "| Uan | 141 (2,453) | not fitted |" in table and "Economic optimum rate (lb/ac)" in table


def test_without_prices_other_shapes_speak_of_the_highest_yield():
    table = curves.other_models(pd.DataFrame([curve(eonr=NONE)]), label="shapes")
    assert "Rate for highest yield (lb/ac)" in table and "159 (2,453)" in table


def test_other_price_ratios():
    row = {"family": "urea", "n_unit": "lb/ac"}
    rows = pd.DataFrame(
        [
            row | {"price_ratio": 0.11 * f, "is_planning_ratio": f == 1.0, "eonr": 150.0 - 10 * f}
            for f in (0.5, 1.0, 2.0)
        ]
    )
    assert "| Urea | 145 at 0.06 | 140 at 0.11 | 130 at 0.22 |" in curves.other_prices(rows, label="ratios")
    # the ratio is not to the bare crop price: 0.50 over 4.50 is 0.11, and less harvest costs it is 0.12
    assert "to what one more unit of yield is worth: the crop price less" in curves.other_prices(rows, label="ratios")
    assert "N price (per kg)" in curves.other_prices(rows.assign(n_unit="kg/ha"), label="ratios")
    assert curves.other_prices(rows.assign(eonr=NONE), label="ratios") == ""


def efficiency_row(**changed) -> dict:
    return {
        "efficiency": curves.AGRONOMIC,
        "crop": "corn",
        "status": "estimated",
        "family": "urea",
        "n_rate": 120.0,
        "n_unit": "lb/ac",
        "estimate": 30.0,
        "conf_low": 10.0,
        "conf_high": 50.0,
        "n_site_years": 33,
    } | changed


def test_efficiency_does_not_apply_to_soybean():
    rows = pd.DataFrame([efficiency_row(crop="soybean", status=curves.DOES_NOT_APPLY)])
    assert "does not apply to soybean" in curves.no_efficiency(rows)
    assert curves.efficiency_table(rows, label="e") == ""
    assert curves.no_efficiency(rows.iloc[:0]) == ""
    lacking = rows.assign(status="no zero-N plots")
    assert curves.no_efficiency(lacking) == "Agronomic efficiency cannot be given: no zero-N plots."


def test_efficiency_at_the_middle_rate():
    rows = pd.DataFrame([efficiency_row(n_rate=rate, estimate=rate / 4) for rate in (80.0, 120.0, 160.0)])
    table = curves.efficiency_table(rows, label="e")
    assert "| Urea | 30.0 | 10.0 to 50.0 | 33 |" in table and "at 120 lb/ac" in table and "40.0" not in table
    assert curves.no_efficiency(rows) == ""
