"""A model with crossed random intercepts, reduced to what its restricted likelihood needs, and solved at given
variances.

A term of few levels has a column for each of them. Of terms with many levels, those that lie within one another are
solved level by level, which costs time and memory in a straight line with the units.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd
from scipy import linalg, sparse

MOST_COLUMNS = 64  # of a term: with more levels than this it is solved level by level


@dataclass(frozen=True)
class Units:
    """Rows alike in every random term as one weighted mean: with the spread within, all that the likelihood needs.

    own: the term (if any) with one level per unit. nested: terms of many levels, each level within one of the next
    term; level: of each unit in each of them. shared: the others; column: level of each unit in each of them (units x
    shared), numbered on from one term to the next. of_row: unit of each row.
    """

    mean: np.ndarray
    weight: np.ndarray
    within_ss: float
    within_df: int
    terms: tuple[str, ...]
    own: str | None
    nested: tuple[str, ...]
    level: tuple[np.ndarray, ...]
    shared: tuple[str, ...]
    column: np.ndarray
    term_of_column: np.ndarray
    of_row: np.ndarray


@dataclass(frozen=True)
class Solved:
    """At given variances V^-1 = T - half half', where T = 1 / diagonal - within within' has no terms but the nested.
    What the likelihood and its derivatives share.

    within: an entry per unit and nested term, in the column of its level; None without such terms. ones and residual:
    V^-1 times 1 and times the deviations from the mean. between: Z' T Z of the shared levels; across: Z' half.
    """

    diagonal: np.ndarray
    within: sparse.csr_array | None
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
    nested = _nested(levels, [number for number, term in enumerate(codes) if term not in own])
    shared = [number for number, term in enumerate(codes) if term not in own and number not in nested]
    sizes = [int(levels[:, number].max()) + 1 for number in shared]
    starts = np.cumsum([0, *sizes])[:-1].astype(int)
    return Units(
        mean=mean,
        weight=weight,
        within_ss=float(np.sum(weights * (gains - mean[unit]) ** 2)),
        within_df=len(gains) - len(levels),
        terms=tuple(codes),
        own=own[0] if own else None,
        nested=tuple(list(codes)[number] for number in nested),
        level=tuple(levels[:, number] for number in nested),
        shared=tuple(list(codes)[number] for number in shared),
        column=levels[:, shared] + starts,
        term_of_column=np.repeat(np.array(shared, int), sizes),
        of_row=unit,
    )


def _nested(levels: np.ndarray, numbers: list[int]) -> list[int]:
    """The terms of many levels from the finest on, as far as each level lies within one of the next term."""
    sizes = {number: int(levels[:, number].max()) + 1 for number in numbers}
    found: list[int] = []
    for number in sorted((n for n in numbers if sizes[n] > MOST_COLUMNS), key=lambda number: -sizes[number]):
        if not found or len(np.unique(levels[:, [found[-1], number]], axis=0)) == sizes[found[-1]]:
            found.append(number)
    return found


def solved_at(units: Units, variances: np.ndarray) -> Solved:
    """V = diagonal + nested terms + shared terms; inverted through the smaller matrix of the shared levels."""
    diagonal = variances[-1] / units.weight
    if units.own:
        diagonal = diagonal + variances[units.terms.index(units.own)]
    within, ones, log_determinant = _nested_solved(units, variances, diagonal)
    scale = np.sqrt(variances[units.term_of_column])
    between = _between(units, 1 / diagonal)
    if within is not None:
        crossing = (one_entry_each(units.column.T).T @ within).toarray()
        between -= crossing @ crossing.T
    root = linalg.cholesky(np.eye(len(scale)) + between * np.outer(scale, scale), lower=True, check_finite=False)
    inverse = scale[:, None] * linalg.solve_triangular(root, np.eye(len(scale)), lower=True, check_finite=False).T
    half = times_nested(diagonal, within, inverse[units.column].sum(axis=1))
    ones = ones - half @ half.sum(axis=0)
    variance = float(1 / ones.sum())
    estimate = float(ones @ units.mean) * variance
    deviation = units.mean - estimate
    residual = times_nested(diagonal, within, deviation) - half @ (half.T @ deviation)
    log_determinant += 2 * float(np.sum(np.log(np.diag(root))))
    return Solved(
        diagonal, within, half, ones, residual, between, between @ inverse, estimate, variance, log_determinant
    )


def _nested_solved(
    units: Units, variances: np.ndarray, diagonal: np.ndarray
) -> tuple[sparse.csr_array | None, np.ndarray, float]:
    """`within` of Solved, T 1 and log |T^-1|: from the finest term on, each level adds a matrix of rank one."""
    ones, log_determinant = 1 / diagonal, float(np.sum(np.log(diagonal)))
    entries = []
    for term, level in zip(units.nested, units.level, strict=True):
        variance = variances[units.terms.index(term)]
        more = 1 + variance * np.bincount(level, ones)
        entries.append(ones * np.sqrt(variance / more)[level])
        ones = ones / more[level]
        log_determinant += float(np.sum(np.log(more)))
    if not entries:
        return None, ones, log_determinant
    starts = np.cumsum([0, *(level.max() + 1 for level in units.level)])[:-1]
    return one_entry_each(np.array(units.level) + starts[:, None], np.array(entries)), ones, log_determinant


def one_entry_each(columns: np.ndarray, entries: np.ndarray | None = None) -> sparse.csr_array:
    """A matrix with a row per unit; columns (terms x units): where its entries stand, which are 1 if not told."""
    n_terms, n = columns.shape
    values = np.ones(n * n_terms) if entries is None else entries.T.ravel()
    shape = (n, int(columns.max(initial=-1)) + 1)
    return sparse.csr_array((values, columns.T.ravel(), np.arange(n + 1) * n_terms), shape=shape)


def times_nested(diagonal: np.ndarray, within: sparse.csr_array | None, values: np.ndarray) -> np.ndarray:
    """T times a vector or a matrix."""
    found = (values.T / diagonal).T
    return found if within is None else found - within @ (within.T @ values)


def times_inverse(at: Solved, values: np.ndarray) -> np.ndarray:
    """V^-1 times a vector or a matrix."""
    return times_nested(at.diagonal, at.within, values) - at.half @ (at.half.T @ values)


def diagonal_of_inverse(at: Solved) -> np.ndarray:
    """The diagonal of V^-1."""
    found = 1 / at.diagonal - np.sum(at.half**2, axis=1)
    return found if at.within is None else found - np.asarray(at.within.power(2).sum(axis=1)).ravel()


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
