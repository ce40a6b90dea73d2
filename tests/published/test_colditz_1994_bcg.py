"""BCG vaccine trials (Colditz et al. 1994, JAMA 271:698-702), log risk ratio, 13 trials.

Published: Viechtbauer 2010, J. Stat. Softw. 36(3), and the README and reference
pages of the R package metafor, at the digits they print. The longer numbers were
computed with metafor 3.8-1.
"""

import numpy as np
import pytest

from pipeline.estimates import two_stage

# Vaccinated: tuberculosis, none; not vaccinated: tuberculosis, none.
CASES = np.array(
    [
        (4, 119, 11, 128), (6, 300, 29, 274), (3, 228, 11, 209), (62, 13536, 248, 12619),
        (33, 5036, 47, 5761), (180, 1361, 372, 1079), (8, 2537, 10, 619), (505, 87886, 499, 87892),
        (29, 7470, 45, 7232), (17, 1699, 65, 1600), (186, 50448, 141, 27197), (5, 2493, 3, 2338),
        (27, 16886, 29, 17825),
    ],
    float,
)  # fmt: skip


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


def test_knapp_hartung_is_not_let_below_the_plain_error():
    """Three trials with tau2 = 0, where the unmodified interval is far too narrow (metafor 3.8-1)."""
    gains, variances = np.array([2.8026, 0, 1.9711]), np.array([17.7575, 37.5657, 8.1323])
    assert two_stage.tau2_reml(gains, variances) == 0
    plain = two_stage.random_effects_mean(gains, variances, 0.0, least_factor=0.0)
    assert plain.std_error == pytest.approx(0.587643983, rel=1e-7)
    kept = two_stage.random_effects_mean(gains, variances, 0.0)
    half = kept.half_width(0.95)
    assert (kept.estimate - half, kept.estimate + half) == pytest.approx((-7.53848051, 11.4258439), rel=1e-7)
