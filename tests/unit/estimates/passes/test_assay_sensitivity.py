from types import SimpleNamespace

import numpy as np
import pandas as pd
import pytest

from pipeline.estimates.passes.assay_sensitivity import OF_THE_TEST, assay_arms, assay_gains, assay_sensitivity
from pipeline.estimates.trials import designs, site_year_gains
from tests.declared_shapes import check_shape

PAIRS = {90.0: ("C90", "U90"), 135.0: ("C135", "U135")}
CORN, SOYBEAN = SimpleNamespace(id="c", crop="corn"), SimpleNamespace(id="c", crop="soybean")


def site_years(gains):
    columns = ["comparison_id", "site_year_id", "place", "gain", "comparator_mean"]
    return pd.DataFrame([("c", f"s{i}", f"p{i}", gain, 3000.0) for i, gain in enumerate(gains)], columns=columns)


def sensitivity(gains, *, comparison=CORN, limit=300.0, ratio_scale=()):
    frame = site_years(gains)
    found = assay_sensitivity(frame, site_years([0.0] * 10), [comparison], {"c": limit}, ratio_scale)
    check_shape("noninferiority", found, without=OF_THE_TEST)
    return found.iloc[0]


def test_arms_set_the_comparator_against_zero_n_at_each_rate(build):
    arms = build.arms(["t1", "t2"], PAIRS)
    treatments = pd.DataFrame(
        {
            "trial_id": ["t1"] * 3 + ["t2"] * 2,
            "treatment_code": ["Z", "U90", "U135", "U90", "U135"],
            "is_zero_n": [True, False, False, False, False],
        }
    )
    found = assay_arms(arms, treatments)
    assert set(found["trial_id"]) == {"t1"}  # t2 has no zero-N
    drawn = found.sort_values(["rate_kg_ha", "arm"])[["rate_kg_ha", "arm", "treatment_code"]].to_numpy().tolist()
    assert drawn == [
        [90.0, "comparator", "Z"],
        [90.0, "treatment", "U90"],
        [135.0, "comparator", "Z"],
        [135.0, "treatment", "U135"],
    ]


def test_a_comparator_that_is_zero_n_has_no_assay(build):
    arms = build.arms(["t1"], {np.nan: ("C90", "Z")})
    treatments = pd.DataFrame({"trial_id": "t1", "treatment_code": ["Z", "C90"], "is_zero_n": [True, False]})
    assert assay_arms(arms, treatments).empty


def test_gain_over_zero_n_by_hand(build):
    """Two rates share one zero-N plot per block: mean of U90 and U135 less Z, block by block."""
    table = {
        "1": {"Z": 10, "U90": 20, "U135": 30, "C90": 1, "C135": 2},
        "2": {"Z": 12, "U90": 24, "U135": 26, "C90": 3, "C135": 5},
    }
    plots, trials = build.plots("t1", table), build.trials({"trial_id": "t1"})
    treatments, arms = build.treatments(plots), build.arms(["t1"], PAIRS)
    analyses, _ = designs.analyze_trials(plots, treatments, trials)
    found = assay_gains(arms, treatments, plots, trials, site_year_gains.moderated_analyses(analyses, trials)).iloc[0]
    assert found["gain"] == pytest.approx((25 - 10 + 25 - 12) / 2)
    assert found["comparator_mean"] == pytest.approx(11)


def test_shown_when_the_lower_limit_is_above_the_margin():
    gains = np.array([3000.0, 3500, 2500, 3200])
    low = gains.mean() - 3.1824463 * gains.std(ddof=1) / 2  # t(0.975, 3)
    row = sensitivity(gains, limit=low - 1)
    assert row["assay_sensitivity"] == "shown" and row["assay_low"] == pytest.approx(low)
    assert row["assay_reason"] == "the comparator clearly out-yields zero-N in these site-years"
    row = sensitivity(gains, limit=low + 1)
    assert row["assay_sensitivity"] == "not shown" and "as good proves little" in row["assay_reason"]


def test_a_ratio_margin_is_met_by_log_ratios_and_told_as_a_ratio():
    """Gains of 3,000, 3,300 and 2,700 over a zero-N of 3,000 kg/ha: 2, 2.1 and 1.9 times its yield."""
    row = sensitivity([3000.0, 3300, 2700], limit=0.6, ratio_scale=["c"])
    logs = np.log([2, 2.1, 1.9])
    low = logs.mean() - 4.30265273 * logs.std(ddof=1) / np.sqrt(3)  # t(0.975, 2)
    assert row["assay_estimate"] == pytest.approx((2 * 2.1 * 1.9) ** (1 / 3))
    assert row["assay_low"] == pytest.approx(np.exp(low)) and row["assay_sensitivity"] == "not shown"
    assert low < 0.6 < np.exp(low), "the margin is on the scale of logarithms"


@pytest.mark.parametrize(
    "gains, words",
    [([], "no zero-N plots"), ([3000.0, 3100.0], "fewer than 3"), ([0.0, 10.0, -5.0], "does not clearly out-yield")],
)
def test_not_shown_says_why(gains, words):
    row = sensitivity(gains)
    assert row["assay_sensitivity"] == "not shown"
    assert words in row["assay_reason"] and "as good proves little" in row["assay_reason"]


def test_soybean_fixes_its_own_nitrogen():
    assert sensitivity([3000.0] * 4, comparison=SOYBEAN)["assay_sensitivity"] == "does not apply"


def test_only_site_years_of_the_comparison_count():
    elsewhere = site_years([3000.0, 3100, 2900, 3050]).assign(site_year_id=["s0", "s1", "x", "y"])
    found = assay_sensitivity(elsewhere, site_years([0.0] * 4), [CORN], {"c": 1.0}).iloc[0]
    assert found["assay_n_site_years"] == 2


def test_a_comparison_is_judged_by_its_own_site_years():
    gains = np.array([3000.0, 3500, 2500, 3200])
    both = pd.concat([site_years(gains), site_years(gains - 2900).assign(comparison_id="d")])
    asked = [CORN, SimpleNamespace(id="d", crop="corn")]
    found = assay_sensitivity(both, both, asked, {"c": 300.0, "d": 300.0}).set_index("comparison_id")
    assert dict(found["assay_estimate"]) == pytest.approx({"c": gains.mean(), "d": gains.mean() - 2900})
    assert dict(found["assay_sensitivity"]) == {"c": "shown", "d": "not shown"}


def test_a_ratio_to_a_zero_n_that_yielded_nothing_is_not_shown():
    drowned = site_years([3000.0, 3300, 2700]).assign(comparator_mean=[3000.0, 0.0, 3000.0])
    row = assay_sensitivity(drowned, drowned, [CORN], {"c": 0.05}, ["c"]).iloc[0]
    assert row["assay_sensitivity"] == "not shown"
    assert row["assay_reason"] == (
        "a site-year mean is not above zero, so there is no ratio to average: as good proves little"
    )


def test_two_comparators_at_one_rate_stand_against_zero_n_once(build):
    arms = build.arms(["t1"], {90.0: ("C90", "U90")})
    arms = pd.concat([arms, arms[arms["arm"] == "comparator"].assign(treatment_code="V90")], ignore_index=True)
    codes = ["Z", "C90", "U90", "V90"]
    treatments = pd.DataFrame({"trial_id": "t1", "treatment_code": codes, "is_zero_n": [True, False, False, False]})
    found = assay_arms(arms, treatments)
    drawn = found.sort_values("treatment_code")[["treatment_code", "arm"]].to_numpy().tolist()
    assert drawn == [["U90", "treatment"], ["V90", "treatment"], ["Z", "comparator"]]


def test_comparisons_without_margin_have_no_row():
    assert assay_sensitivity(site_years([1.0]), site_years([1.0]), [CORN], {}).empty
