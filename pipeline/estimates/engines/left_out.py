"""A fitted mean without some of its rows, at the variances that all rows gave: one solution, not a fit for each.

Leaving rows out is giving each a column of its own (Cook and Weisberg 1982, Residuals and Influence in Regression, for
least squares; here for generalized least squares).
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pandas as pd

from pipeline.estimates.engines import restricted_likelihood
from pipeline.estimates.engines.crossed_units import Solved, Units, solved_at, units_of
from pipeline.estimates.engines.restricted_likelihood import RemlMean

ROW = "row"


def means_without(blocks: pd.DataFrame, target: str, column: str) -> dict[str, RemlMean]:
    """The model of restricted_likelihood.fit_gains without each level of a column, such as site_year_id, in turn.

    Variances and df are those of all rows. Empty where fit_gains gives None.
    """
    whole = restricted_likelihood.fit_gains(blocks, target)
    if whole is None:
        return {}
    gains, weights, groups = restricted_likelihood.model_of(blocks, target)
    variances = np.array([*(whole.variances[term] for term in groups), whole.variances[restricted_likelihood.RESIDUAL]])
    if not _is_within(blocks, list(groups), column):  # a unit of several levels: each row one of its own, to no effect
        groups = groups | {ROW: np.arange(len(blocks))}
        variances = np.insert(variances, -1, 0.0)
    units = units_of(gains, weights, groups)
    solved = solved_at(units, variances)
    pairs = pd.DataFrame({"level": blocks[column].to_numpy(), "unit": units.of_row}).drop_duplicates()
    n_left = blocks["site_year_id"].nunique() - blocks.groupby(column)["site_year_id"].nunique()
    return {
        level: replace(_without(whole, units, solved, of_level["unit"].to_numpy()), most_df=int(n_left[level]) - 1)
        for level, of_level in pairs.groupby("level")
    }


def _is_within(blocks: pd.DataFrame, terms: list[str], column: str) -> bool:
    """Whether rows alike in every term are of one level."""
    return len(blocks[terms].drop_duplicates()) == len(blocks[[*terms, column]].drop_duplicates())


def _without(whole: RemlMean, units: Units, solved: Solved, out: np.ndarray) -> RemlMean:
    """The mean without these units: the precision of what they add to the others, and what they pull."""
    half, pull = solved.half[out], solved.variance * solved.ones[out]
    projected = np.diag(1 / solved.diagonal[out]) - half @ half.T - np.outer(pull, solved.ones[out])
    if solved.within is not None:
        # one entry per nested term in each row; so few rows are quicker without sparse matrices
        of_terms = (of.reshape(len(solved.ones), -1)[out].T for of in (solved.within.data, solved.within.indices))
        for entries, levels in zip(*of_terms, strict=True):
            projected -= np.outer(entries, entries) * np.equal.outer(levels, levels)
    of_residual, of_pull = np.linalg.solve(projected, np.column_stack([solved.residual[out], pull])).T
    estimate = solved.estimate - float(pull @ of_residual)
    return replace(whole, estimate=estimate, std_error=float(np.sqrt(solved.variance + pull @ of_pull)))
