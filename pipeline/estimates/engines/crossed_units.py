"""A model with crossed random intercepts, reduced to what its restricted likelihood needs, and solved at given
variances.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd
from scipy import linalg


@dataclass(frozen=True)
class Units:
    """Rows alike in every random term as one weighted mean: with the spread within, all that the likelihood needs.

    own: the term (if any) with one level per unit. shared: the others; column: level of each
    unit in each of them (units x shared), numbered on from one term to the next. of_row: unit of each row.
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
    of_row: np.ndarray


@dataclass(frozen=True)
class Solved:
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


def units_of(gains: np.ndarray, weights: np.ndarray, groups: dict[str, np.ndarray]) -> Units:
    """gains and weights: one entry per row; groups: random term -> level of each row."""
    codes = {term: pd.factorize(labels)[0] for term, labels in groups.items()}
    levels, unit = np.unique(np.column_stack(list(codes.values())), axis=0, return_inverse=True)
    unit = unit.ravel()
    weight = np.bincount(unit, weights)
    mean = np.bincount(unit, weights * gains) / weight
    own = [term for number, term in enumerate(codes) if len(np.unique(levels[:, number])) == len(levels)][:1]
    shared = [number for number, term in enumerate(codes) if term not in own]
    sizes = [int(levels[:, number].max()) + 1 for number in shared]
    starts = np.cumsum([0, *sizes])[:-1].astype(int)
    return Units(
        mean=mean,
        weight=weight,
        within_ss=float(np.sum(weights * (gains - mean[unit]) ** 2)),
        within_df=len(gains) - len(levels),
        terms=tuple(codes),
        own=own[0] if own else None,
        shared=tuple(list(codes)[number] for number in shared),
        column=levels[:, shared] + starts,
        term_of_column=np.repeat(np.array(shared, int), sizes),
        of_row=unit,
    )


def solved_at(units: Units, variances: np.ndarray) -> Solved:
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
    return Solved(diagonal, half, ones, residual, between, between @ inverse, estimate, variance, log_determinant)


def _between(units: Units, values: np.ndarray) -> np.ndarray:
    """Sum of the units' values for every two shared levels that meet in a unit."""
    q = len(units.term_of_column)
    found = np.zeros(q * q)
    for one in units.column.T:
        for other in units.column.T:
            found += np.bincount(one * q + other, values, minlength=q * q)
    return found.reshape(q, q)


def by_level(units: Units, values: np.ndarray) -> np.ndarray:
    """Sum of the units' values in each shared level, in the order of term_of_column."""
    found = np.zeros(len(units.term_of_column))
    for levels in units.column.T:
        found += np.bincount(levels, values, minlength=len(found))
    return found
