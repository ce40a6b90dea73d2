"""Satterthwaite's df of the mean in a model with crossed random intercepts, with exact derivatives.

df = 2 (variance of the mean)^2 / (g' C g), g its derivatives by the variances and C their sampling covariance, twice
the inverse of the deviance's curvature: as observed in the gains (Giesbrecht and Burns 1985, Biometrics 41:477-486), or
as expected of a layout before there are gains. Variances at their boundary are left out.
"""

from __future__ import annotations

import numpy as np

from pipeline.estimates.engines.crossed_units import Solved, Units, one_entry_each, times_nested
from pipeline.estimates.engines.mixed import SINGULAR_RELATIVE_SD


def observed_df(units: Units, variances: np.ndarray, at: Solved) -> float:
    """df by the curvature at these gains.

    With V = sum of variance x F F', and P = V^-1 less the mean's part, the curvature for each two F is
    2 y' P F F' P F F' P y - |F' P F|^2.
    """
    factors, low_rank = _factors(units, variances, at)
    curvature = -_squared_norms(factors, at)
    for row, one in enumerate(factors):
        for column, other in enumerate(factors):
            through = one.projected @ times_nested(at.diagonal, at.within, other.projected)
            through -= (low_rank.T @ one.projected) @ (low_rank.T @ other.projected)
            curvature[row, column] += 2 * through
    s2 = variances[-1]
    curvature[-1, -1] += 2 * units.within_ss / s2**3 - units.within_df / s2**2
    return _df(curvature, factors, at)


def expected_df(units: Units, variances: np.ndarray, at: Solved) -> float:
    """df by the curvature expected at these variances: |F' P F|^2 for each two F; no gain enters."""
    factors, _ = _factors(units, variances, at)
    curvature = _squared_norms(factors, at)
    curvature[-1, -1] += units.within_df / variances[-1] ** 2
    return _df(curvature, factors, at)


def _df(curvature: np.ndarray, factors: list[_Factor], at: Solved) -> float:
    gradient = at.variance**2 * np.array([np.sum(one.of_ones**2) for one in factors])
    spread = float(gradient @ np.linalg.lstsq(curvature, gradient, rcond=None)[0])
    return at.variance**2 / spread if spread > 0 else np.nan


def _factors(units: Units, variances: np.ndarray, at: Solved) -> tuple[list[_Factor], np.ndarray]:
    """The F of each variance above its boundary, and the low rank of P = T - low_rank low_rank'."""
    free = [n for n, variance in enumerate(variances) if variance > SINGULAR_RELATIVE_SD**2 * variances[-1]]
    low_rank = np.column_stack([at.half, np.sqrt(at.variance) * at.ones])
    return [_Factor(units, n, low_rank, at) for n in free], low_rank


def _squared_norms(factors: list[_Factor], at: Solved) -> np.ndarray:
    found = np.zeros((len(factors), len(factors)))
    for row, one in enumerate(factors):
        for column in range(row + 1):
            found[row, column] = found[column, row] = _squared_norm(one, factors[column], at)
    return found


class _Factor:
    """F of one variance, so that its part of V is variance x F F': one entry per unit, in the column of its level."""

    def __init__(self, units: Units, number: int, low_rank: np.ndarray, at: Solved) -> None:
        n = len(units.mean)
        term = units.terms[number] if number < len(units.terms) else None
        self.is_shared = term in units.shared
        self.entry = np.ones(n) if term else units.weight**-0.5
        if self.is_shared:
            levels = units.column[:, units.shared.index(term)]
        else:
            levels = units.level[units.nested.index(term)] if term in units.nested else np.arange(n)
        self.level = levels - levels.min()
        self.n_levels = int(self.level.max()) + 1
        self.of_ones = np.bincount(self.level, self.entry * at.ones)
        self.projected = self.entry * np.bincount(self.level, self.entry * at.residual)[self.level]  # F F' P y
        self.low_rank = np.zeros((self.n_levels, low_rank.shape[1]))
        np.add.at(self.low_rank, self.level, self.entry[:, None] * low_rank)


def _squared_norm(one: _Factor, other: _Factor, at: Solved) -> float:
    """|F' P F|^2. Where a factor has a level for each unit, no large matrix is needed."""
    if at.within is not None:
        return _squared_norm_within(one, other, at)
    meeting = one.entry * other.entry / at.diagonal
    if one.is_shared and other.is_shared:
        block = np.bincount(one.level * other.n_levels + other.level, meeting, minlength=one.n_levels * other.n_levels)
        return float(np.sum((block.reshape(one.n_levels, -1) - one.low_rank @ other.low_rank.T) ** 2))
    crossed = np.sum(one.low_rank[one.level] * other.low_rank[other.level], axis=1)
    squares = np.sum((one.low_rank.T @ one.low_rank) * (other.low_rank.T @ other.low_rank))
    return float(np.sum(meeting**2) - 2 * np.sum(meeting * crossed) + squares)


def _squared_norm_within(one: _Factor, other: _Factor, at: Solved) -> float:
    """The same with nested terms: F' T F has entries only where two levels lie within one, or is a shared term's."""
    f, g = (one_entry_each(factor.level[None], factor.entry[None]) for factor in (one, other))
    meeting = (f.multiply(1 / at.diagonal[:, None])).T @ g - (f.T @ at.within) @ (g.T @ at.within).T
    if one.is_shared or other.is_shared:
        return float(np.sum((meeting.toarray() - one.low_rank @ other.low_rank.T) ** 2))
    squares = np.sum((one.low_rank.T @ one.low_rank) * (other.low_rank.T @ other.low_rank))
    crossed = np.sum(one.low_rank * (meeting @ other.low_rank))
    return float(np.sum(meeting.data**2) - 2 * crossed + squares)
