"""The N response of a program: the order in which this room works."""

from __future__ import annotations

from collections.abc import Callable

import pandas as pd

from pipeline.estimates.columns import frame_of
from pipeline.estimates.n_response import columns
from pipeline.estimates.n_response.efficiencies import efficiencies
from pipeline.estimates.n_response.ladders import ladder_plots, ladders, rate_means
from pipeline.estimates.n_response.net_return import net_returns
from pipeline.estimates.n_response.nitrogen_saved import nitrogen_saved
from pipeline.estimates.n_response.pooled_curves import (
    draw_rows,
    pooled_fit,
    pooled_grid_rows,
    pooled_rows,
    usable_means,
)
from pipeline.estimates.n_response.site_year_optima import site_year_optima
from pipeline.estimates.n_response.source_prices import price_ratios
from pipeline.estimates.n_response.trial_curves import FittedLadder, fitted_ladders, grid_rows_of, rows_of

CONF_LEVEL = 0.95
GRID_FACTORS = (0.5, 0.75, 1.0, 1.25, 1.5, 2.0)


def estimate_n_response(
    trials: pd.DataFrame,
    treatments: pd.DataFrame,
    plots: pd.DataFrame,
    arms: pd.DataFrame,
    of_sources: pd.DataFrame,
    *,
    crops_without_efficiency: frozenset[str] = frozenset({"soybean"}),
    conf_level: float = CONF_LEVEL,
    progress: Callable[[str], None] | None = None,
) -> dict[str, pd.DataFrame]:
    """All N response tables by name; N and yields in kg/ha.

    trials, treatments, plots and arms are one row per trial, treatment, used plot, and treatment standing on
    one side of a comparison. of_sources: as source_prices gives it; a crop and family without a price ratio
    gets no EONR and no net return. Frames may be empty; the results then have their columns.
    """
    tell = progress or (lambda text: None)
    tell("N response of each trial")
    steps = ladders(plots, treatments, trials)
    fitted = fitted_ladders(steps, conf_level=conf_level)
    means = rate_means(steps[~steps["design"].isin(["not randomized"])])
    ratio_of = price_ratios(of_sources)
    rows, grid = _trial_rows(fitted, ratio_of, conf_level)
    draws = []
    tell("N response over site-years")
    usable = usable_means(means)
    for _, of_family in usable.groupby(["crop", "family"], sort=True):
        pooled = pooled_fit(of_family, conf_level=conf_level)
        ratio = ratio_of.get((pooled.crop, pooled.family))
        rows += pooled_rows(pooled, ratio, conf_level=conf_level)
        grid += pooled_grid_rows(pooled, _ratios(ratio), conf_level=conf_level)
        draws += draw_rows(pooled)
    n_response = frame_of(rows, columns.N_RESPONSE)
    near_of = of_sources.set_index(["crop", "family"])["near_highest_kg_ha"].dropna().to_dict()
    return {
        "n_response": n_response,
        "rate_means": means,
        "ladder_plots": _plots_of_ladders(plots, treatments, trials),
        "response_draws": frame_of(draws, columns.RESPONSE_DRAWS),
        "eonr_grid": frame_of(grid, columns.EONR_GRID),
        "site_year_optima": site_year_optima(n_response),
        "nitrogen_saved": nitrogen_saved(usable, arms, treatments, ratio_of=ratio_of, conf_level=conf_level),
        "efficiencies": efficiencies(means, without=crops_without_efficiency, conf_level=conf_level),
        "net_return_by_rate": net_returns(fitted, ratio_of, near_of, conf_level=conf_level),
    }


def _plots_of_ladders(plots: pd.DataFrame, treatments: pd.DataFrame, trials: pd.DataFrame) -> pd.DataFrame:
    order = ["crop", "family", "trial_id", "variant", "n_rate_kg_ha", "block", "plot"]
    found = frame_of(ladder_plots(plots, treatments, trials), columns.LADDER_PLOTS)
    return found.sort_values(order, key=lambda c: c if c.name == "n_rate_kg_ha" else c.astype(str), ignore_index=True)


def _trial_rows(
    fitted: list[FittedLadder], ratio_of: dict[tuple[str, str], float], conf_level: float
) -> tuple[list[dict], list[dict]]:
    rows, grid = [], []
    for ladder in fitted:
        ratio = ratio_of.get((ladder.key["crop"], ladder.key["family"]))
        rows += rows_of(ladder, ratio, conf_level=conf_level)
        grid += grid_rows_of(ladder, _ratios(ratio), conf_level=conf_level)
    return rows, grid


def _ratios(planning: float | None) -> dict[float, bool]:
    """Price ratios to try: multiples of the planning one, which is marked."""
    return {} if planning is None else {planning * factor: factor == 1.0 for factor in GRID_FACTORS}
