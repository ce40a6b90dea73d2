"""Two-stage averages on the log risk ratios of 13 vaccine trials.

Source and standing of each number: pipeline/contract/published_checks.yml.
"""

import numpy as np
import pytest

from pipeline.estimates.engines import meta_regression, two_stage

# Vaccinated: tuberculosis, none; not vaccinated: tuberculosis, none.
CASES = np.array(
    [
        (4, 119, 11, 128),
        (6, 300, 29, 274),
        (3, 228, 11, 209),
        (62, 13536, 248, 12619),
        (33, 5036, 47, 5761),
        (180, 1361, 372, 1079),
        (8, 2537, 10, 619),
        (505, 87886, 499, 87892),
        (29, 7470, 45, 7232),
        (17, 1699, 65, 1600),
        (186, 50448, 141, 27197),
        (5, 2493, 3, 2338),
        (27, 16886, 29, 17825),
    ],
    float,
)
LATITUDE = np.array([44, 55, 42, 52, 13, 44, 19, 13, 27, 42, 18, 33, 33], float)


@pytest.fixture(scope="module")
def trials():
    tpos, tneg, cpos, cneg = CASES.T
    gains = np.log(tpos / (tpos + tneg)) - np.log(cpos / (cpos + cneg))
    return gains, 1 / tpos - 1 / (tpos + tneg) + 1 / cpos - 1 / (cpos + cneg)


def test_heterogeneity(trials):
    found = two_stage.heterogeneity(*trials)
    assert found.q_stat == pytest.approx(152.233008, rel=1e-7)  # 152.2330 in the README
    assert found.df == 12
    assert found.p_value == pytest.approx(1.996765e-26, rel=1e-5)
    assert found.i2_pct == pytest.approx(92.1173469, rel=1e-7)


def test_equal_effects_mean(trials):
    gains, variances = trials
    found = two_stage.random_effects_mean(gains, variances, 0.0)
    assert found.estimate == pytest.approx(-0.430285164, rel=1e-7)


@pytest.mark.parametrize(
    "estimator, tau2, rel, estimate",
    [
        (two_stage.tau2_dersimonian_laird, 0.308760263, 1e-7, -0.714117222),
        (two_stage.tau2_reml, 0.313243258, 1e-5, -0.714532342),
        (two_stage.tau2_paule_mandel, 0.318068452, 1e-6, -0.714968153),
    ],
)
def test_between_trial_variance(trials, estimator, tau2, rel, estimate):
    gains, variances = trials
    found = estimator(gains, variances)
    assert found == pytest.approx(tau2, rel=rel)
    mean = two_stage.random_effects_mean(gains, variances, found)
    assert mean.estimate == pytest.approx(estimate, rel=1e-6)


def test_published_digits(trials):
    gains, variances = trials
    assert round(two_stage.tau2_reml(gains, variances), 4) == 0.3132
    assert round(two_stage.tau2_dersimonian_laird(gains, variances), 4) == 0.3088


@pytest.mark.parametrize("unit", [1e-3, 1.0, 1e3])
def test_knapp_hartung_in_any_unit(trials, unit):
    """README: SE 0.1808, CI -1.1084 to -0.3206 on 12 df."""
    gains, variances = trials[0] * unit, trials[1] * unit**2
    mean = two_stage.random_effects_mean(gains, variances, two_stage.tau2_reml(gains, variances))
    assert mean.df == 12
    assert mean.std_error / unit == pytest.approx(0.180791744, rel=1e-6)
    half = mean.half_width(0.95)
    assert (mean.estimate - half) / unit == pytest.approx(-1.10844371, rel=1e-6)
    assert (mean.estimate + half) / unit == pytest.approx(-0.320620971, rel=1e-6)


@pytest.mark.parametrize(
    "df, low, high",
    [(11, -2.00905765, 0.579992966), (12, -1.99601683, 0.566952150)],
)
def test_prediction_interval_with_knapp_hartung_error(trials, df, low, high):
    gains, variances = trials
    tau2 = two_stage.tau2_reml(gains, variances)
    mean = two_stage.random_effects_mean(gains, variances, tau2)
    found = two_stage.prediction_interval_t(mean.estimate, mean.std_error, tau2, df, 0.95)
    assert found == pytest.approx((low, high), rel=1e-6)


def test_leaving_out_one_trial_at_a_time(trials):
    """metafor's page on leave-one-out, REML, 4 digits there."""
    estimates = [
        -0.707083785, -0.654031200, -0.685554411, -0.628409370, -0.764170095, -0.710876556, -0.655247600,
        -0.794767605, -0.741197299, -0.653032915, -0.757858627, -0.759812099, -0.777536185,
    ]  # fmt: skip
    gains, variances = trials
    for left_out, expected in enumerate(estimates):
        y, v = np.delete(gains, left_out), np.delete(variances, left_out)
        found = two_stage.random_effects_mean(y, v, two_stage.tau2_reml(y, v)).estimate
        assert found == pytest.approx(expected, abs=1e-6)


def plain(gains, variances):
    """tau2 by REML, mean and its standard error without Knapp and Hartung's factor."""
    tau2 = two_stage.tau2_reml(gains, variances) if len(gains) > 1 else 0.0
    w = 1 / (variances + tau2)
    return tau2, float(w @ gains / w.sum()), float(w.sum() ** -0.5)


def test_spread_and_error_with_one_trial_left_out(trials):
    tau2 = [
        0.336156702, 0.292583084, 0.320737930, 0.262758148, 0.327803260, 0.359554070, 0.293025870,
        0.273182929, 0.349452010, 0.298724505, 0.340488288, 0.308162215, 0.303733366,
    ]  # fmt: skip
    errors = [
        0.189961015, 0.180695386, 0.185706197, 0.176618892, 0.191787645, 0.200254048, 0.180473369,
        0.179877686, 0.196674918, 0.184267488, 0.195786866, 0.182090982, 0.185535977,
    ]  # fmt: skip
    found = [plain(np.delete(trials[0], i), np.delete(trials[1], i)) for i in range(13)]
    assert [one[0] for one in found] == pytest.approx(tau2, rel=1e-5)
    assert [one[2] for one in found] == pytest.approx(errors, rel=1e-5)


def test_year_by_year(trials):
    """metafor's page on cumulative analysis, REML, trials in order of year; from the third on both digits there and
    ours.
    """
    order = np.array([1, 2, 6, 3, 10, 9, 12, 5, 7, 11, 13, 4, 8]) - 1
    estimates = [
        -0.889311, -1.325003, -0.972080, -1.001096, -1.101426, -0.973464, -0.901251, -0.788566, -0.865607,
        -0.785211, -0.708206, -0.794768, -0.714532,
    ]  # fmt: skip
    errors = [
        0.570600355, 0.348988772, 0.245463345, 0.222284835, 0.199665575, 0.187655302, 0.190738393,
        0.196951051, 0.196253209, 0.180143139, 0.178384419, 0.179877686, 0.179781516,
    ]  # fmt: skip
    found = [plain(trials[0][order[:k]], trials[1][order[:k]]) for k in range(1, 14)]
    assert [one[1] for one in found] == pytest.approx(estimates, abs=1e-5)
    assert [one[2] for one in found] == pytest.approx(errors, abs=1e-5)
    assert found[1][0] == 0


def test_knapp_hartung_is_not_let_below_the_plain_error():
    """Three trials with tau2 = 0, where the unmodified interval is far too narrow (metafor 3.8-1)."""
    gains, variances = np.array([2.8026, 0, 1.9711]), np.array([17.7575, 37.5657, 8.1323])
    assert two_stage.tau2_reml(gains, variances) == 0
    plain = two_stage.random_effects_mean(gains, variances, 0.0, least_factor=0.0)
    assert plain.std_error == pytest.approx(0.587643983, rel=1e-7)
    kept = two_stage.random_effects_mean(gains, variances, 0.0)
    half = kept.half_width(0.95)
    assert (kept.estimate - half, kept.estimate + half) == pytest.approx((-7.53848051, 11.4258439), rel=1e-7)


def test_slope_of_latitude(trials):
    """metafor's help page of rma, REML: -0.0291, error 0.0072, tau2 0.0764; Knapp-Hartung and AICc of the same by
    metafor 3.8-1.
    """
    design = np.column_stack([np.ones(13), LATITUDE])
    found = meta_regression.meta_regression(*trials, design)
    errors = np.sqrt(np.diag(found.covariance))
    assert (round(found.coefficients[1], 4), round(errors[1], 4), round(found.tau2, 4)) == (-0.0291, 0.0072, 0.0763)
    assert found.tau2 == pytest.approx(0.076347963956, rel=1e-7)
    assert found.coefficients == pytest.approx([0.251468210007, -0.029101725012], rel=1e-8)
    assert errors == pytest.approx([0.249095396618, 0.007195327221], rel=1e-8)
    slope = found.coefficient(1)
    assert (slope.std_error, slope.df) == (pytest.approx(0.008201417411, rel=1e-8), 11)
    assert meta_regression.aicc(*trials, design) == pytest.approx(24.037997723, rel=1e-8)


def test_without_a_slope_it_is_the_mean(trials):
    found = meta_regression.meta_regression(*trials, np.ones((13, 1)))
    assert found.tau2 == pytest.approx(two_stage.tau2_reml(*trials), rel=1e-8)
    mean = two_stage.random_effects_mean(*trials, found.tau2)
    assert found.coefficient(0).std_error == pytest.approx(mean.std_error, rel=1e-9)
