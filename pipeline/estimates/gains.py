"""From checked plots to the gain of each site-year: trials analyzed, then the gains of each comparison, crop by crop.

Error variances are moderated over the trials of a crop, so no crop's gains hang on another's plots.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import pandas as pd

from pipeline.estimates.average import pooling
from pipeline.estimates.kept_results import by_crop, under_each_other
from pipeline.estimates.trials import block_gains as blocks
from pipeline.estimates.trials import designs, printed_trials
from pipeline.estimates.trials import site_year_gains as site_years

ORDER = ("comparison_id", "trial_id", "block", "main_plot", "plot", "arm", "rate_kg_ha", "treatment_code")


@dataclass(frozen=True)
class Gains:
    """Everything up to the site-years; `used` are those that are pooled, `grouped` their blocks as the model wants
    them.
    """

    analyses: pd.DataFrame
    means: pd.DataFrame
    block_gains: pd.DataFrame
    site_year_gains: pd.DataFrame
    used: pd.DataFrame
    grouped: pd.DataFrame


def all_gains(
    comparison_ids: Sequence[str],
    trials: pd.DataFrame,
    treatments: pd.DataFrame,
    plots: pd.DataFrame,
    arms: pd.DataFrame,
    printed_means: pd.DataFrame | None = None,
    tell: Callable[[str], None] = lambda text: None,
) -> Gains:
    """The gains of these comparisons; frames as program.estimate takes them."""
    trials, treatments, plots, arms = (in_order(frame) for frame in (trials, treatments, plots, arms))
    arms = blocks.with_zero_n(arms[arms["comparison_id"].isin(comparison_ids)], treatments)
    printed = plots.iloc[:0] if printed_means is None else in_order(printed_means)
    printed = printed[~printed["trial_id"].isin(plots["trial_id"])]
    tell("each trial's own analysis")
    analyses, means = (by(frame, "trial_id") for frame in by_crop(_analyzed, trials, [plots, treatments]))
    tell("gains by block and site-year")
    found = by_crop(_gains_of, trials, [plots, arms, analyses, printed])
    block_gains, of_site_years = (by(frame, "comparison_id") for frame in found)
    used = of_site_years[of_site_years["is_pooled"]]
    grouped = pooling.model_blocks(block_gains, trials, used)
    return Gains(analyses, means, block_gains, of_site_years, used, grouped)


def _analyzed(trials, plots, treatments) -> tuple[pd.DataFrame, pd.DataFrame]:
    return designs.analyze_trials(plots, treatments, trials)


def _gains_of(trials, plots, arms, analyses, printed) -> tuple[pd.DataFrame, pd.DataFrame]:
    """Block gains and site-year gains of one crop's trials."""
    moderated = site_years.moderated_analyses(analyses, trials)
    of_blocks, rate_terms = blocks.gains_and_rate_terms(plots, arms, trials)
    gains = site_years.with_variances(of_blocks, moderated)
    of_print = printed_trials.printed_gains(printed, arms, trials, moderated, rate_terms)
    gains = under_each_other([gains, of_print])
    return gains, site_years.site_year_gains(gains, trials)


def in_order(frame: pd.DataFrame) -> pd.DataFrame:
    """Rows in one order, so that results are the same to the last digit however they were read."""
    return by(frame, *(key for key in ORDER if key in frame))


def by(frame: pd.DataFrame, *keys: str) -> pd.DataFrame:
    """Rows by these columns as text; those alike stay in the order they had."""
    return frame.sort_values(list(keys), key=lambda column: column.astype(str), kind="stable", ignore_index=True)
