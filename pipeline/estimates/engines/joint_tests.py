"""The F test of several contrasts together, from coefficients and their covariance.

F = b'L'(L V L')^-1 L b / q does not hang on any basis. Only its denominator df are found along the principal directions
of L V L', taken as the symmetric matrix that it is: Fai and Cornelius 1996, Journal of Statistical Computation and
Simulation 54:363-378. lmerTest's contestMD takes F along those directions too, and where classes are balanced rounding
makes R call L V L' asymmetric, whose eigenvectors are then not orthogonal and F is wrong.
"""

from __future__ import annotations

import numpy as np

LEAST_EIGENVALUE = np.sqrt(np.finfo(float).eps)  # of the largest: contrasts that say the same are counted once


def f_test(
    contrasts: np.ndarray,
    estimates: np.ndarray,
    covariance: np.ndarray,
    gradients: np.ndarray,
    parameter_covariance: np.ndarray,
) -> tuple[float, float, float]:
    """(F, numerator df, Satterthwaite denominator df) of the contrasts (rows x fixed effects) being zero together.

    gradients: derivative of the covariance by each variance parameter (parameters x effects x effects), whose own
    covariance is parameter_covariance.
    """
    contrasts = np.atleast_2d(contrasts)
    between = contrasts @ covariance @ contrasts.T
    sizes, directions = np.linalg.eigh((between + between.T) / 2)
    is_told = sizes > LEAST_EIGENVALUE * sizes.max()
    sizes, directions = sizes[is_told], directions[:, is_told].T @ contrasts
    q = int(is_told.sum())
    shown = contrasts @ estimates
    f_stat = float(shown @ np.linalg.pinv(between, rcond=LEAST_EIGENVALUE, hermitian=True) @ shown) / q
    slopes = np.einsum("mi,kij,mj->mk", directions, gradients, directions)
    spreads = np.einsum("mk,kl,ml->m", slopes, parameter_covariance, slopes)
    return f_stat, float(q), denominator_df(2 * sizes**2 / spreads)


def denominator_df(dfs: np.ndarray) -> float:
    """df of an F whose squared t statistics have these df: the F distribution with the same mean."""
    if len(dfs) == 1:
        return float(dfs[0])
    if (dfs <= 2).any():
        return 2.0
    mean = np.sum(dfs / (dfs - 2))
    return float(2 * mean / (mean - len(dfs)))
