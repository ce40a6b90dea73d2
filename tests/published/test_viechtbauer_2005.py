"""Estimators of the variance between trials.

Source and standing of each number: pipeline/contract/published_checks.yml.
"""

import numpy as np
import pytest

from pipeline.estimates.engines import two_stage

GAINS = np.array([-0.581, 0.530, 0.771, 1.031, 0.553, 0.295, 0.078, 0.573, -0.176, -0.232])
VARIANCES = np.array([0.023, 0.052, 0.060, 0.115, 0.095, 0.203, 0.200, 0.211, 0.051, 0.040])


@pytest.mark.parametrize(
    "estimator, longer, printed, digits",
    [
        (two_stage.tau2_dersimonian_laird, 0.2767778, 0.2768, 4),
        (two_stage.tau2_reml, 0.2232246, 0.2232, 4),
        (two_stage.tau2_paule_mandel, 0.1920050, 0.192, 3),
    ],
)
def test_variance_between_trials(estimator, longer, printed, digits):
    found = estimator(GAINS, VARIANCES)
    assert found == pytest.approx(longer, abs=1e-6)
    assert round(found, digits) == printed


def test_mean():
    mean = two_stage.random_effects_mean(GAINS, VARIANCES, two_stage.tau2_reml(GAINS, VARIANCES), least_factor=0.0)
    assert mean.estimate == pytest.approx(0.2437578, abs=1e-6)
