"""The N response of a program: the order of its steps."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field

import pandas as pd

from pipeline.contract.results import frame_of, narrowed
from pipeline.estimates.engines.interval_rules import CONF_LEVEL
from pipeline.estimates.kept_results import kept_result
from pipeline.estimates.n_response.clusters import with_clusters
from pipeline.estimates.n_response.efficiencies import efficiencies
from pipeline.estimates.n_response.ladders import LADDER, ladder_plots, ladders, rate_mean_rows
from pipeline.estimates.n_response.nitrogen_saved import nitrogen_saved
from pipeline.estimates.n_response.pooled_curves import (
    draw_rows,
    pooled_fit,
    pooled_grid_rows,
    pooled_rows,
    rows_without_curve,
    usable_means,
)
from pipeline.estimates.n_response.printed_ladders import printed_ladders, printed_rate_means, printed_steps
from pipeline.estimates.n_response.rate_losses import rate_losses
from pipeline.estimates.n_response.site_year_optima import site_year_optima
from pipeline.estimates.n_response.source_prices import price_ratios
from pipeline.estimates.n_response.trial_curves import TRIAL, FittedLadder, fitted_ladders, grid_rows_of, rows_of

GRID_FACTORS = (0.5, 0.75, 1.0, 1.25, 1.5, 2.0)


def estimate_n_response(
    trials: pd.DataFrame,
    treatments: pd.DataFrame,
    plots: pd.DataFrame,
    arms: pd.DataFrame,
    of_sources: pd.DataFrame,
    *,
    printed_means: pd.DataFrame | None = None,
    crops_without_efficiency: frozenset[str] = frozenset({"soybean"}),
    conf_level: float = CONF_LEVEL,
) -> dict[str, pd.DataFrame]:
    """All N response tables by name; N and yields in kg/ha.

    trials, treatments, plots and arms are one row per trial, treatment, used plot, and treatment standing on
    one side of a comparison. of_sources: crop, family and price_ratio as source_prices gives them; a crop and family
    without a ratio gets no EONR and no losses. printed_means: treatment means of trials known only by print; a trial
    that also has plots is taken from its plots. Frames may be empty; the results then have their columns.
    """
    every_plot = ladder_plots(plots, treatments, trials)
    steps = ladders(every_plot)
    printed_means = printed_means if printed_means is not None else pd.DataFrame(columns=["trial_id"])
    without_plots = printed_means[~printed_means["trial_id"].isin(plots["trial_id"])]
    of_print = printed_steps(without_plots, treatments, trials)
    ratio_of = price_ratios(of_sources)
    of_trials = _of_trials(steps, of_print, ratio_of, conf_level)
    means = frame_of(of_trials.means, "rate_means").sort_values(
        [*LADDER, "n_rate_kg_ha"], kind="stable", ignore_index=True
    )
    clustered = with_clusters(means, trials)
    usable = usable_means(clustered)
    over_site_years = _over_site_years(usable, steps, of_print, ratio_of, conf_level)
    n_response = frame_of([*of_trials.rows, *over_site_years.rows], "n_response")
    return {
        "n_response": n_response,
        "rate_means": means,
        "ladder_plots": _plots_of_ladders(every_plot, of_print),
        "response_draws": frame_of(over_site_years.draws, "response_draws"),
        "eonr_grid": narrowed([*of_trials.grid, *over_site_years.grid], "eonr_grid"),
        "site_year_optima": site_year_optima(with_clusters(n_response[n_response["level"].eq(TRIAL)], trials)),
        "nitrogen_saved": nitrogen_saved(usable, arms, treatments, ratio_of=ratio_of, conf_level=conf_level),
        "efficiencies": efficiencies(clustered, without=crops_without_efficiency, conf_level=conf_level),
        "rate_losses": frame_of(over_site_years.losses, "rate_losses"),
    }


@dataclass
class _OfTrials:
    """Rows of each table by ladder, and the rate means of the ladders that were randomized."""

    rows: list[dict] = field(default_factory=list)
    grid: list[dict] = field(default_factory=list)
    means: list[dict] = field(default_factory=list)

    def add(self, rows: list[dict], grid: list[dict], means: list[dict]) -> None:
        self.rows += rows
        self.grid += grid
        self.means += means


def _of_trials(steps, of_print, ratio_of: Mapping[tuple[str, str], float], conf_level: float) -> _OfTrials:
    """What each trial says by itself, kept trial by trial; those of print behind those of plots."""
    found = _OfTrials()
    for _, ladders_of_trial in steps.groupby("trial_id", sort=False):
        ladders_of_trial = ladders_of_trial.reset_index(drop=True)
        named = set(zip(ladders_of_trial["crop"], ladders_of_trial["family"], strict=True))
        own = {key: ratio for key, ratio in ratio_of.items() if key in named}
        found.add(*kept_result(_of_trial, ladders_of_trial, own, conf_level))
    for rows in (found.rows, found.grid):
        rows.sort(key=lambda row: tuple(row[name] for name in LADDER))
    found.add(*_curve_rows(printed_ladders(of_print), ratio_of, conf_level), printed_rate_means(_randomized(of_print)))
    return found


def _of_trial(ladders_of_trial, ratio_of, conf_level) -> tuple[list[dict], list[dict], list[dict]]:
    rows, grid = _curve_rows(fitted_ladders(ladders_of_trial, conf_level=conf_level), ratio_of, conf_level)
    return rows, grid, rate_mean_rows(_randomized(ladders_of_trial))


def _randomized(steps: pd.DataFrame) -> pd.DataFrame:
    return steps[~steps["design"].isin(["not randomized"])]


@dataclass
class _OverSiteYears:
    """Rows of each table over site-years."""

    rows: list[dict] = field(default_factory=list)
    grid: list[dict] = field(default_factory=list)
    draws: list[dict] = field(default_factory=list)
    losses: list[dict] = field(default_factory=list)


def _over_site_years(usable, steps, of_print, ratio_of, conf_level: float) -> _OverSiteYears:
    """The common curve of each crop and family, and what is read off it; or why there is none."""
    found, family = _OverSiteYears(), ["crop", "family"]
    by_family = [dict(list(rows.groupby(family))) for rows in (usable, steps, of_print)]
    for key in sorted(set().union(*by_family)):
        of_curve, of_plots, of_prints = (rows.get(key) for rows in by_family)
        ratio = ratio_of.get(key)
        if of_curve is None:
            found.rows += rows_without_curve(of_plots, of_prints, ratio, conf_level=conf_level)
            continue
        pooled = pooled_fit(of_curve, conf_level=conf_level)
        found.rows += pooled_rows(pooled, ratio, conf_level=conf_level)
        found.grid += pooled_grid_rows(pooled, _ratios(ratio), conf_level=conf_level)
        found.draws += draw_rows(pooled)
        found.losses += rate_losses(pooled, ratio, conf_level=conf_level)
    return found


def _plots_of_ladders(of_plots: pd.DataFrame, of_print: pd.DataFrame) -> pd.DataFrame:
    """Every plot, and every printed mean, of every ladder."""
    order = ["crop", "family", "trial_id", "variant", "n_rate_kg_ha", "block", "plot"]
    every = [*of_plots.to_dict("records"), *of_print.dropna(subset="value").to_dict("records")]
    found = narrowed(every, "ladder_plots")
    return found.sort_values(order, key=lambda c: c if c.name == "n_rate_kg_ha" else c.astype(str), ignore_index=True)


def _curve_rows(fitted: Iterable[FittedLadder], ratio_of, conf_level: float) -> tuple[list[dict], list[dict]]:
    """Rows of n_response and of eonr_grid."""
    rows, grid = [], []
    for ladder in fitted:
        ratio = ratio_of.get((ladder.key["crop"], ladder.key["family"]))
        rows += rows_of(ladder, ratio, conf_level=conf_level)
        grid += grid_rows_of(ladder, _ratios(ratio), conf_level=conf_level)
    return rows, grid


def _ratios(planning: float | None) -> dict[float, bool]:
    """Price ratios to try: multiples of the planning one, which is marked."""
    return {} if planning is None else {planning * factor: factor == 1.0 for factor in GRID_FACTORS}
