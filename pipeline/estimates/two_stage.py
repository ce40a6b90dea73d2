"""Random-effects meta-analysis of site-year gains: the second road to the headline.

Gains and variances are arrays of one entry per site-year, in the unit of the gains and its
square; every variance is above zero (method_rows.known_errors sees to it).

REML by own iteration (statsmodels has none); the weighted and plain means and
DerSimonian-Laird from statsmodels, Paule-Mandel by own iteration. Intervals after
Knapp and Hartung 2003 (Statistics in Medicine 22:2693-2710) with the factor not below
1, t with k - 1 df.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy import stats
from scipy.optimize import minimize_scalar
from scipy.stats import qmc
from statsmodels.regression.linear_model import WLS
from statsmodels.stats.meta_analysis import combine_effects
from statsmodels.stats.weightstats import DescrStatsW

LEAST_VARIANCE = 1e-30  # of the gains' own: keeps the cubes of weights finite
FIDUCIAL_DRAWS = 2**13
FIDUCIAL_SEED = 20240600


@dataclass(frozen=True)
class Mean:
    """An average gain with its t interval's parts. Unit of the gains."""

    estimate: float
    std_error: float
    df: float

    def half_width(self, conf_level: float) -> float:
        return float(stats.t.ppf((1 + conf_level) / 2, self.df) * self.std_error)


@dataclass(frozen=True)
class Heterogeneity:
    """Q on k - 1 df; I2 = max(0, (Q - df) / Q) in % (Higgins and Thompson 2002, Statistics in Medicine 21:1539-1558)."""

    q_stat: float
    df: int
    p_value: float
    i2_pct: float


def tau2_reml(gains: np.ndarray, variances: np.ndarray) -> float:
    """Between-site-year variance by REML (Fisher scoring, kept at or above zero).

    Where one site-year outweighs all others by more than doubles can hold, no step can be told and the last value stands.
    """
    tau2 = max(0.0, np.var(gains, ddof=1) - np.mean(variances))
    scale = np.var(gains, ddof=1) + np.mean(variances)
    variances = np.maximum(variances, LEAST_VARIANCE * scale)
    for _ in range(1000):
        w = 1 / (variances + tau2)
        total, square = w.sum(), np.sum(w**2)
        deviation = gains - np.sum(w * gains) / total
        score = np.sum(w**2 * deviation**2) - (total - square / total)
        information = square - 2 * np.sum(w**3) / total + (square / total) ** 2
        if not information > 0:
            break
        new = max(0.0, tau2 + score / information)
        if abs(new - tau2) < 1e-12 * scale:
            return float(new)
        tau2 = new
    return float(tau2)


def tau2_dersimonian_laird(gains: np.ndarray, variances: np.ndarray) -> float:
    """Moment estimate, not below zero (DerSimonian and Laird 1986, Controlled Clinical Trials 7:177-188)."""
    if np.ptp(gains) == 0:
        return 0.0  # and statsmodels would divide by a Q of zero
    # its own intervals, not used here, take roots of a moment estimate that may be negative
    with np.errstate(invalid="ignore"):
        return max(0.0, float(combine_effects(gains, variances, method_re="chi2").tau2))


def tau2_paule_mandel(gains: np.ndarray, variances: np.ndarray) -> float:
    """Where the generalised Q equals its df, not below zero (Paule and Mandel 1982, J. Res. NBS 87:377-385).

    Own iteration: statsmodels' one stops short at variances far from 1.
    """
    return float(_tau2_where_q_is(np.array([len(gains) - 1.0]), gains, variances)[0])


def random_effects_mean(gains: np.ndarray, variances: np.ndarray, tau2: float, *, least_factor: float = 1.0) -> Mean:
    """Weighted mean with the Knapp-Hartung standard error, t(k - 1).

    least_factor keeps the factor on the variance from falling below 1; 0 gives the
    unmodified method.
    """
    fit = WLS(gains, np.ones(len(gains)), weights=1 / (variances + tau2)).fit()
    # its residual scale is Knapp and Hartung's factor
    factor = max(least_factor, float(fit.scale))
    return Mean(float(fit.params[0]), float(np.sqrt(factor * fit.normalized_cov_params[0, 0])), len(gains) - 1)


def plain_mean(gains: np.ndarray) -> Mean:
    """Unweighted mean of site-years, t(k - 1)."""
    described = DescrStatsW(np.asarray(gains, float))
    return Mean(float(described.mean), float(described.std_mean), len(gains) - 1)


def season_means(gains: np.ndarray, seasons: np.ndarray, weights: np.ndarray | None = None) -> Mean:
    """Mean of the season means, t(J - 1): seasons, not site-years, are what was sampled."""
    weights = np.ones(len(gains)) if weights is None else weights
    means = [np.average(gains[seasons == season], weights=weights[seasons == season]) for season in np.unique(seasons)]
    return plain_mean(np.array(means))


def mean_with_shared_spread(
    gains: np.ndarray, variances: np.ndarray, groupings: list[np.ndarray], share: float
) -> Mean:
    """Mean where each grouping is assumed to carry this share of tau2: a what-if, t(k - 1), factor not below 1.

    Only tau2 is estimated (REML); two seasons cannot say how much of it goes with the season.
    """
    alike = np.eye(len(gains)) * (1 - share * len(groupings))
    alike += share * sum(np.equal.outer(group, group) for group in groupings)

    def parts(tau2: float) -> tuple[float, Mean]:
        inverse = np.linalg.inv(tau2 * alike + np.diag(variances))
        weights, total = inverse.sum(axis=1), inverse.sum()
        estimate = float(weights @ gains / total)
        q = float((gains - estimate) @ inverse @ (gains - estimate))
        factor = max(1.0, q / (len(gains) - 1))
        mean = Mean(estimate, float(np.sqrt(factor / total)), len(gains) - 1)
        return float(-np.linalg.slogdet(inverse)[1] + np.log(total) + q), mean

    most = 10 * float(np.var(gains, ddof=1)) + 1e-300
    found = minimize_scalar(lambda tau2: parts(tau2)[0], bounds=(0, most), method="bounded")
    return parts(found.x)[1]


def heterogeneity(gains: np.ndarray, variances: np.ndarray) -> Heterogeneity:
    """Cochran's Q and I2 of the site-year gains."""
    w = 1 / variances
    q = float(np.sum(w * (gains - np.sum(w * gains) / w.sum()) ** 2))
    df = len(gains) - 1
    return Heterogeneity(q, df, float(stats.chi2.sf(q, df)), 100 * max(0.0, (q - df) / q) if q > 0 else 0.0)


def prediction_interval_t(
    mean: float, std_error: float, tau2: float, df: float, conf_level: float
) -> tuple[float, float]:
    """mean -+ t(df) sqrt(tau2 + SE2); df = k - 2 is Higgins, Thompson and Spiegelhalter 2009, JRSS A 172:137-159."""
    half = float(stats.t.ppf((1 + conf_level) / 2, df) * np.sqrt(tau2 + std_error**2))
    return mean - half, mean + half


def prediction_interval_fiducial(gains: np.ndarray, variances: np.ndarray, conf_level: float) -> tuple[float, float]:
    """Interval for a new site-year's true gain from the confidence distribution of tau2.

    After Nagashima, Noma and Furukawa 2019 (Statistical Methods in Medical Research
    28:1689-1702), with draws from a scrambled Sobol sequence of fixed seed, so that
    the same gains always give the same interval.
    """
    k = len(gains)
    uniform = qmc.Sobol(d=3, seed=FIDUCIAL_SEED).random(FIDUCIAL_DRAWS)
    tau2 = _tau2_where_q_is(stats.chi2.ppf(uniform[:, 0], k - 1), gains, variances)
    w = 1 / (tau2[:, None] + variances)
    means = (w @ gains) / w.sum(axis=1)
    factor = np.sum(w * (gains - means[:, None]) ** 2, axis=1) / (k - 1)
    centre = random_effects_mean(gains, variances, tau2_paule_mandel(gains, variances)).estimate
    new = (
        centre
        + np.sqrt(tau2) * stats.norm.ppf(uniform[:, 1])
        - stats.t.ppf(uniform[:, 2], k - 1) * np.sqrt(factor / w.sum(axis=1))
    )
    tail = (1 - conf_level) / 2
    low, high = np.quantile(new, [tail, 1 - tail])
    return float(low), float(high)


def _tau2_where_q_is(targets: np.ndarray, gains: np.ndarray, variances: np.ndarray) -> np.ndarray:
    """For each target the tau2 at which the generalised Q equals it; 0 where none does (Newton)."""
    tau2 = np.zeros(len(targets))
    scale = np.var(gains, ddof=1) + np.mean(variances)
    for _ in range(100):
        w = 1 / (tau2[:, None] + variances)
        squares = (gains - ((w @ gains) / w.sum(axis=1))[:, None]) ** 2
        slope = np.maximum(np.sum(w**2 * squares, axis=1), 1e-9 / scale)  # equal gains: no slope
        new = np.maximum(0.0, tau2 + (np.sum(w * squares, axis=1) - targets) / slope)
        if np.max(np.abs(new - tau2)) < 1e-9 * scale:
            return new
        tau2 = new
    return tau2


def observed_range(gains: np.ndarray, conf_level: float) -> tuple[float, float]:
    """Range for the observed result of one new trial like these: mean -+ t(k - 1) s sqrt(1 + 1/k)."""
    mean = plain_mean(gains)
    half = float(stats.t.ppf((1 + conf_level) / 2, mean.df) * np.std(gains, ddof=1) * np.sqrt(1 + 1 / len(gains)))
    return mean.estimate - half, mean.estimate + half
