"""Trial error variances moderated toward what the other trials of the crop show.

With few error df a trial's own variance is so uncertain that weighting by it does
harm. Empirical Bayes: Smyth 2004, Statistical Applications in Genetics and
Molecular Biology 3(1), article 3.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.optimize import brentq
from scipy.special import digamma, polygamma

# Beyond these prior df the answer no longer moves: all variances alike, or none.
LEAST_PRIOR_DF, MOST_PRIOR_DF = 2e-4, 2e7


@dataclass(frozen=True)
class Prior:
    """What the trials together say of an error variance, and how firmly (df; may be infinite)."""

    variance: float
    df: float


def prior(variances: np.ndarray, dfs: np.ndarray) -> Prior:
    """Scaled inverse chi-square prior by the moments of the log variances (Smyth 2004, section 6.2).

    Where the variances differ no more than chance makes them, the prior df is
    infinite and its variance is the pooled one. One trial has no prior (df 0).
    """
    variances, dfs = np.asarray(variances, float), np.asarray(dfs, float)
    if len(variances) == 1:
        return Prior(float(variances[0]), 0.0)
    logs = np.log(variances) - digamma(dfs / 2) + np.log(dfs / 2)
    excess = np.var(logs, ddof=1) - np.mean(polygamma(1, dfs / 2))
    pooled = float(np.sum(dfs * variances) / np.sum(dfs))
    if not np.isfinite(excess) or excess <= polygamma(1, MOST_PRIOR_DF / 2):
        return Prior(pooled, np.inf)
    df = 2 * brentq(lambda half: polygamma(1, half) - excess, LEAST_PRIOR_DF / 2, MOST_PRIOR_DF / 2)
    return Prior(float(np.exp(np.mean(logs) + digamma(df / 2) - np.log(df / 2))), df)


def squeeze(variances: np.ndarray, dfs: np.ndarray) -> np.ndarray:
    """Each variance moderated: the mean of its own and the prior one, weighted by their df."""
    variances, dfs = np.asarray(variances, float), np.asarray(dfs, float)
    if len(variances) == 0:
        return variances
    shared = prior(variances, dfs)
    if np.isinf(shared.df):
        return np.full(len(variances), shared.variance)
    return (shared.df * shared.variance + dfs * variances) / (shared.df + dfs)


def moderated_dfs(variances: np.ndarray, dfs: np.ndarray) -> np.ndarray:
    """df of the moderated variances: own plus prior, never more than all trials' together."""
    dfs = np.asarray(dfs, float)
    if len(dfs) == 0:
        return dfs
    return np.minimum(dfs + prior(variances, dfs).df, np.sum(dfs))
