"""Nineteen trials of teacher expectancy: spread, mean and shrunken results.

Source and standing of each number: pipeline/contract/published_checks.yml.
"""

import numpy as np
import pytest

from pipeline.estimates.average import spread
from pipeline.estimates.engines import two_stage

GAINS = np.array(
    [0.03, 0.12, -0.14, 1.18, 0.26, -0.06, -0.02, -0.32, 0.27, 0.8, 0.54, 0.18, -0.02, 0.23, -0.18, -0.06, 0.3, 0.07,
     -0.07]
)  # fmt: skip
VARIANCES = np.array(
    [0.0156, 0.0216, 0.0279, 0.1391, 0.1362, 0.0106, 0.0106, 0.0484, 0.0269, 0.063, 0.0912, 0.0497, 0.0835, 0.0841,
     0.0253, 0.0279, 0.0193, 0.0088, 0.0303]
)  # fmt: skip


def test_variance_between_trials():
    reml = two_stage.tau2_reml(GAINS, VARIANCES)
    assert reml == pytest.approx(0.0188182881, rel=1e-5) and round(reml, 4) == 0.0188
    assert two_stage.tau2_paule_mandel(GAINS, VARIANCES) == pytest.approx(0.0517733101, rel=1e-6)
    assert two_stage.tau2_dersimonian_laird(GAINS, VARIANCES) == pytest.approx(0.0259036723, rel=1e-7)
    assert two_stage.heterogeneity(GAINS, VARIANCES).q_stat == pytest.approx(35.8295363, rel=1e-8)


def test_mean():
    tau2 = two_stage.tau2_reml(GAINS, VARIANCES)
    mean = two_stage.random_effects_mean(GAINS, VARIANCES, tau2, least_factor=0.0)
    assert mean.estimate == pytest.approx(0.0837012419, rel=1e-5)
    assert (1 / (VARIANCES + tau2)).sum() ** -0.5 == pytest.approx(0.0516406714, rel=1e-5)


def test_shrunken_gains():
    tau2 = two_stage.tau2_reml(GAINS, VARIANCES)
    found, _ = spread.best_prediction(GAINS, VARIANCES, tau2)
    assert found[:3] == pytest.approx([0.0543399489, 0.100601524, -0.00640639251], rel=1e-4)
    assert [round(value, 4) for value in found[:3]] == [0.0543, 0.1006, -0.0064]
