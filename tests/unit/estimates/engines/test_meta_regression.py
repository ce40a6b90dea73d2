import numpy as np
import pytest

from pipeline.estimates.engines.meta_regression import aicc

GAINS = np.array([1.0, 4.0, 2.0, 9.0, 6.0, 5.0])
DESIGN = np.column_stack([np.ones(6), [0.0, 1.0, 0.0, 2.0, 2.0, 1.0]])


@pytest.mark.parametrize("error", [0.1, 100.0])
def test_aicc_of_equal_errors_is_that_of_least_squares(error):
    """The likelihood is highest where error and spread are the mean square, or the spread zero; 3 parameters of 6."""
    left = GAINS - DESIGN @ np.linalg.lstsq(DESIGN, GAINS, rcond=None)[0]
    total = max(error, np.mean(left**2))
    deviance = 6 * np.log(2 * np.pi * total) + np.sum(left**2) / total
    assert aicc(GAINS, np.full(6, error), DESIGN) == pytest.approx(deviance + 2 * 3 * 6 / (6 - 3 - 1), rel=1e-9)


@pytest.mark.parametrize(("n", "is_told"), [(3, False), (4, False), (5, True)])
def test_aicc_needs_two_site_years_more_than_parameters(n, is_told):
    assert np.isfinite(aicc(GAINS[:n], np.full(n, 0.1), DESIGN[:n])) == is_told
