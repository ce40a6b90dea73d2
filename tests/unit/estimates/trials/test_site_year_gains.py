import numpy as np
import pandas as pd
import pytest
import statsmodels.formula.api as smf
from scipy import stats

from pipeline.estimates.trials import designs
from pipeline.estimates.trials.block_gains import block_gains, with_zero_n
from pipeline.estimates.trials.moderation import squeeze
from pipeline.estimates.trials.site_year_gains import (
    NO_ERROR,
    moderated_analyses,
    site_year_gains,
    with_limits,
    with_variances,
)

PAIR = {90.0: ("C", "U")}


def gains_of(build, plots, trials, arms):
    analyses, _ = designs.analyze_trials(plots, build.treatments(plots), trials)
    analyses = moderated_analyses(analyses, trials)
    blocks = with_variances(block_gains(plots, arms, trials), analyses)
    return analyses[~analyses["zero_n_in_error"]].reset_index(drop=True), blocks, site_year_gains(blocks, trials)


def noisy(build, trial_id, seed, sd=5.0, blocks=4, gain=6.0):
    rng = np.random.default_rng(seed)
    table = {
        str(b): {code: 100 + gain * (code == "C") + rng.normal(0, sd) for code in ("U", "C", "X")}
        for b in range(blocks)
    }
    return build.plots(trial_id, table)


def test_three_standard_errors(build):
    plots = pd.concat([noisy(build, "a", 1, sd=3), noisy(build, "b", 2, sd=9)])
    trials = build.trials({"trial_id": "a"}, {"trial_id": "b"})
    analyses, blocks, found = gains_of(build, plots, trials, build.arms("ab", PAIR))
    own = analyses["error_variance"].to_numpy()
    assert found["own_std_error"].to_numpy() == pytest.approx(np.sqrt(2 * own / 4))
    assert found["std_error"].to_numpy() == pytest.approx(np.sqrt(2 * squeeze(own, [6, 6]) / 4))
    of_a = blocks.loc[blocks["trial_id"] == "a", "gain"]
    assert found["gain"].iloc[0] == pytest.approx(of_a.mean())
    assert found["block_std_error"].iloc[0] == pytest.approx(of_a.std(ddof=1) / 2)
    assert found[["n_blocks", "n_plots", "n_trials"]].to_numpy().tolist() == [[4, 8, 1]] * 2


def test_a_gain_over_zero_n_has_the_error_of_an_analysis_with_zero_n(build):
    """U - Z by least squares on all plots of its trial; C - U by that of the fertilized plots, to the last digit as
    without the mark.
    """
    trials = build.trials({"trial_id": "a"}, {"trial_id": "b"})
    rng = np.random.default_rng(3)
    tables = [
        {
            str(b): {c: rng.normal(m, 3 if c != "Z" else 9) for c, m in (("Z", 60), ("U", 100), ("C", 104))}
            for b in range(4)
        }
        for _ in "ab"
    ]
    plots = pd.concat([build.plots(name, table) for name, table in zip("ab", tables, strict=True)], ignore_index=True)
    treatments = build.treatments(plots)
    over_zero = build.arms("ab", {90.0: ("U", "Z")}).assign(comparison_id="over zero")
    arms = pd.concat([build.arms("ab", PAIR), over_zero], ignore_index=True)
    _, blocks, found = gains_of(build, plots, trials, with_zero_n(arms, treatments))
    found = found.set_index(["comparison_id", "site_year_id"])
    for name, of_trial in plots.groupby("trial_id"):
        fit = smf.ols("value ~ C(block) + C(treatment_code, Treatment('Z'))", of_trial).fit()
        row = found.loc[("over zero", name)]
        assert row["own_std_error"] == pytest.approx(fit.bse["C(treatment_code, Treatment('Z'))[T.U]"])
        assert row["zero_n_in_error"] and not found.loc[("c", name), "zero_n_in_error"]
    own = [
        smf.ols("value ~ C(block) + C(treatment_code)", rows).fit().mse_resid for _, rows in plots.groupby("trial_id")
    ]
    assert found.loc["over zero", "std_error"].to_numpy() == pytest.approx(
        np.sqrt(squeeze(np.array(own), [6, 6]) * 2 / 4)
    )
    _, _, without = gains_of(build, plots, trials, build.arms("ab", PAIR))
    assert (found.loc["c", "std_error"].to_numpy() == without["std_error"].to_numpy()).all()


def test_crops_are_moderated_apart(build):
    plots = pd.concat([noisy(build, name, seed) for seed, name in enumerate("abc")])
    trials = build.trials(*({"trial_id": name, "crop": crop} for name, crop in zip("abc", ["corn", "corn", "cotton"])))
    analyses, _, _ = gains_of(build, plots, trials, build.arms("abc", PAIR))
    alone = analyses.iloc[2]
    assert alone["moderated_error_variance"] == pytest.approx(alone["error_variance"])
    assert not np.isclose(analyses.iloc[0]["moderated_error_variance"], analyses.iloc[0]["error_variance"])


def test_unreplicated_has_no_standard_error_but_the_crops_pooled_variance(build):
    plots = pd.concat([noisy(build, "a", 1), build.plots("u", {"1": {"U": 100, "C": 111}})])
    trials = build.trials({"trial_id": "a"}, {"trial_id": "u", "design": "unreplicated"})
    analyses, blocks, found = gains_of(build, plots, trials, build.arms("au", PAIR))
    row = found.set_index("site_year_id").loc["u"]
    assert row["gain"] == pytest.approx(11)
    assert row[["std_error", "own_std_error", "block_std_error", "df"]].isna().all()
    block = blocks.set_index("trial_id").loc["u"]
    assert block["variance"] == pytest.approx(2 * analyses["error_variance"].iloc[0])
    assert "pooled error" in row["warnings"]
    assert row["is_pooled"]


def test_nothing_is_said_to_be_borrowed_where_no_trial_has_an_error(build):
    plots = build.plots("u", {"1": {"U": 100, "C": 111}})
    trials = build.trials({"trial_id": "u", "design": "unreplicated"})
    _, blocks, found = gains_of(build, plots, trials, build.arms("u", PAIR))
    assert blocks["variance"].isna().all()
    assert found["warnings"].to_list() == [NO_ERROR]
    assert found["gain"].to_list() == pytest.approx([11])


def test_not_randomized_is_shown_but_not_pooled(build):
    plots = noisy(build, "a", 1)
    trials = build.trials({"trial_id": "a", "design": "not randomized"})
    found = gains_of(build, plots, trials, build.arms("a", PAIR))[2].iloc[0]
    assert not found["is_pooled"]


def test_two_trials_of_one_site_year_are_one_row_and_count_alike(build):
    plots = pd.concat([noisy(build, "a", 1, blocks=3), noisy(build, "b", 2, blocks=6)])
    trials = build.trials({"trial_id": "a"}, {"trial_id": "b"}).assign(site_year_id="s", place="p")
    _, blocks, found = gains_of(build, plots, trials, build.arms("ab", PAIR))
    assert len(found) == 1
    row = found.iloc[0]
    assert row["gain"] == pytest.approx(blocks.groupby("trial_id")["gain"].mean().mean())
    assert row["n_trials"] == 2 and row["n_blocks"] == 9
    assert "counted alike" in row["warnings"]


@pytest.mark.parametrize(("of_b", "found"), [("W", "W"), ("P", None), (None, None)])
def test_trials_on_soils_of_two_drainage_groups_are_of_neither(build, of_b, found):
    plots = pd.concat([noisy(build, "a", 1), noisy(build, "b", 2)])
    trials = build.trials({"trial_id": "a"}, {"trial_id": "b"}).assign(
        site_year_id="s", place="p", drainage_group=["W", of_b]
    )
    for order in (trials, trials[::-1]):
        assert gains_of(build, plots, order, build.arms("ab", PAIR))[2]["drainage_group"].tolist() == [found]


def test_blocks_of_unequal_precision_are_weighted(build):
    """Block 1 has two pairs, block 2 one: weights 2 to 1."""
    plots = build.plots("t", {"1": {"U": [100, 102], "C": [108, 106]}, "2": {"U": 100, "C": 112}})
    trials = build.trials({"trial_id": "t"})
    found = gains_of(build, plots, trials, build.arms("t", PAIR))[2].iloc[0]
    assert found["gain"] == pytest.approx((2 * 6 + 12) / 3)


def test_missing_rates_are_listed(build):
    pairs = {90.0: ("C", "U"), 180.0: ("D", "V")}
    plots = build.plots("t", {"1": {"U": 1, "C": 3, "V": 2, "D": 5}, "2": {"U": 1, "C": 4}, "3": {"U": 2, "C": 3}})
    trials = build.trials({"trial_id": "t"})
    found = gains_of(build, plots, trials, build.arms("t", pairs))[2].iloc[0]
    assert found["rates_missing"] == [180]


def test_limits_of_a_site_year_are_those_of_its_t():
    gains = pd.DataFrame({"gain": [5.0, 5.0], "std_error": [2.0, None], "df": [10.0, None]})
    limits = with_limits(gains)
    low, high = stats.t.interval(0.95, 10, loc=5, scale=2)
    assert limits.loc[0, ["conf_low", "conf_high"]].tolist() == pytest.approx([low, high])
    assert limits.loc[1, ["conf_low", "conf_high", "half_width"]].isna().all()
