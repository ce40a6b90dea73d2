"""Meta-regression: site-year gains on what differs between site-years, by weighted least squares with the spread left
over.

Arrays have one entry per site-year, in the unit of the gains and its square; variances are above zero. As two_stage has
it for the mean: tau2 by REML, the standard error after Knapp and Hartung 2003 (Statistics in Medicine 22:2693-2710)
with the factor not below 1, t with site-years less coefficients df. Every sum is over site-years, so time grows with
their number.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.optimize import minimize_scalar

from pipeline.estimates.engines.two_stage import LEAST_VARIANCE, Mean, scoring


@dataclass(frozen=True)
class MetaRegression:
    """Coefficients with their covariance at tau2, before the factor on it; df: values less coefficients."""

    coefficients: np.ndarray
    covariance: np.ndarray
    factor: float
    df: int
    tau2: float

    def coefficient(self, number: int) -> Mean:
        return Mean(
            float(self.coefficients[number]), float(np.sqrt(self.factor * self.covariance[number, number])), self.df
        )


def meta_regression(
    gains: np.ndarray, variances: np.ndarray, design: np.ndarray, *, least_factor: float = 1.0
) -> MetaRegression:
    """The regression at the REML tau2; design (site-years x coefficients) of full rank, fewer columns than rows."""
    tau2 = tau2_reml(gains, variances, design)
    w = 1 / (variances + tau2)
    covariance, coefficients = weighted(gains, w, design)
    df = len(gains) - design.shape[1]
    scale = float(np.sum(w * (gains - design @ coefficients) ** 2)) / df
    return MetaRegression(coefficients, covariance, max(least_factor, scale), df, tau2)


def weighted(gains: np.ndarray, weights: np.ndarray, design: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """((X'WX)^-1, its product with X'Wy)."""
    of_design = weights[:, None] * design
    inverse = np.linalg.inv(design.T @ of_design)
    return inverse, inverse @ (of_design.T @ gains)


def tau2_reml(gains: np.ndarray, variances: np.ndarray, design: np.ndarray) -> float:
    """Spread between site-years that the design leaves, by REML (Fisher scoring, kept at or above zero)."""
    left = gains - design @ np.linalg.lstsq(design, gains, rcond=None)[0]
    scale = float(np.sum(left**2)) / (len(gains) - design.shape[1]) + float(np.mean(variances))
    variances = np.maximum(variances, LEAST_VARIANCE * scale)
    start = max(0.0, scale - 2 * float(np.mean(variances)))

    def scored(tau2: float) -> tuple[float, float]:
        w = 1 / (variances + tau2)
        inverse, coefficients = weighted(gains, w, design)
        square = inverse @ (design.T @ ((w**2)[:, None] * design))
        cube = inverse @ (design.T @ ((w**3)[:, None] * design))
        # with P = W less the part of the coefficients: y'PPy - tr P, and tr PP
        score = np.sum((w * (gains - design @ coefficients)) ** 2) - (w.sum() - np.trace(square))
        return score, np.sum(w**2) - 2 * np.trace(cube) + np.trace(square @ square)

    return scoring(scored, start, scale)


def aicc(gains: np.ndarray, variances: np.ndarray, design: np.ndarray) -> float:
    """Small-sample AIC of the regression with its spread, by full likelihood; infinite where nothing is left to tell
    it.

    -2 log L + 2 p n / (n - p - 1), p counting the coefficients and tau2 (Hurvich and Tsai 1989, Biometrika 76:297-307).
    """
    n, p = len(gains), design.shape[1] + 1
    if n - p - 1 < 1:
        return np.inf

    def deviance(tau2: float) -> float:
        w = 1 / (variances + tau2)
        _, coefficients = weighted(gains, w, design)
        return float(n * np.log(2 * np.pi) - np.sum(np.log(w)) + np.sum(w * (gains - design @ coefficients) ** 2))

    most = 10 * float(np.var(gains)) + float(np.mean(variances))
    found = minimize_scalar(deviance, bounds=(0, most), method="bounded", options={"xatol": 1e-9 * most})
    return min(float(found.fun), deviance(0.0)) + 2 * p * n / (n - p - 1)
