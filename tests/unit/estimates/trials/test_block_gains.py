import numpy as np
import pandas as pd
import pytest
import statsmodels.formula.api as smf

from pipeline.estimates.trials import contrasts
from pipeline.estimates.trials.block_gains import block_gains

PAIRS = {90.0: ("C90", "U90"), 180.0: ("C180", "U180")}


def test_one_gain_per_block_averaged_over_rates(build):
    plots = build.plots(
        "t",
        {
            "1": {"U90": 100, "C90": 106, "U180": 140, "C180": 142},
            "2": {"U90": 98, "C90": 108, "U180": 150, "C180": 150},
        },
    )
    found = block_gains(plots, build.arms(["t"], PAIRS), build.trials({"trial_id": "t"}))
    assert found["gain"].to_list() == pytest.approx([4.0, 5.0])
    assert found["comparator_mean"].to_list() == pytest.approx([120, 124])
    assert found["variance_factor"].to_list() == pytest.approx([4 * 0.25, 4 * 0.25])
    assert found[["n_treatment_plots", "n_comparator_plots", "n_rates"]].to_numpy().tolist() == [[2, 2, 2]] * 2
    assert not any(found["rates_missing"]) and (found["warnings"] == "").all()


def test_fixed_weights_and_several_codes_per_arm(build):
    """Treatment: two free-factor codes at 90 are averaged; weights 3 to 1."""
    plots = build.plots("t", {"1": {"U90": [100, 102], "C90": 107, "D90": 109, "U180": 140, "C180": 148}})
    arms = build.arms(["t"], {**PAIRS}, {90.0: 3.0, 180.0: 1.0})
    arms = pd.concat([arms, arms[arms["treatment_code"] == "C90"].assign(treatment_code="D90")])
    found = block_gains(plots, arms, build.trials({"trial_id": "t"})).iloc[0]
    assert found["gain"] == pytest.approx(0.75 * (108 - 101) + 0.25 * 8)
    assert found["variance_factor"] == pytest.approx(0.75**2 * (1 / 2 + 1 / 2) + 0.25**2 * 2)


def test_two_rates_against_one_shared_plot_are_not_independent(build):
    """The shared comparator counts once at its full weight: (1/2)^2 + (1/2)^2 + 1^2."""
    plots = build.plots("t", {"1": {"S": 100, "C90": 106, "C180": 110}})
    arms = build.arms(["t"], {90.0: ("C90", "S"), 180.0: ("C180", "S")})
    found = block_gains(plots, arms, build.trials({"trial_id": "t"})).iloc[0]
    assert found["gain"] == pytest.approx(8)
    assert found["variance_factor"] == pytest.approx(1.5)
    assert found["n_comparator_plots"] == 1


def test_a_block_without_a_named_rate_is_adjusted_by_its_rate_term(build):
    """Gain at 90 lies 2 above the weighted gain in full blocks, so the lone 90 gain of 9 becomes 7."""
    full = build.plots("a", {"1": {"U90": 100, "C90": 106, "U180": 140, "C180": 142}})
    lacking = build.plots("b", {"1": {"U90": 100, "C90": 109}})
    trials = build.trials({"trial_id": "a"}, {"trial_id": "b"})
    found = block_gains(pd.concat([full, lacking]), build.arms(["a", "b"], PAIRS), trials).set_index("trial_id")
    assert found.loc["a", "gain"] == pytest.approx(4)
    assert found.loc["b", "gain"] == pytest.approx(7)
    assert found.loc["b", "rates_missing"] == [180] and found.loc["b", "n_rates"] == 1
    assert found.loc["b", "variance_factor"] == pytest.approx(2)


def test_rate_terms_weigh_site_years_alike(build):
    """Site-year a has one full block (offset 2), b has three (offset 4): the term is 3, not 3.5."""
    a = build.plots("a", {"1": {"U90": 0, "C90": 6, "U180": 0, "C180": 2}})
    b = build.plots("b", {str(n): {"U90": 0, "C90": 10, "U180": 0, "C180": 2} for n in range(3)})
    c = build.plots("c", {"1": {"U90": 0, "C90": 9}})
    trials = build.trials(*({"trial_id": name} for name in "abc"))
    found = block_gains(pd.concat([a, b, c]), build.arms("abc", PAIRS), trials)
    assert found.query("trial_id == 'c'")["gain"].iloc[0] == pytest.approx(6)


def test_no_block_with_all_rates_stays_unadjusted_and_says_so(build):
    a = build.plots("a", {"1": {"U90": 100, "C90": 106}})
    b = build.plots("b", {"1": {"U180": 100, "C180": 103}})
    trials = build.trials({"trial_id": "a"}, {"trial_id": "b"})
    found = block_gains(pd.concat([a, b]), build.arms(["a", "b"], PAIRS), trials)
    assert found["gain"].to_list() == pytest.approx([6, 3])
    assert found["warnings"].str.contains("not adjusted").all()


def test_crd_gives_one_row(build):
    plots = build.plots("t", {"1": {"U90": 100, "C90": 106}, "2": {"U90": 104, "C90": 104}, "3": {"U90": 102}})
    trials = build.trials({"trial_id": "t", "design": "CRD"})
    found = block_gains(plots, build.arms(["t"], {90.0: PAIRS[90.0]}), trials)
    assert len(found) == 1
    assert found["gain"].iloc[0] == pytest.approx(105 - 102)
    assert found["variance_factor"].iloc[0] == pytest.approx(1 / 2 + 1 / 3)


def test_points_along_a_strip_are_one_value(build):
    """Five points of one strip tell no more of the field than its mean: two strips, variance 1 + 1."""
    plots = build.plots("t", {"1": {"U90": [98, 99, 100, 101, 102], "C90": [106, 110]}})
    plots = plots.assign(row_number=range(2, 2 + len(plots)))  # as delivered: each point in a row of its own
    trials = build.trials({"trial_id": "t", "design": "strips"})
    found = block_gains(plots, build.arms(["t"], {90.0: PAIRS[90.0]}), trials).iloc[0]
    assert found["gain"] == pytest.approx(8.0) and found["variance_factor"] == pytest.approx(2.0)
    assert (found["n_treatment_plots"], found["n_comparator_plots"]) == (1, 1)


def test_a_block_that_lost_one_arm_gives_no_row(build):
    plots = build.plots("t", {"1": {"U90": 100, "C90": 106}, "2": {"U90": 104}})
    found = block_gains(plots, build.arms(["t"], {90.0: PAIRS[90.0]}), build.trials({"trial_id": "t"}))
    assert found["block"].to_list() == ["1"]


@pytest.mark.parametrize("design, words", [("RCBD", "share no block"), ("incomplete block", "incomplete blocks")])
def test_arms_that_share_no_block_are_joined_through_the_others(build, design, words):
    """A is 2 below B in block 1, B is 3 below C in block 2: C - A = 5, with four plot variances."""
    plots = build.plots("t", {"1": {"A": 10, "B": 12}, "2": {"B": 20, "C": 23}})
    trials = build.trials({"trial_id": "t", "design": design})
    found = block_gains(plots, build.arms(["t"], {np.nan: ("C", "A")}), trials)
    assert len(found) == 1
    assert found["gain"].iloc[0] == pytest.approx(5)
    assert found["variance_factor"].iloc[0] == pytest.approx(4)
    assert words in found["warnings"].iloc[0]


def test_a_treatment_of_two_is_adjusted_for_the_block_that_lacks_the_other():
    """All treatments of a trial may be asked for: U of block 1 and C of block 1 make the difference, block 2 none."""
    plots = pd.DataFrame({"treatment_code": ["U", "C", "U"], "block": ["1", "1", "2"]})
    weights = contrasts.AdjustedForBlocks(plots, blocked=True).weights({"C": 1.0, "U": -1.0})
    assert weights == pytest.approx([-1, 1, 0])


def test_arms_that_nothing_joins_give_no_row(build):
    plots = build.plots("t", {"1": {"A": 10}, "2": {"C": 23}})
    trials = build.trials({"trial_id": "t", "design": "incomplete block"})
    assert block_gains(plots, build.arms(["t"], {np.nan: ("C", "A")}), trials).empty


def test_main_plot_factor_by_where_the_arms_lie(build):
    table = {"1": {"A1": 1, "A2": 2, "B1": 3, "B2": 4}}
    plots = build.plots("t", table)
    plots["main_plot"] = plots["treatment_code"].str[0]
    trials = build.trials({"trial_id": "t", "design": "split-plot"})
    between = block_gains(plots, build.arms(["t"], {1.0: ("A1", "B1"), 2.0: ("A2", "B2")}), trials).iloc[0]
    within = block_gains(plots, build.arms(["t"], {np.nan: ("A1", "A2")}), trials).iloc[0]
    assert (between["variance_factor"], between["main_plot_factor"]) == pytest.approx((1.0, 2.0))
    assert (within["variance_factor"], within["main_plot_factor"]) == pytest.approx((2.0, 0.0))


def test_trials_that_are_not_there_are_passed_over(build):
    plots = build.plots("t", {"1": {"U90": 100, "C90": 106}})
    found = block_gains(plots, build.arms(["t", "gone"], {90.0: PAIRS[90.0]}), build.trials({"trial_id": "t"}))
    assert found["trial_id"].to_list() == ["t"]


def test_incomplete_blocks_use_every_block_that_joins_the_arms(build):
    """A and B meet in one block of six; the other pairs tell of A - B too. Least squares of statsmodels."""
    blocks = {"1": "AB", "2": "AC", "3": "BC", "4": "AD", "5": "BD", "6": "CD"}
    rng = np.random.default_rng(4)
    levels = dict(zip("ABCD", rng.normal(10, 2, 4), strict=True))
    table = {
        block: {code: levels[code] + int(block) + rng.normal() for code in codes} for block, codes in blocks.items()
    }
    plots, trials = build.plots("t", table), build.trials({"trial_id": "t", "design": "incomplete block"})
    found = block_gains(plots, build.arms(["t"], {np.nan: ("A", "B")}), trials)
    fit = smf.ols("value ~ C(treatment_code, Treatment('B')) + block", plots).fit()
    assert len(found) == 1 and "incomplete blocks" in found["warnings"].iloc[0]
    assert found["gain"].iloc[0] == pytest.approx(fit.params.iloc[1])
    assert found["variance_factor"].iloc[0] == pytest.approx(fit.bse.iloc[1] ** 2 / fit.mse_resid)
