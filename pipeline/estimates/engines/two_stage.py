"""Random-effects meta-analysis of site-year gains: the second road to the headline.

Gains and variances are arrays of one entry per site-year, in the unit of the gains and its
square; every variance is above zero (three_methods.known_errors sees to it). Where site-years
share an error, `independent` turns them into values without one, whose mean each value holds
`loads` times; every function takes such values as it takes gains (loads of 1).

REML by own iteration (statsmodels has none); the weighted and plain means from statsmodels,
DerSimonian-Laird and Paule-Mandel by own code, which alone takes loads. Intervals after
Knapp and Hartung 2003 (Statistics in Medicine 22:2693-2710) with the factor not below
1, t with k - 1 df.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from scipy import stats
from scipy.optimize import brentq, minimize_scalar
from scipy.special import stdtrit
from scipy.stats import qmc
from statsmodels.regression.linear_model import WLS
from statsmodels.stats.weightstats import DescrStatsW

from pipeline.estimates.engines.crossed_units import solved_at, units_of

LEAST_VARIANCE = 1e-30  # of the gains' own: keeps the cubes of weights finite
LEAST_SHARED = 1e-6  # of the smallest variance: covariances that are estimated need not fit together
MOST_STEPS = 1000
FIDUCIAL_DRAWS = 2**13
MOST_AT_ONCE = 2**22  # draws times gains, 32 MB
FIDUCIAL_SEED = 20240600


@dataclass(frozen=True)
class Mean:
    """An average gain with its t interval's parts. Unit of the gains."""

    estimate: float
    std_error: float
    df: float

    def half_width(self, conf_level: float) -> float:
        quantile = stdtrit(self.df, (1 + conf_level) / 2)  # what stats.t.ppf comes to, after fifty times as long
        return float(quantile * self.std_error)


@dataclass(frozen=True)
class SharedError:
    """What the errors of gains have in common: covariances (n x n, the diagonal not counted) and the df they rest
    on.
    """

    covariance: np.ndarray
    df: float

    def of_means(self, groups: np.ndarray) -> SharedError:
        """The same for means: groups (means x n) has the weights of the gains in each mean."""
        return SharedError(groups @ self.covariance @ groups.T, self.df)

    def between(self) -> float:
        """The mean covariance of two different gains, not below zero."""
        n = len(self.covariance)
        return max(0.0, float(self.covariance.sum() - np.trace(self.covariance)) / (n * (n - 1)))


@dataclass(frozen=True)
class Heterogeneity:
    """Q on k - 1 df; I2 = max(0, (Q - df) / Q) in % (Higgins and Thompson 2002, Statistics in Medicine
    21:1539-1558).
    """

    q_stat: float
    df: int
    p_value: float
    i2_pct: float


def independent(
    gains: np.ndarray, variances: np.ndarray, shared: SharedError | None
) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """(values, loads, variances) whose errors are independent, along the principal directions of the errors'
    covariance.

    Spread between site-years, the same in every direction, keeps its variance. Without a shared error nothing changes.
    """
    if shared is None:
        return gains, np.ones(len(gains)), variances
    off_diagonal = shared.covariance - np.diag(np.diag(shared.covariance))
    sizes, directions = np.linalg.eigh(np.diag(variances) + off_diagonal)
    return directions.T @ gains, directions.sum(axis=0), np.maximum(sizes, LEAST_SHARED * variances.min())


def tau2_reml(gains: np.ndarray, variances: np.ndarray, loads: np.ndarray | float = 1.0) -> float:
    """Between-site-year variance by REML (Fisher scoring, kept at or above zero).

    Where one site-year outweighs all others by more than doubles can hold, no step can be told and the last value
    stands.
    """
    start = max(0.0, np.var(gains, ddof=1) - np.mean(variances))
    scale = np.var(gains, ddof=1) + np.mean(variances)
    variances = np.maximum(variances, LEAST_VARIANCE * scale)

    def scored(tau2: float) -> tuple[float, float]:
        w = 1 / (variances + tau2)
        of_mean = w * loads**2  # what each value adds to the precision of the mean
        total, square = of_mean.sum(), np.sum(w * of_mean)
        deviation = gains - loads * (np.sum(w * loads * gains) / total)
        score = np.sum(w**2 * deviation**2) - (w.sum() - square / total)
        return score, np.sum(w**2) - 2 * np.sum(w**2 * of_mean) / total + (square / total) ** 2

    return scoring(scored, start, scale)


def scoring(scored: Callable[[float], tuple[float, float]], start: float, scale: float) -> float:
    """Fisher scoring of a variance kept at or above zero; scored: its score and information. scale: what rounding is
    measured by.

    Where variances are very unequal the steps can go back and forth without end; the score is then zero between two of
    them.
    """
    value, before, crossing = start, np.inf, None
    for _ in range(MOST_STEPS):
        score, information = scored(value)
        if not information > 0:
            break
        if score < 0 and before < value:
            crossing = (before, value)
        new = max(0.0, value + score / information)
        if abs(new - value) < 1e-12 * scale:
            return float(new)
        before, value = value, new
    return float(brentq(lambda at: scored(at)[0], *crossing, xtol=1e-12 * scale)) if crossing else float(value)


def tau2_dersimonian_laird(gains: np.ndarray, variances: np.ndarray, loads: np.ndarray | float = 1.0) -> float:
    """Moment estimate, not below zero (DerSimonian and Laird 1986, Controlled Clinical Trials 7:177-188)."""
    w = 1 / variances
    spare = w.sum() - np.sum((w * loads) ** 2) / np.sum(w * loads**2)
    q = heterogeneity(gains, variances, loads).q_stat
    return max(0.0, float((q - (len(gains) - 1)) / spare))


def tau2_paule_mandel(gains: np.ndarray, variances: np.ndarray, loads: np.ndarray | float = 1.0) -> float:
    """Where the generalised Q equals its df, not below zero (Paule and Mandel 1982, J. Res. NBS 87:377-385).

    Own iteration: statsmodels' one stops short at variances far from 1.
    """
    return float(_tau2_where_q_is(np.array([len(gains) - 1.0]), gains, variances, loads)[0])


def random_effects_mean(
    gains: np.ndarray,
    variances: np.ndarray,
    tau2: float,
    loads: np.ndarray | float = 1.0,
    *,
    least_factor: float = 1.0,
) -> Mean:
    """Weighted mean with the Knapp-Hartung standard error, t(k - 1).

    least_factor keeps the factor on the variance from falling below 1; 0 gives the
    unmodified method.
    """
    fit = WLS(gains, np.ones(len(gains)) * loads, weights=1 / (variances + tau2)).fit()
    # its residual scale is Knapp and Hartung's factor
    factor = max(least_factor, float(fit.scale))
    return Mean(float(fit.params[0]), float(np.sqrt(factor * fit.normalized_cov_params[0, 0])), len(gains) - 1)


def plain_mean(gains: np.ndarray, shared: SharedError | None = None) -> Mean:
    """Unweighted mean of site-years, t(k - 1).

    What gains share does not show in their spread: with a mean covariance c its expectation is short by c, and the
    variance of the mean is spread / k + c. df then by Satterthwaite (1946, Biometrics Bulletin 2:110-114), k - 1 at
    most.
    """
    described = DescrStatsW(np.asarray(gains, float))
    mean = Mean(float(described.mean), float(described.std_mean), len(gains) - 1)
    c = shared.between() if shared and len(gains) > 1 else 0.0
    if c == 0:
        return mean
    of_spread = mean.std_error**2
    df = (of_spread + c) ** 2 / (of_spread**2 / mean.df + c**2 / shared.df)
    return Mean(mean.estimate, float(np.sqrt(of_spread + c)), float(min(df, mean.df)))


def season_means(
    gains: np.ndarray, seasons: np.ndarray, weights: np.ndarray | None = None, shared: SharedError | None = None
) -> Mean:
    """Mean of the season means, t(J - 1): seasons, not site-years, are what was sampled."""
    weights = np.ones(len(gains)) if weights is None else weights
    groups = (np.unique(seasons)[:, None] == np.asarray(seasons)[None, :]) * weights
    groups = groups / groups.sum(axis=1, keepdims=True)
    return plain_mean(groups @ gains, shared.of_means(groups) if shared else None)


def mean_with_shared_spread(
    gains: np.ndarray, variances: np.ndarray, groupings: list[np.ndarray], share: float
) -> Mean:
    """Mean where each grouping is assumed to carry this share of tau2: a what-if, t(k - 1), factor not below 1.

    Only tau2 is estimated (REML); two seasons cannot say how much of it goes with the season.
    """
    groups = {"site_year": np.arange(len(gains))} | dict(enumerate(groupings))
    units = units_of(gains, 1 / variances, groups)
    shares = np.array([1 - share * len(groupings), *[share] * len(groupings)])

    def parts(tau2: float) -> tuple[float, Mean]:
        at = solved_at(units, np.array([*(tau2 * shares), 1.0]))
        q = float(at.residual @ (units.mean - at.estimate))
        factor = max(1.0, q / (len(gains) - 1))
        mean = Mean(at.estimate, float(np.sqrt(factor * at.variance)), len(gains) - 1)
        return at.log_determinant - float(np.log(at.variance)) + q, mean

    most = 10 * float(np.var(gains, ddof=1)) + 1e-300
    found = minimize_scalar(lambda tau2: parts(tau2)[0], bounds=(0, most), method="bounded")
    return parts(found.x)[1]


def heterogeneity(gains: np.ndarray, variances: np.ndarray, loads: np.ndarray | float = 1.0) -> Heterogeneity:
    """Cochran's Q and I2 of the site-year gains."""
    w = 1 / variances
    q = float(np.sum(w * (gains - loads * np.sum(w * loads * gains) / np.sum(w * loads**2)) ** 2))
    df = len(gains) - 1
    return Heterogeneity(q, df, float(stats.chi2.sf(q, df)), 100 * max(0.0, (q - df) / q) if q > 0 else 0.0)


def prediction_interval_t(
    mean: float, std_error: float, tau2: float, df: float, conf_level: float
) -> tuple[float, float]:
    """mean -+ t(df) sqrt(tau2 + SE2); df = k - 2 is Higgins, Thompson and Spiegelhalter 2009, JRSS A 172:137-159."""
    half = float(stats.t.ppf((1 + conf_level) / 2, df) * np.sqrt(tau2 + std_error**2))
    return mean - half, mean + half


def prediction_interval_fiducial(
    gains: np.ndarray, variances: np.ndarray, conf_level: float, loads: np.ndarray | float = 1.0
) -> tuple[float, float]:
    """Interval for a new site-year's true gain from the confidence distribution of tau2.

    After Nagashima, Noma and Furukawa 2019 (Statistical Methods in Medical Research
    28:1689-1702), but from the generalized Q, which is chi-square at the true tau2, where
    theirs is from the exact distribution of Cochran's Q; with draws from a scrambled Sobol
    sequence of fixed seed, so that the same gains always give the same interval.
    """
    k = len(gains)
    uniform = qmc.Sobol(d=3, seed=FIDUCIAL_SEED).random(FIDUCIAL_DRAWS)
    targets = stats.chi2.ppf(uniform[:, 0], k - 1)
    at_once = max(1, MOST_AT_ONCE // k)
    batches = [_drawn(targets[n : n + at_once], gains, variances, loads) for n in range(0, len(targets), at_once)]
    tau2, precision, factor = (np.concatenate(of_batches) for of_batches in zip(*batches, strict=True))
    centre = random_effects_mean(gains, variances, tau2_paule_mandel(gains, variances, loads), loads).estimate
    new = (
        centre
        + np.sqrt(tau2) * stats.norm.ppf(uniform[:, 1])
        - stats.t.ppf(uniform[:, 2], k - 1) * np.sqrt(factor / precision)
    )
    tail = (1 - conf_level) / 2
    low, high = np.quantile(new, [tail, 1 - tail])
    return float(low), float(high)


def _drawn(
    targets: np.ndarray, gains: np.ndarray, variances: np.ndarray, loads: np.ndarray | float
) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Of each target tau2, the precision of the mean at it, and Knapp and Hartung's factor."""
    tau2 = _tau2_where_q_is(targets, gains, variances, loads)
    w = 1 / (tau2[:, None] + variances)
    precision = np.sum(w * loads**2, axis=1)
    means = (w @ (loads * gains)) / precision
    return tau2, precision, np.sum(w * (gains - means[:, None] * loads) ** 2, axis=1) / (len(gains) - 1)


def _tau2_where_q_is(
    targets: np.ndarray, gains: np.ndarray, variances: np.ndarray, loads: np.ndarray | float
) -> np.ndarray:
    """For each target the tau2 at which the generalised Q equals it; 0 where none does (Newton)."""
    tau2 = np.zeros(len(targets))
    scale = np.var(gains, ddof=1) + np.mean(variances)
    for _ in range(100):
        w = 1 / (tau2[:, None] + variances)
        means = (w @ (loads * gains)) / np.sum(w * loads**2, axis=1)
        squares = (gains - means[:, None] * loads) ** 2
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
