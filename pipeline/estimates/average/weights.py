"""How much each site-year counts in a headline: the weights that give the headline back when summed over its gains."""

from __future__ import annotations

import numpy as np
import pandas as pd

from pipeline.contract.results import frame_of
from pipeline.contract.vocabulary import TO_COME
from pipeline.estimates.average.pooling import model_blocks
from pipeline.estimates.engines import one_stage, two_stage
from pipeline.estimates.engines.crossed_units import solved_at, units_of
from pipeline.estimates.engines.interval_rules import MIXED, PLAIN
from pipeline.estimates.trials.shared_plots import shared_error


def headline_weights(
    pooled_gains: pd.DataFrame,
    site_year_gains: pd.DataFrame,
    block_gains: pd.DataFrame,
    variance_components: pd.DataFrame,
    trials: pd.DataFrame,
) -> pd.DataFrame:
    """One row per headline and site-year, columns of headline_weights; weights add up to 1, sum of weight x gain is the
    estimate.

    gain is the site-year's gain as the leading method sees it, in the unit of the estimates.
    """
    used = site_year_gains[site_year_gains["is_pooled"]]
    blocks = model_blocks(block_gains, trials, used)
    leading = pooled_gains[
        pooled_gains["is_headline"] & pooled_gains["moderator"].eq("all") & pooled_gains["estimate"].notna()
    ]
    rows = []
    for row in leading.itertuples():
        of_comparison = used[used["comparison_id"] == row.comparison_id]
        if row.method == PLAIN:
            found = _plain(of_comparison, row.target)
        elif row.method == MIXED:
            components = variance_components[
                (variance_components["comparison_id"] == row.comparison_id)
                & (variance_components["target"] == row.target)
            ]
            found = _mixed(blocks[blocks["comparison_id"] == row.comparison_id], components, row.target)
        else:
            found = _two_stage(of_comparison, row.tau2)
        rows += found.assign(comparison_id=row.comparison_id, target=row.target).to_dict("records")
    return frame_of(rows, "headline_weights")


def _plain(site_years: pd.DataFrame, target: str) -> pd.DataFrame:
    """All site-years alike, or all seasons alike for seasons to come."""
    alike = pd.Series(1 / len(site_years), index=site_years.index)
    if target == TO_COME:
        in_season = site_years.groupby("season")["season"].transform("size")
        alike = 1 / (in_season * site_years["season"].nunique())
    return site_years[["site_year_id"]].assign(weight=alike, gain=site_years["gain"])


def _two_stage(site_years: pd.DataFrame, tau2: float) -> pd.DataFrame:
    """By 1 / (SE^2 + tau2); where the same plots come back, as far as each adds to what the others say. Every SE is
    above zero.
    """
    errors = site_years["std_error"].to_numpy(float)
    of_gains, loads, variances = two_stage.independent(np.eye(len(errors)), errors**2, shared_error(site_years))
    of_values = loads / (variances + tau2)
    weight = of_values @ of_gains / (of_values @ loads)
    return site_years[["site_year_id"]].assign(weight=weight, gain=site_years["gain"])


def _mixed(blocks: pd.DataFrame, components: pd.DataFrame, target: str) -> pd.DataFrame:
    """Generalised least squares at the fitted variances: weights of the block gains, summed by site-year."""
    terms = one_stage.terms_for(blocks, target)
    variances = dict(zip(components["component"], components["variance"], strict=True))
    of_rows = one_stage.block_weights(blocks, terms)[0]
    units = units_of(blocks["gain"].to_numpy(float), of_rows, {term: blocks[term].to_numpy() for term in terms})
    found = [variances[one_stage.COMPONENTS[term]] for term in terms] + [variances["residual"]]
    of_units = solved_at(units, np.array(found)).ones
    solved = of_rows * (of_units / units.weight)[units.of_row]
    weight = solved / solved.sum()
    parts = pd.DataFrame(
        {
            "site_year_id": blocks["site_year_id"].to_numpy(),
            "weight": weight,
            "part": weight * blocks["gain"].to_numpy(float),
        }
    )
    summed = parts.groupby("site_year_id", as_index=False).sum()
    return summed[["site_year_id", "weight"]].assign(gain=summed["part"] / summed["weight"])
