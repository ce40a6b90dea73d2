"""The headline's mixed model by other code: the restricted likelihood maximised directly, without R.

A third road to the headline, and the engine of the many refits with something left
out. Patterson and Thompson 1971, Biometrika 58:545-554; df of the mean after
Giesbrecht and Burns 1985, Biometrics 41:477-486, with exact derivatives.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd
from scipy import linalg
from scipy.optimize import minimize

from pipeline.estimates import one_stage
from pipeline.estimates.mixed import SINGULAR_RELATIVE_SD

RESIDUAL = "residual"
LEAST_RESIDUAL_SHARE = 1e-9  # of the variance of the gains: keeps the likelihood finite


@dataclass(frozen=True)
class RemlMean:
    """A fitted mean. variances: term -> variance, (value unit)^2; df by Satterthwaite, not capped."""

    estimate: float
    std_error: float
    df: float
    variances: dict[str, float]
    most_df: int

    def is_zero(self, term: str) -> bool:
        """Whether a variance is at its boundary, by the tolerance of the headline's own fit."""
        return self.variances[term] <= SINGULAR_RELATIVE_SD**2 * self.variances[RESIDUAL]

    @property
    def has_no_spread(self) -> bool:
        return all(self.is_zero(term) for term in self.variances if term != RESIDUAL)


@dataclass(frozen=True)
class _Units:
    """Rows alike in every random term as one weighted mean: with the spread within, all that the likelihood needs.

    own: the term (if any) with one level per unit. shared: the others; column: level of each
    unit in each of them (units x shared), numbered on from one term to the next.
    """

    mean: np.ndarray
    weight: np.ndarray
    within_ss: float
    within_df: int
    terms: tuple[str, ...]
    own: str | None
    shared: tuple[str, ...]
    column: np.ndarray
    term_of_column: np.ndarray


@dataclass(frozen=True)
class _Solved:
    """At given variances V^-1 = 1 / diagonal - half half'; what the likelihood and its derivatives share.

    ones and residual: V^-1 times 1 and times the deviations from the mean. between: Z' D^-1 Z of the
    shared levels; across: Z' half.
    """

    diagonal: np.ndarray
    half: np.ndarray
    ones: np.ndarray
    residual: np.ndarray
    between: np.ndarray
    across: np.ndarray
    estimate: float
    variance: float
    log_determinant: float


def fit_gains(blocks: pd.DataFrame, target: str, *, weighted: bool = True) -> RemlMean | None:
    """The same model and rows as one_stage.fit_gains, without classes; or with all rows weighted alike.

    None where no random intercept is left or gains do not scatter.
    """
    terms = one_stage.terms_for(blocks, target)
    if not terms or one_stage.has_no_scatter(blocks, terms):
        return None
    weights = one_stage.block_weights(blocks, terms)[0] if weighted else np.ones(len(blocks))
    groups = {term: blocks[term].to_numpy() for term in terms}
    return fit(blocks["gain"].to_numpy(float), weights, groups, n_site_years=blocks["site_year_id"].nunique())


def fit(gains: np.ndarray, weights: np.ndarray, groups: dict[str, np.ndarray], *, n_site_years: int) -> RemlMean:
    """Mean of gains with a random intercept per level of each group; residual variance of a row is sigma^2 / weight."""
    units = _units(gains, weights, groups)
    scale = float(np.var(gains)) or 1.0
    # Started at equal shares: at zero the search could stay at a corner that is no maximum.
    start = np.full(len(units.terms) + 1, 1 / (len(units.terms) + 1))
    found = minimize(
        lambda shares: _deviance(units, shares * scale, scale),
        start,
        jac=True,
        method="L-BFGS-B",
        bounds=[(0, None)] * len(units.terms) + [(LEAST_RESIDUAL_SHARE, None)],
        options={"ftol": 1e-14, "gtol": 1e-7, "maxiter": 500},
    )
    variances = found.x * scale
    solved = _solve(units, variances)
    named = dict(zip((*units.terms, RESIDUAL), (float(v) for v in variances), strict=True))
    df = _satterthwaite_df(units, variances, solved)
    return RemlMean(solved.estimate, float(np.sqrt(solved.variance)), df, named, n_site_years - 1)


def _units(gains: np.ndarray, weights: np.ndarray, groups: dict[str, np.ndarray]) -> _Units:
    codes = {term: pd.factorize(labels)[0] for term, labels in groups.items()}
    levels, unit = np.unique(np.column_stack(list(codes.values())), axis=0, return_inverse=True)
    unit = unit.ravel()
    weight = np.bincount(unit, weights)
    mean = np.bincount(unit, weights * gains) / weight
    own = [term for number, term in enumerate(codes) if len(np.unique(levels[:, number])) == len(levels)][:1]
    shared = [number for number, term in enumerate(codes) if term not in own]
    sizes = [int(levels[:, number].max()) + 1 for number in shared]
    starts = np.cumsum([0, *sizes])[:-1].astype(int)
    return _Units(
        mean=mean,
        weight=weight,
        within_ss=float(np.sum(weights * (gains - mean[unit]) ** 2)),
        within_df=len(gains) - len(levels),
        terms=tuple(codes),
        own=own[0] if own else None,
        shared=tuple(list(codes)[number] for number in shared),
        column=levels[:, shared] + starts,
        term_of_column=np.repeat(np.array(shared, int), sizes),
    )


def _solve(units: _Units, variances: np.ndarray) -> _Solved:
    """V = diagonal + shared terms; inverted through the smaller matrix of the shared levels."""
    diagonal = variances[-1] / units.weight
    if units.own:
        diagonal = diagonal + variances[units.terms.index(units.own)]
    scale = np.sqrt(variances[units.term_of_column])
    between = _between(units, 1 / diagonal)
    root = linalg.cholesky(np.eye(len(scale)) + between * np.outer(scale, scale), lower=True, check_finite=False)
    inverse = scale[:, None] * linalg.solve_triangular(root, np.eye(len(scale)), lower=True, check_finite=False).T
    half = inverse[units.column].sum(axis=1) / diagonal[:, None]
    ones = 1 / diagonal - half @ half.sum(axis=0)
    variance = float(1 / ones.sum())
    estimate = float(ones @ units.mean) * variance
    deviation = units.mean - estimate
    residual = deviation / diagonal - half @ (half.T @ deviation)
    log_determinant = float(np.sum(np.log(diagonal)) + 2 * np.sum(np.log(np.diag(root))))
    return _Solved(diagonal, half, ones, residual, between, between @ inverse, estimate, variance, log_determinant)


def _between(units: _Units, values: np.ndarray) -> np.ndarray:
    """Sum of the units' values for every two shared levels that meet in a unit."""
    q = len(units.term_of_column)
    found = np.zeros(q * q)
    for one in units.column.T:
        for other in units.column.T:
            found += np.bincount(one * q + other, values, minlength=q * q)
    return found.reshape(q, q)


def _by_level(units: _Units, values: np.ndarray) -> np.ndarray:
    """Sum of the units' values in each shared level."""
    found = np.zeros(len(units.term_of_column))
    for levels in units.column.T:
        found += np.bincount(levels, values, minlength=len(found))
    return found


def _deviance(units: _Units, variances: np.ndarray, scale: float) -> tuple[float, np.ndarray]:
    """-2 restricted log-likelihood up to a constant, and its gradient per scaled variance."""
    at = _solve(units, variances)
    value = (
        at.log_determinant
        - np.log(at.variance)
        + float(at.residual @ (units.mean - at.estimate))
        + units.within_df * np.log(variances[-1])
        + units.within_ss / variances[-1]
    )
    # of each unit, and of each shared level: trace of P less the square of P y
    of_unit = 1 / at.diagonal - np.sum(at.half**2, axis=1) - at.variance * at.ones**2 - at.residual**2
    of_level = np.diag(at.between) - np.sum(at.across**2, axis=1)
    of_level = of_level - at.variance * _by_level(units, at.ones) ** 2 - _by_level(units, at.residual) ** 2
    gradient = np.bincount(units.term_of_column, of_level, minlength=len(variances)).astype(float)
    if units.own:
        gradient[units.terms.index(units.own)] = of_unit.sum()
    gradient[-1] = np.sum(of_unit / units.weight) + units.within_df / variances[-1]
    gradient[-1] -= units.within_ss / variances[-1] ** 2
    return value, gradient * scale


def _satterthwaite_df(units: _Units, variances: np.ndarray, at: _Solved) -> float:
    """2 (variance of the mean)^2 over the sampling variance of that variance; boundary variances are left out.

    The curvature of the deviance is exact: with V = sum of variance x F F', and P = V^-1 less the mean's part,
    2 y' P F F' P F F' P y - |F' P F|^2 for each two F.
    """
    free = [n for n, variance in enumerate(variances) if variance > SINGULAR_RELATIVE_SD**2 * variances[-1]]
    low_rank = np.column_stack([at.half, np.sqrt(at.variance) * at.ones])  # P = 1 / diagonal - low_rank low_rank'
    factors = [_Factor(units, n, low_rank, at) for n in free]
    curvature = np.zeros((len(free), len(free)))
    for row, one in enumerate(factors):
        for column, other in enumerate(factors):
            through = one.projected @ (other.projected / at.diagonal)
            through -= (low_rank.T @ one.projected) @ (low_rank.T @ other.projected)
            curvature[row, column] = 2 * through - _squared_norm(one, other, at)
    s2 = variances[-1]
    curvature[-1, -1] += 2 * units.within_ss / s2**3 - units.within_df / s2**2
    gradient = at.variance**2 * np.array([np.sum(one.of_ones**2) for one in factors])
    spread = float(gradient @ np.linalg.lstsq(curvature, gradient, rcond=None)[0])
    return at.variance**2 / spread if spread > 0 else np.nan


class _Factor:
    """F of one variance, so that its part of V is variance x F F': one entry per unit, in the column of its level."""

    def __init__(self, units: _Units, number: int, low_rank: np.ndarray, at: _Solved) -> None:
        n = len(units.mean)
        is_residual = number == len(units.terms)
        self.is_shared = not is_residual and units.terms[number] in units.shared
        self.entry = units.weight**-0.5 if is_residual else np.ones(n)
        levels = units.column[:, units.shared.index(units.terms[number])] if self.is_shared else np.arange(n)
        self.level = levels - levels.min()
        self.n_levels = int(self.level.max()) + 1
        self.of_ones = np.bincount(self.level, self.entry * at.ones)
        self.projected = self.entry * np.bincount(self.level, self.entry * at.residual)[self.level]  # F F' P y
        self.low_rank = np.zeros((self.n_levels, low_rank.shape[1]))
        np.add.at(self.low_rank, self.level, self.entry[:, None] * low_rank)


def _squared_norm(one: _Factor, other: _Factor, at: _Solved) -> float:
    """|F' P F|^2. Where a factor has a level for each unit, no large matrix is needed."""
    meeting = one.entry * other.entry / at.diagonal
    if one.is_shared and other.is_shared:
        block = np.bincount(one.level * other.n_levels + other.level, meeting, minlength=one.n_levels * other.n_levels)
        return float(np.sum((block.reshape(one.n_levels, -1) - one.low_rank @ other.low_rank.T) ** 2))
    crossed = np.sum(one.low_rank[one.level] * other.low_rank[other.level], axis=1)
    squares = np.sum((one.low_rank.T @ one.low_rank) * (other.low_rank.T @ other.low_rank))
    return float(np.sum(meeting**2) - 2 * np.sum(meeting * crossed) + squares)
