"""A mean by restricted maximum likelihood, from its definition: an answer that shares no code with R or the pipeline.

The restricted log-likelihood of y = mean + error with covariance V is maximized directly (Patterson and Thompson 1971,
Biometrika 58:545-554); df of the mean by Satterthwaite's formula from numerical derivatives (Giesbrecht and Burns 1985,
Biometrics 41:477-486).
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from scipy.optimize import minimize
from statsmodels.tools.numdiff import approx_fprime, approx_hess

Covariance = Callable[[np.ndarray], np.ndarray]


@dataclass(frozen=True)
class RemlMean:
    """std_error is that of generalised least squares; variances are the fitted parameters of the covariance."""

    estimate: float
    std_error: float
    df: float
    variances: np.ndarray


def reml_mean(y: np.ndarray, covariance: Covariance, start: list[float]) -> RemlMean:
    """`covariance` makes V from the variances; all of them must end above zero."""
    options = {"xatol": 1e-10, "fatol": 1e-12, "maxiter": 20000, "maxfev": 20000}
    found = minimize(lambda v: _deviance(y, covariance(v)), start, method="Nelder-Mead", options=options)
    assert found.success and found.x.min() > 1e-3, f"no maximum inside the permitted variances: {found.x}"
    estimate, variance = _mean(y, covariance(found.x))
    curvature = approx_hess(found.x, lambda v: _deviance(y, covariance(v)))
    gradient = np.ravel(approx_fprime(found.x, lambda v: _mean(y, covariance(v))[1], centered=True))
    df = variance**2 / float(gradient @ np.linalg.solve(curvature, gradient))
    return RemlMean(estimate, float(np.sqrt(variance)), df, found.x)


def _mean(y: np.ndarray, v: np.ndarray) -> tuple[float, float]:
    """Generalised least squares mean and its variance."""
    row_sums = np.linalg.inv(v).sum(axis=1)
    return float(row_sums @ y / row_sums.sum()), float(1 / row_sums.sum())


def _deviance(y: np.ndarray, v: np.ndarray) -> float:
    """-2 restricted log-likelihood, up to a constant; infinite where V is no covariance."""
    sign, log_determinant = np.linalg.slogdet(v)
    if sign <= 0 or np.linalg.eigvalsh(v)[0] <= 0:
        return np.inf
    mean, variance = _mean(y, v)
    return float(log_determinant - np.log(variance) + (y - mean) @ np.linalg.solve(v, y - mean))
