"""Prediction intervals: Higgins, Thompson and Spiegelhalter 2009, JRSS A 172:137-159, t with k - 2 df,
and the blood-pressure trials of Riley, Higgins and Deeks 2011, BMJ 342:d549."""

import numpy as np
import pytest

from pipeline.estimates import two_stage

SET_SHIFTING = (
    np.array([0.38, 0.07, 0.52, 0.85, 0.45, 0.01, -0.58, 0.44, 0.46, 0.93, 0.28, 0.20, 0.46, 0.59]),
    np.array([0.40, 0.21, 0.29, 0.25, 0.29, 0.35, 0.36, 0.25, 0.22, 0.47, 0.24, 0.28, 0.23, 0.36]) ** 2,
)
BLOOD_PRESSURE = (
    np.array([0, 0.10, -0.40, -0.80, -0.63, 0.22, -0.34, -0.51, 0.03, -0.81]),
    np.array(
        [
            0.42347717,
            0.21939179,
            0.02551067,
            0.19898325,
            0.30102594,
            0.30102594,
            0.07142988,
            0.10204269,
            0.12245123,
            0.30102594,
        ]
    )
    ** 2,
)


def higgins(gains, variances, tau2):
    w = 1 / (variances + tau2)
    mean, std_error = np.sum(w * gains) / w.sum(), w.sum() ** -0.5
    return two_stage.prediction_interval_t(mean, std_error, tau2, len(gains) - 2, 0.95)


def test_set_shifting():
    """Computed with metafor 3.8-1 from the trials of the 2009 paper."""
    tau2 = two_stage.tau2_dersimonian_laird(*SET_SHIFTING)
    assert tau2 == pytest.approx(0.0226346061, rel=1e-7)
    assert higgins(*SET_SHIFTING, tau2) == pytest.approx((-0.0155390923, 0.738726811), abs=1e-7)
    tau2 = two_stage.tau2_reml(*SET_SHIFTING)
    assert tau2 == pytest.approx(0.0132203348, rel=1e-5)
    assert higgins(*SET_SHIFTING, tau2) == pytest.approx((0.0554386660, 0.668457471), abs=1e-5)


def test_blood_pressure():
    """BMJ 2011: mean -0.33. Documentation of the R package pimeta: tau2 0.0282, interval -0.7598 to 0.0917."""
    gains, variances = BLOOD_PRESSURE
    tau2 = two_stage.tau2_dersimonian_laird(gains, variances)
    assert round(tau2, 4) == 0.0282
    assert round(two_stage.random_effects_mean(gains, variances, tau2).estimate, 2) == -0.33
    low, high = higgins(gains, variances, tau2)
    assert (round(low, 4), round(high, 4)) == (-0.7598, 0.0917)
    assert higgins(gains, variances, two_stage.tau2_reml(gains, variances)) == pytest.approx(
        (-0.984349014, 0.326869505), abs=1e-5
    )


def test_confidence_distribution_interval_is_no_narrower_than_higgins_here():
    """Nagashima, Noma and Furukawa 2019: tau2 is uncertain, so the interval should widen; it stays centred alike."""
    gains, variances = BLOOD_PRESSURE
    low, high = two_stage.prediction_interval_fiducial(gains, variances, 0.95)
    usual = higgins(gains, variances, two_stage.tau2_dersimonian_laird(gains, variances))
    assert low < usual[0] and usual[1] < high
