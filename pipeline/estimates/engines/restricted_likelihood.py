"""The headline's mixed model by other code: the restricted likelihood maximized directly.

A third road to the headline, and the engine of the many refits with something left
out. Patterson and Thompson 1971, Biometrika 58:545-554.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
import pandas as pd
from scipy.optimize import minimize

from pipeline.estimates.engines import one_stage, satterthwaite
from pipeline.estimates.engines.crossed_units import (
    Solved,
    Units,
    by_level,
    diagonal_of_inverse,
    one_entry_each,
    solved_at,
    units_of,
)
from pipeline.estimates.engines.mixed import SINGULAR_RELATIVE_SD

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
    least_df: float = one_stage.LEAST_DF

    def is_zero(self, term: str) -> bool:
        """Whether a variance is at its boundary, by the tolerance of the headline's own fit."""
        return self.variances[term] <= SINGULAR_RELATIVE_SD**2 * self.variances[RESIDUAL]

    def terms_at_zero(self) -> tuple[str, ...]:
        return tuple(term for term in self.variances if term != RESIDUAL and self.is_zero(term))

    @property
    def has_no_spread(self) -> bool:
        return all(self.is_zero(term) for term in self.variances if term not in (RESIDUAL, *one_stage.OF_ERROR))


def fit_gains(blocks: pd.DataFrame, target: str, *, weighted: bool = True) -> RemlMean | None:
    """The same model and rows as one_stage.fit_gains, without classes; or with all rows weighted alike.

    None where no random intercept is left or gains do not scatter.
    """
    given = model_of(blocks, target, weighted=weighted)
    if given is None:
        return None
    mean = fit(*given, n_site_years=blocks["site_year_id"].nunique())
    return replace(mean, least_df=one_stage.least_df_of_mean(tuple(given[2])))


def model_of(
    blocks: pd.DataFrame, target: str, *, weighted: bool = True
) -> tuple[np.ndarray, np.ndarray, dict[str, np.ndarray]] | None:
    """Gains, weights and groups as fit takes them; None where fit_gains gives none."""
    terms = one_stage.terms_for(blocks, target)
    if not terms or one_stage.has_no_scatter(blocks, terms):
        return None
    weights = one_stage.block_weights(blocks, terms)[0] if weighted else np.ones(len(blocks))
    return blocks["gain"].to_numpy(float), weights, {term: blocks[term].to_numpy() for term in terms}


def fit(gains: np.ndarray, weights: np.ndarray, groups: dict[str, np.ndarray], *, n_site_years: int) -> RemlMean:
    """Mean of gains with a random intercept per level of each group; residual variance of a row is sigma^2 / weight."""
    units = units_of(gains, weights, groups)
    variances = variances_of(units, float(np.var(gains)) or 1.0)
    solved = solved_at(units, variances)
    df = satterthwaite.observed_df(units, variances, solved)
    return _mean(units, variances, solved, df, n_site_years)


def variances_of(units: Units, scale: float) -> np.ndarray:
    """One variance per term and the residual's, where the restricted likelihood is highest; scale: about their size."""
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
    return found.x * scale


def expected(variances: dict[str, float], groups: dict[str, np.ndarray], n_rows: np.ndarray) -> RemlMean:
    """Standard error and df to expect of a layout at these variances, before there are gains; the estimate means
    nothing.

    variances: one per term of groups, and the residual's. groups: level of each site-year, which has so many rows of
    equal weight.
    """
    alike = units_of(np.zeros(len(n_rows)), n_rows.astype(float), groups)
    units = replace(alike, within_df=int(n_rows.sum()) - len(alike.mean))
    at = np.array([variances[term] for term in (*units.terms, RESIDUAL)])
    solved = solved_at(units, at)
    return _mean(units, at, solved, satterthwaite.expected_df(units, at, solved), len(n_rows))


def _mean(units: Units, variances: np.ndarray, solved: Solved, df: float, n_site_years: int) -> RemlMean:
    named = dict(zip((*units.terms, RESIDUAL), (float(v) for v in variances), strict=True))
    return RemlMean(solved.estimate, float(np.sqrt(solved.variance)), df, named, n_site_years - 1)


def _deviance(units: Units, variances: np.ndarray, scale: float) -> tuple[float, np.ndarray]:
    """-2 restricted log-likelihood up to a constant, and its gradient per scaled variance."""
    at = solved_at(units, variances)
    value = (
        at.log_determinant
        - np.log(at.variance)
        + float(at.residual @ (units.mean - at.estimate))
        + units.within_df * np.log(variances[-1])
        + units.within_ss / variances[-1]
    )
    # of each unit, and of each shared level: trace of P less the square of P y
    of_unit = diagonal_of_inverse(at) - at.variance * at.ones**2 - at.residual**2
    of_level = np.diag(at.between) - np.sum(at.across**2, axis=1)
    of_level = of_level - at.variance * by_level(units, at.ones) ** 2 - by_level(units, at.residual) ** 2
    gradient = np.bincount(units.term_of_column, of_level, minlength=len(variances)).astype(float)
    if units.own:
        gradient[units.terms.index(units.own)] = of_unit.sum()
    for term, level in zip(units.nested, units.level, strict=True):
        gradient[units.terms.index(term)] = _of_nested(level, at)
    gradient[-1] = np.sum(of_unit / units.weight) + units.within_df / variances[-1]
    gradient[-1] -= units.within_ss / variances[-1] ** 2
    return value, gradient * scale


def _of_nested(level: np.ndarray, at: Solved) -> float:
    """The same sum of all levels of a nested term."""
    levels = one_entry_each(level[None])
    found = np.sum(1 / at.diagonal) - np.sum((levels.T @ at.within).data ** 2) - np.sum((levels.T @ at.half) ** 2)
    return float(found - at.variance * np.sum((levels.T @ at.ones) ** 2) - np.sum((levels.T @ at.residual) ** 2))
