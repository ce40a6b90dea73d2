"""Prediction intervals by t with k - 2 df.

Source and standing of each number: pipeline/contract/published_checks.yml.
"""

import numpy as np
import pytest

from pipeline.estimates.engines import two_stage

SET_SHIFTING = (
    np.array([0.38, 0.07, 0.52, 0.85, 0.45, 0.01, -0.58, 0.44, 0.46, 0.93, 0.28, 0.20, 0.46, 0.59]),
    np.array([0.40, 0.21, 0.29, 0.25, 0.29, 0.35, 0.36, 0.25, 0.22, 0.47, 0.24, 0.28, 0.23, 0.36]) ** 2,
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
