"""One trial's own best N rates: with interval, open ends, warnings and the caution; or why there are none."""

from __future__ import annotations

import pandas as pd
import pytest

from pipeline.display.site_year import own_rates
from pipeline.estimates.n_response import optimum

NONE = float("nan")


def own(**changed) -> dict:
    return {
        "estimate_id": "0a1b2c3d-4e5f", "trial_id": "2093-QF-corn", "family": "urea, at planting, 1 pass",
        "variant": "", "flag": optimum.FOUND, "n_unit": "lb/ac",
        "aonr": 150.0, "aonr_low": 120.0, "aonr_high": NONE, "eonr": 132.0, "eonr_low": 101.0, "eonr_high": 170.0,
        "highest_rate": 200.0,
        "price_ratio": 7.0, "interval_method": "profile", "is_primary": True, "warnings": "",
    } | changed  # fmt: skip


OF_ALL = own(crop="corn", eonr=141.0, eonr_low=133.0, eonr_high=150.0, interval_method="site-year bootstrap")
COMMON = own_rates.common_optima(pd.DataFrame([OF_ALL]))


def told(*rows) -> str:
    return own_rates.own_optima(pd.DataFrame(rows), COMMON, label="rates-1")


def test_own_rates_stand_beside_those_of_all_site_years_with_the_caution():
    said = told(own())
    assert "| 150 (from 120; no upper end) | 132 (101 to 170) | 141 (133 to 150) |" in said
    assert own_rates.CAUTION in said and "0a1b2c3d-4e5f" in said and "Warnings" not in said
    assert "planning prices" in said and "planning prices" not in told(own(price_ratio=NONE, eonr=NONE))


def test_warnings_and_variants_are_printed():
    said = told(own(warnings="no zero-N in block 2", variant="banded"), own(family="other"))
    assert "no zero-N in block 2" in said and "pass, banded" in said and "| none |" in said and "| not known |" in said


@pytest.mark.parametrize("flag", [*own_rates.WHY, optimum.FEW_PLOTS])
def test_a_ladder_without_a_curve_says_why_and_nothing_of_rates(flag):
    said = told(own(flag=flag, aonr=NONE, eonr=NONE))
    assert said.startswith("No best N rate from this trial alone for urea, at planting, 1 pass (")
    assert own_rates.WHY.get(flag, flag) in said and own_rates.CAUTION not in said and "|" not in said


def test_a_ladder_with_a_curve_is_not_among_those_without():
    said = told(own(), own(family="other", flag=optimum.NO_ZERO_N, aonr=NONE, eonr=NONE))
    assert "No best N rate from this trial alone for other (no zero-N plots)." in said
    assert said.index(own_rates.CAUTION) < said.index("No best N rate")


def test_printed_means_count_only_where_there_is_a_common_curve():
    print_only = own(flag=optimum.PRINTED, aonr=NONE, eonr=NONE)
    assert (
        told(print_only, print_only | {"family": "other"}).strip()
        == "No best N rate from this trial alone for urea, at planting, 1 pass (with published means only; it counts in"
        " the curve over all site-years); other (with published means only)."
    )


def test_a_trial_without_n_rates_says_nothing():
    assert own_rates.own_optima(pd.DataFrame([own()]).iloc[:0], COMMON, label="rates-1") == ""
