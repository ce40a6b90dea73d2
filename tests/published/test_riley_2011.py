"""Ten blood-pressure trials: the interval of the mean and that for a new setting.

Source and standing of each number: pipeline/contract/published_checks.yml.
"""

import numpy as np
import pytest

from pipeline.estimates.engines import two_stage

GAINS = np.array([0, 0.10, -0.40, -0.80, -0.63, 0.22, -0.34, -0.51, 0.03, -0.81])
VARIANCES = np.square(
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


def prediction(tau2):
    w = 1 / (VARIANCES + tau2)
    return two_stage.prediction_interval_t(w @ GAINS / w.sum(), w.sum() ** -0.5, tau2, 8, 0.95)


def test_mean_and_its_intervals():
    tau2 = two_stage.tau2_dersimonian_laird(GAINS, VARIANCES)
    assert tau2 == pytest.approx(0.0282497046, rel=1e-7)
    mean = two_stage.random_effects_mean(GAINS, VARIANCES, tau2, least_factor=0.0)
    assert mean.estimate == pytest.approx(-0.334059653, rel=1e-7)
    plain = two_stage.Mean(mean.estimate, float((1 / (VARIANCES + tau2)).sum() ** -0.5), 9)
    assert plain.std_error == pytest.approx(0.0763688724, rel=1e-7)
    low, high = (mean.estimate + sign * plain.half_width(0.95) for sign in (-1, 1))
    assert (low, high) == pytest.approx((-0.506818045, -0.161301261), rel=1e-6)


def test_prediction_interval():
    assert prediction(two_stage.tau2_dersimonian_laird(GAINS, VARIANCES)) == pytest.approx(
        (-0.759777679, 0.0916583731), rel=1e-6
    )
    tau2 = two_stage.tau2_reml(GAINS, VARIANCES)
    assert tau2 == pytest.approx(0.0699586120, rel=1e-5)
    assert prediction(tau2) == pytest.approx((-0.984349014, 0.326869505), abs=1e-5)


def test_confidence_distribution_interval_is_no_narrower_than_the_usual_one_here():
    """Nagashima, Noma and Furukawa 2019, Stat. Methods Med. Res. 28:1689-1702: tau2 is uncertain, so it should
    widen.
    """
    low, high = two_stage.prediction_interval_fiducial(GAINS, VARIANCES, 0.95)
    usual = prediction(two_stage.tau2_dersimonian_laird(GAINS, VARIANCES))
    assert low < usual[0] and usual[1] < high
