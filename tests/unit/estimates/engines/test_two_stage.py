"""Source and standing of each number: pipeline/contract/published_checks.yml."""

import numpy as np
import pytest
from scipy.optimize import minimize_scalar
from statsmodels.stats.meta_analysis import combine_effects
from statsmodels.stats.weightstats import DescrStatsW

from pipeline.estimates.engines import meta_regression, two_stage

GAINS = np.array([3.0, -1.0, 6.0, 4.0, 9.0, 2.0])
VARIANCES = np.array([2.0, 1.0, 4.0, 1.5, 3.0, 1.0])


@pytest.mark.parametrize("case", [6, 12, 30])
def test_fiducial_interval_and_reml_agree_with_r(answers, case):
    """R: 400,000 plain draws on a grid; metafor's REML. Widths agree within 1.5 %, which is the draws' own error."""
    table = answers("fiducial").query("case == @case")
    expected = answers("fiducial_answers").query("case == @case").iloc[0]
    gains, variances = table["gain"].to_numpy(), table["variance"].to_numpy()
    assert two_stage.tau2_reml(gains, variances) == pytest.approx(expected["tau2_reml"], rel=1e-6)
    low, high = two_stage.prediction_interval_fiducial(gains, variances, 0.95)
    width = expected["high"] - expected["low"]
    assert low == pytest.approx(expected["low"], abs=0.015 * width)
    assert high == pytest.approx(expected["high"], abs=0.015 * width)


def test_fiducial_interval_is_the_same_every_time_and_in_every_unit():
    once = two_stage.prediction_interval_fiducial(GAINS, VARIANCES, 0.95)
    assert two_stage.prediction_interval_fiducial(GAINS, VARIANCES, 0.95) == once
    scaled = two_stage.prediction_interval_fiducial(62.77 * GAINS, 62.77**2 * VARIANCES, 0.95)
    assert scaled == pytest.approx(tuple(62.77 * end for end in once), rel=1e-6)


def test_fiducial_interval_is_the_same_however_many_draws_are_worked_out_at_once(monkeypatch):
    whole = two_stage.prediction_interval_fiducial(GAINS, VARIANCES, 0.95)
    monkeypatch.setattr(two_stage, "MOST_AT_ONCE", 1_000 * len(GAINS))
    assert two_stage.prediction_interval_fiducial(GAINS, VARIANCES, 0.95) == pytest.approx(whole, rel=1e-8)


def test_paule_mandel_agrees_with_statsmodels_near_unit_variances():
    expected = combine_effects(GAINS, VARIANCES, method_re="iterated", atol=1e-12).tau2
    assert two_stage.tau2_paule_mandel(GAINS, VARIANCES) == pytest.approx(expected, rel=1e-6)


def test_plain_mean_agrees_with_statsmodels():
    mean = two_stage.plain_mean(GAINS)
    low, high = DescrStatsW(GAINS).tconfint_mean(0.05)
    half = mean.half_width(0.95)
    assert (mean.estimate - half, mean.estimate + half) == pytest.approx((low, high))


def test_season_means_count_seasons():
    seasons = np.array([2091, 2091, 2091, 2092, 2092, 2093])
    mean = two_stage.season_means(GAINS, seasons)
    of_seasons = [8 / 3, 6.5, 2.0]
    assert mean.estimate == pytest.approx(np.mean(of_seasons))
    assert mean.std_error == pytest.approx(np.std(of_seasons, ddof=1) / np.sqrt(3))
    assert mean.df == 2


def test_gains_more_alike_than_their_errors_have_no_spread():
    gains, variances = np.array([1.0, 1.1, 0.9, 1.0]), np.full(4, 4.0)
    for estimator in (two_stage.tau2_reml, two_stage.tau2_dersimonian_laird, two_stage.tau2_paule_mandel):
        assert estimator(gains, variances) == 0
    assert two_stage.heterogeneity(gains, variances).i2_pct == 0


def test_identical_gains_are_no_accident_waiting_to_happen():
    gains, variances = np.full(6, 2.0), np.full(6, 1.0)
    assert two_stage.tau2_reml(gains, variances) == 0
    low, high = two_stage.prediction_interval_fiducial(gains, variances, 0.95)
    assert low == pytest.approx(2, abs=1e-12)
    assert high == pytest.approx(2, abs=1e-12)


def test_observed_range_is_wider_than_the_interval_of_the_mean():
    low, high = two_stage.observed_range(GAINS, 0.95)
    half = 2.570581836 * GAINS.std(ddof=1) * np.sqrt(7 / 6)  # t(5), 97.5 %
    assert (low, high) == pytest.approx((GAINS.mean() - half, GAINS.mean() + half))


@pytest.mark.filterwarnings("error::RuntimeWarning")
def test_equal_gains_divide_by_nothing():
    """Q of zero: no spread, the factor is 1, and no warning of a division."""
    gains, variances = np.full(6, 2.0), np.arange(1.0, 7.0)
    for estimator in (two_stage.tau2_reml, two_stage.tau2_dersimonian_laird, two_stage.tau2_paule_mandel):
        assert estimator(gains, variances) == 0
    assert two_stage.heterogeneity(gains, variances).i2_pct == 0
    mean = two_stage.random_effects_mean(gains, variances, 0.0)
    assert mean.std_error == pytest.approx(np.sqrt(1 / np.sum(1 / variances)))


@pytest.mark.parametrize(
    ("gains", "std_errors"),
    [
        ([-0.1, -0.3, -1.0, -1.6, -0.8, -0.9], [0.5, 1.5, 1.3, 0.4, 1.2, 1.4]),
        ([-1.0, 0.1, 0.7, 0.4, 0.8, 2.1, 0.5, 2.2, 1.5, 0.5], [0.5, 1.1, 1.6, 1.6, 1.1, 1.5, 1.2, 2.0, 0.9, 0.9]),
    ],
)
def test_of_trials_of_very_unequal_size_the_spread_is_that_of_the_highest_likelihood(gains, std_errors):
    """Here scoring alone goes back and forth between no spread and far too much; against the likelihood written out."""
    gains, variances = np.array(gains), np.array(std_errors) ** 2

    def deviance(tau2: float) -> float:
        w = 1 / (variances + tau2)
        return np.log(w.sum()) - np.log(w).sum() + w @ (gains - w @ gains / w.sum()) ** 2

    highest = minimize_scalar(deviance, bounds=(0, 10), method="bounded", options={"xatol": 1e-9})
    assert highest.x > 0.3 and highest.fun < deviance(0.0)
    assert two_stage.tau2_reml(gains, variances) == pytest.approx(highest.x, rel=1e-5)
    assert meta_regression.tau2_reml(gains, variances, np.ones((len(gains), 1))) == pytest.approx(highest.x, rel=1e-5)


@pytest.mark.filterwarnings("error")
@pytest.mark.parametrize("least", [1e-20, 1e-100, 1e-200])
@pytest.mark.parametrize("gains", [[0.0, 0.1, 0.0], [0.0, 5.0, -5.0]])
def test_a_site_year_almost_without_error_breaks_no_estimate(least, gains):
    """An error too small to matter gives what one a hundredth as large as the others gives."""
    small, smaller = (two_stage.tau2_reml(np.array(gains), np.array([size, 1.0, 1.0])) for size in (1e-4, least))
    assert smaller == pytest.approx(small, rel=1e-4)
