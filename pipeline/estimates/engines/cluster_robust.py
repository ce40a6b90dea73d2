"""A weighted mean whose standard error lets the values of one cluster go together in any way (CR2).

Bias-reduced: each cluster's residuals are enlarged so that the variance is unbiased where the
variances given are true. Bell and McCaffrey 2002, Survey Methodology 28:169-181; in the form of
Pustejovsky and Tipton 2018, Journal of Business & Economic Statistics 36:672-683, whose sections
2.1 and 3 give the adjustment and the Satterthwaite df used here.
"""

from __future__ import annotations

import numpy as np

from pipeline.estimates.engines.two_stage import Mean


def clustered_mean(values: np.ndarray, variances: np.ndarray, clusters: np.ndarray) -> Mean:
    """Mean of values (n) weighted by 1 / variances (n, above zero), with clusters (n labels, 2 or more distinct).

    The residuals e of cluster j are taken as A_j e, where A_j R_j A_j = V_j: V_j the diagonal
    matrix of its variances, R_j that of its residuals under them, V_j - 1/sum(weights). The
    variance of the mean is the sum over clusters of (share_j' A_j e_j)^2.
    """
    total = np.sum(1 / variances)
    share = 1 / variances / total
    estimate = float(share @ values)
    order = np.argsort(clusters, kind="stable")
    ends = np.cumsum(np.unique(clusters, return_counts=True)[1])[:-1]
    # of each cluster, weights on its values once they stand for their residuals: their sum, and what they come to
    sums, squares, reached = [], [], []
    for inside in np.split(order, ends):
        weights = share[inside] @ _adjustment(variances[inside], total)
        sums.append(weights.sum())
        squares.append(weights**2 @ variances[inside])
        reached.append(weights @ values[inside])
    sums, squares, reached = map(np.array, (sums, squares, reached))
    # each covariance of two clusters is -sum x sum / total, to which a cluster's own variance adds its squares
    of_sums = sums**2 / total
    trace = np.sum(squares - of_sums)
    all_squares = np.sum(squares**2 - 2 * squares * of_sums) + np.sum(of_sums) ** 2
    return Mean(estimate, float(np.sqrt(np.sum((reached - sums * estimate) ** 2))), float(trace**2 / all_squares))


def _adjustment(variances: np.ndarray, total_weight: float) -> np.ndarray:
    """A = D B^(-1/2) D with D the standard deviations and B = D R D, so that A R A = V."""
    sd = np.sqrt(variances)
    scaled = np.outer(sd, sd) * (np.diag(variances) - 1 / total_weight)
    eigenvalues, vectors = np.linalg.eigh(scaled)
    return np.outer(sd, sd) * ((vectors / np.sqrt(eigenvalues)) @ vectors.T)
