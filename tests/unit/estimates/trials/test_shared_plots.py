"""Trials on the same plots in several years: against lme4, lmerTest and metafor called directly, and by hand.

Source and standing of each number: pipeline/contract/published_checks.yml.
"""

import numpy as np
import pandas as pd
import pytest

from pipeline.contract.vocabulary import TESTED, TO_COME
from pipeline.estimates.average import three_methods
from pipeline.estimates.average.pooling import model_blocks, pooled_gains
from pipeline.estimates.engines import restricted_likelihood, two_stage
from pipeline.estimates.trials.shared_plots import lasting_errors, lasting_shares, shared_error
from pipeline.estimates.trials.site_year_gains import site_year_gains
from pipeline.simulation import calibration


def block_gains(rows):
    """Block gains with variances, of trials with an error of their own on 30 df."""
    known = {
        "comparison_id": "c",
        "variance_df": 30.0,
        "own_variance": rows["variance"],
        "own_variance_df": 30.0,
        "warnings": "",
        "variance_factor": 1.0,
    }
    counts = {
        "comparator_mean": 100.0,
        "n_treatment_plots": 1,
        "n_comparator_plots": 1,
        "n_rates": 1,
        "rates_missing": "",
        "zero_n_in_error": False,
    }
    return rows[["trial_id", "block", "gain", "variance"]].assign(**known, **counts)


def trials_of(rows, linked=("A", "B", "C")):
    trials = rows.drop_duplicates("trial_id")[["trial_id", "plot_set", "season", "place"]]
    trials = trials.assign(plot_set=trials["plot_set"].where(trials["plot_set"].isin(linked), None))
    return trials.assign(
        crop="corn", design="RCBD", drainage_group="W", rainfall_class="normal", site_year_id=trials["trial_id"]
    )


@pytest.fixture(scope="module")
def drawn(answers):
    rows = answers("shared_plots").astype({"block": str})
    gains, trials = block_gains(rows), trials_of(rows)
    by_site_year = site_year_gains(gains, trials)
    expected = answers("shared_plots_answers").set_index("quantity")["value"]
    return gains, trials, by_site_year, expected


def test_the_mixed_model_is_that_of_lme4_with_blocks_that_come_back(drawn):
    gains, trials, by_site_year, expected = drawn
    pooled, components = pooled_gains(by_site_year, model_blocks(gains, trials, by_site_year), ["c"])
    row = pooled.query("target == @TESTED and method == 'mixed model'").iloc[0]
    for name, tolerance in (("estimate", 1e-5), ("std_error", 1e-4), ("df", 1e-2)):
        assert row[name] == pytest.approx(expected[name], rel=tolerance)
    found = components.query("target == @TESTED").set_index("component")["variance"]
    for name, component in (
        ("place", "place"),
        ("site_year_id", "site-year"),
        ("plots", "plots, lasting"),
        ("residual", "residual"),
    ):
        assert found[component] == pytest.approx(expected[name], rel=2e-3)
    assert row["tau2"] == pytest.approx(
        found["place"] + found["site-year"]
    )  # plot error that lasts is no spread between fields
    other = restricted_likelihood.fit_gains(model_blocks(gains, trials, by_site_year), TESTED)
    assert (other.estimate, other.std_error) == pytest.approx((expected["estimate"], expected["std_error"]), rel=1e-4)


def test_the_two_stage_average_is_metafors_with_the_full_covariance(drawn):
    _, _, by_site_year, expected = drawn
    row = three_methods.meta_analysis(by_site_year, TESTED, 0.95).columns
    assert row["tau2"] == pytest.approx(expected["two_stage_tau2"], rel=1e-5)
    assert row["estimate"] == pytest.approx(expected["two_stage_estimate"], rel=1e-6)
    assert row["std_error"] == pytest.approx(expected["knapp_hartung_std_error"], rel=1e-5)
    assert row["q_stat"] == pytest.approx(expected["two_stage_q"], rel=1e-6)


def test_the_plain_mean_counts_what_plots_share_once(drawn):
    gains, trials, by_site_year, expected = drawn
    assert lasting_shares(gains, trials).loc["corn"].tolist() == pytest.approx([expected["share"], 9])
    mean = two_stage.plain_mean(by_site_year["gain"].to_numpy(), shared_error(by_site_year))
    assert mean.estimate == pytest.approx(expected["plain_estimate"])
    assert mean.std_error == pytest.approx(expected["plain_std_error"], rel=1e-9)
    assert mean.df == 14  # by Satterthwaite 21.9
    alone = two_stage.plain_mean(by_site_year["gain"].to_numpy())
    assert alone.std_error < mean.std_error and alone.df == 14


def test_one_set_of_plots_over_years_is_no_surer_than_its_blocks(drawn):
    """Four years on the plots of A: where all error lasts, the blocks' own means over the years tell the doubt about
    those plots.
    """
    gains, trials, _, _ = drawn
    trials = trials[trials["plot_set"] == "A"]
    of_block = pd.Series({"1": 4.0, "2": -3.0, "3": 1.5, "4": -2.5})
    gains = gains[gains["trial_id"].isin(trials["trial_id"])]
    year = gains["trial_id"].str[-1].astype(float)
    gains = gains.assign(gain=10 + year + gains["block"].map(of_block), variance=of_block.var())
    by_site_year = site_year_gains(gains, trials)
    assert by_site_year["lasting_std_error"].to_numpy() == pytest.approx(of_block.std() / 2)
    mean = three_methods.plain_mean(by_site_year, TESTED, 0.95).columns
    years = np.var([1.0, 2, 3, 4], ddof=1) / 4
    assert mean["std_error"] == pytest.approx(np.sqrt(years + of_block.var() / 4))
    assert mean["df"] == 3


def test_without_trials_on_the_same_plots_nothing_changes(drawn):
    gains, trials, _, _ = drawn
    plain = trials.drop(columns="plot_set")
    once = trials.assign(plot_set=trials["trial_id"])  # each set of plots used once
    first, second = site_year_gains(gains, plain), site_year_gains(gains, once)
    assert first["plot_set"].isna().all()
    pd.testing.assert_frame_equal(first, second)
    pooled = [pooled_gains(of, model_blocks(gains, t, of), ["c"])[0] for of, t in ((first, plain), (second, once))]
    pd.testing.assert_frame_equal(*pooled)


def test_error_of_which_no_block_comes_back_is_taken_to_last(drawn):
    gains, trials, _, _ = drawn
    renamed = gains.assign(block=gains["trial_id"] + gains["block"])
    share = lasting_shares(renamed, trials).loc["corn"]
    assert share["share"] == 1 and np.isnan(share["df"])
    assert shared_error(site_year_gains(renamed, trials)).df == 30


def test_a_share_at_its_bound_leaves_the_df_of_the_plot_error():
    """All of the error lasts: two blocks that come back fix that share on 1 df, but no share can be larger."""
    trials = pd.DataFrame(
        {
            "comparison_id": "c",
            "site_year_id": ["a-1", "a-2"],
            "trial_id": ["t1", "t2"],
            "crop": "corn",
            "plot_set": "t1",
            "variance": [4.0, 9.0],
            "df": [28.0, 18.0],
        }
    )
    at_bound, below = (pd.DataFrame({"share": [share], "df": [1.0]}, index=["corn"]) for share in (1.0, 0.4))
    assert lasting_errors(trials, at_bound)["lasting_df"].tolist() == [28, 18]
    assert lasting_errors(trials, below)["lasting_df"].tolist() == [1, 1]


def test_season_means_of_the_same_plots_share_their_error(drawn):
    _, _, by_site_year, _ = drawn
    shared = shared_error(by_site_year)
    gains, seasons = by_site_year["gain"].to_numpy(), by_site_year["season"].to_numpy()
    groups = np.array([(seasons == season) / np.sum(seasons == season) for season in np.unique(seasons)])
    covariance = groups @ shared.covariance @ groups.T
    n = len(groups)
    c = (covariance.sum() - np.trace(covariance)) / (n * (n - 1))
    spread = np.var(groups @ gains, ddof=1) / n
    assert three_methods.plain_mean(by_site_year, TO_COME, 0.95).columns["std_error"] == pytest.approx(
        np.sqrt(spread + c)
    )


def test_a_simulated_layout_knows_which_trials_share_plots(drawn):
    """Else the calibration would draw lasting errors and leave them out of the intervals it tries."""
    gains, trials, by_site_year, _ = drawn
    layout = calibration.layout_of(gains, trials, by_site_year)
    assert set(layout["plot_set"].dropna()) == {"A", "B", "C"}
    assert layout["plots"].nunique() < len(layout)
