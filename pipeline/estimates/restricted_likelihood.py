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

    own: the term (if any) with one level per unit. shared: 0/1 columns of the others, and each column's term.
    """

    mean: np.ndarray
    weight: np.ndarray
    within_ss: float
    within_df: int
    own: str | None
    shared: np.ndarray
    term_of_column: np.ndarray
    terms: tuple[str, ...]


@dataclass(frozen=True)
class _Solved:
    """What the likelihood and its derivatives share at given variances: P = V^-1 less its mean's part."""

    diagonal: np.ndarray
    half: np.ndarray
    ones: np.ndarray
    residual: np.ndarray
    estimate: float
    variance: float
    log_determinant: float


def fit_gains(blocks: pd.DataFrame, target: str, *, weighted: bool = True) -> RemlMean | None:
    """The same model and rows as one_stage.fit_gains, without classes; or with all rows weighted alike.

    None where no random intercept is left.
    """
    terms = one_stage.terms_for(blocks, target)
    if not terms:
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
    own = [term for number, term in enumerate(codes) if len(np.unique(levels[:, number])) == len(levels)]
    shared = [number for number, term in enumerate(codes) if term not in own[:1]]
    columns = [np.eye(levels[:, number].max() + 1)[levels[:, number]] for number in shared]
    return _Units(
        mean=mean,
        weight=weight,
        within_ss=float(np.sum(weights * (gains - mean[unit]) ** 2)),
        within_df=len(gains) - len(levels),
        own=own[0] if own else None,
        shared=np.hstack(columns) if columns else np.zeros((len(levels), 0)),
        term_of_column=np.repeat(shared, [column.shape[1] for column in columns]).astype(int),
        terms=tuple(codes),
    )


def _solve(units: _Units, variances: np.ndarray) -> _Solved:
    """V = diagonal + shared terms; inverted through the smaller matrix of the shared levels."""
    diagonal = variances[-1] / units.weight
    if units.own:
        diagonal = diagonal + variances[units.terms.index(units.own)]
    shared = units.shared * np.sqrt(variances[units.term_of_column])
    small = np.eye(shared.shape[1]) + shared.T @ (shared / diagonal[:, None])
    root = linalg.cholesky(small, lower=True)
    half = linalg.solve_triangular(root, (shared / diagonal[:, None]).T, lower=True).T
    ones = 1 / diagonal - half @ half.sum(axis=0)
    variance = float(1 / ones.sum())
    estimate = float(ones @ units.mean) * variance
    deviation = units.mean - estimate
    residual = deviation / diagonal - half @ (half.T @ deviation)
    log_determinant = float(np.sum(np.log(diagonal)) + 2 * np.sum(np.log(np.diag(root))))
    return _Solved(diagonal, half, ones, residual, estimate, variance, log_determinant)


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
    across = units.shared.T @ at.half
    inverse = np.sum(units.shared / at.diagonal[:, None], axis=0) - np.sum(across**2, axis=1)
    of_level = inverse - at.variance * (units.shared.T @ at.ones) ** 2 - (units.shared.T @ at.residual) ** 2
    gradient = np.bincount(units.term_of_column, of_level, minlength=len(variances)).astype(float)
    if units.own:
        gradient[units.terms.index(units.own)] = of_unit.sum()
    gradient[-1] = np.sum(of_unit / units.weight) + units.within_df / variances[-1]
    gradient[-1] -= units.within_ss / variances[-1] ** 2
    return value, gradient * scale


def _satterthwaite_df(units: _Units, variances: np.ndarray, at: _Solved) -> float:
    """2 (variance of the mean)^2 over the sampling variance of that variance; boundary variances are left out."""
    p = -at.half @ at.half.T - at.variance * np.outer(at.ones, at.ones)
    p[np.diag_indices_from(p)] += 1 / at.diagonal
    factors = [_factor(units, term) for term in units.terms] + [units.weight**-0.5]
    free = [n for n, variance in enumerate(variances) if variance > SINGULAR_RELATIVE_SD**2 * variances[-1]]
    curvature = np.zeros((len(free), len(free)))
    for row, j in enumerate(free):
        left, seen = _times(factors[j], p), _times(factors[j], at.residual)
        for column, k in enumerate(free):
            between = _times(factors[k], left.T).T
            through = seen @ between @ _times(factors[k], at.residual)
            curvature[row, column] = 2 * through - np.sum(between**2)
    s2 = variances[-1]
    curvature[-1, -1] += 2 * units.within_ss / s2**3 - units.within_df / s2**2
    gradient = at.variance**2 * np.array([np.sum(_times(factors[j], at.ones) ** 2) for j in free])
    spread = float(gradient @ np.linalg.lstsq(curvature, gradient, rcond=None)[0])
    return at.variance**2 / spread if spread > 0 else np.nan


def _factor(units: _Units, term: str) -> np.ndarray:
    """F of a term, so that its part of V is variance x F F'; of one dimension where F is diagonal."""
    if term == units.own:
        return np.ones(len(units.mean))
    return units.shared[:, units.term_of_column == units.terms.index(term)]


def _times(factor: np.ndarray, right: np.ndarray) -> np.ndarray:
    """F' times a vector or matrix."""
    return factor.T @ right if factor.ndim == 2 else (right.T * factor).T
