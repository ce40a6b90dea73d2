"""From checked plots to every estimate of a program: the order of its steps."""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterable
from dataclasses import dataclass

import pandas as pd
from threadpoolctl import threadpool_limits

from pipeline.contract.results import frame_of
from pipeline.estimates.average import agreement, one_field, pooling, robustness, spread
from pipeline.estimates.trials import block_gains as blocks
from pipeline.estimates.trials import designs, printed_trials
from pipeline.estimates.trials import site_year_gains as site_years
from pipeline.estimates.where import breakdown, exploratory, rainfall_cuts
from pipeline.estimates.where.by_rate import named, one_rate_each
from pipeline.estimates.where.weather_tables import weather_tables

ORDER = ("comparison_id", "trial_id", "block", "main_plot", "plot", "arm", "rate_kg_ha", "treatment_code")


def estimate(
    comparisons: Iterable,
    trials: pd.DataFrame,
    treatments: pd.DataFrame,
    plots: pd.DataFrame,
    arms: pd.DataFrame,
    *,
    printed_means: pd.DataFrame | None = None,
    noted: Iterable[str] = (),
    eligibility: pd.DataFrame | None = None,
    neighbouring_classes: pd.DataFrame | None = None,
    also_declared: Collection[str] = (),
    covariates: pd.DataFrame | None = None,
    reference_covariates: pd.DataFrame | None = None,
    progress: Callable[[str], None] | None = None,
) -> dict[str, pd.DataFrame]:
    """All estimate tables by name, in the unit of plots.value.

    comparisons have an id. trials, treatments, plots and arms are one row per trial,
    treatment, used plot, and treatment standing on one side of a comparison. Frames
    may be empty; the results then have their columns and say what is missing.
    printed_means: treatment means of trials known only by print, whose treatments stand in
    arms; a trial that also has plots is taken from its plots. Only for robustness: noted
    (site_year_ids with findings), eligibility (every planned trial) and neighbouring_classes
    (comparison_id, site_year_id, rainfall_class: the next class of site-years near a rainfall
    cut).
    also_declared: breakdowns that program.yml declares.
    covariates, reference_covariates: weather of the site-years and of the reference years, as trials.weather_covariates
    and trials.reference_covariates have it; without any, the tables of what the weather explains are empty.
    """
    ids = [comparison.id for comparison in comparisons]
    with threadpool_limits(limits=1, user_api="blas"):  # many small matrices: threads only hinder
        own = _gains(ids, trials, treatments, plots, arms, printed_means, progress)
        used, grouped = own.used, own.grouped
        overall, components = pooling.pooled_gains(used, grouped, ids, progress=progress)
        overall = one_field.centered(overall)
        by_class, tests = breakdown.breakdowns(used, grouped, ids, progress=progress)
        robust = robustness.robustness(
            used, grouped, overall, ids, noted=noted, eligibility=eligibility, progress=progress
        ).to_dict("records")
        if neighbouring_classes is not None:
            robust += rainfall_cuts.at_other_cuts(used, grouped, by_class, neighbouring_classes).to_dict("records")
        agrees = agreement.agreement(overall, grouped)
        at_rate = one_rate_each(arms[arms["comparison_id"].isin(ids)])
        of_rates = _gains(list(at_rate.labels), trials, treatments, plots, at_rate.arms, printed_means, None)
        rates = named(of_rates.used, of_rates.grouped, at_rate.labels)
        looked_at = exploratory.explored(
            used,
            grouped,
            trials,
            ids,
            rates=rates,
            declared_tests=tests,
            also_declared=also_declared,
            progress=progress,
        )
        weather = weather_tables(used, grouped, ids, covariates, reference_covariates, progress=progress)
    rows = [*overall.to_dict("records"), *by_class.to_dict("records")]
    return {
        "trial_analyses": own.analyses,
        "treatment_means": own.means,
        "block_gains": own.block_gains,
        "site_year_gains": own.site_year_gains,
        "pooled_gains": frame_of(rows, "pooled_gains"),
        "interaction_tests": looked_at.tests,
        "explored": looked_at.rows,
        "explored_site_years": looked_at.site_years,
        "variance_components": components,
        "robustness": frame_of(robust, "robustness"),
        "agreement": agrees,
        "shrunken_gains": spread.shrunken_gains(used, overall, components),
        **weather,
    }


def headline_gains(
    comparisons: Iterable,
    trials: pd.DataFrame,
    treatments: pd.DataFrame,
    plots: pd.DataFrame,
    arms: pd.DataFrame,
    *,
    printed_means: pd.DataFrame | None = None,
) -> pd.DataFrame:
    """The averages over all site-years alone, as estimate() gives them; for telling what changed them."""
    ids = [comparison.id for comparison in comparisons]
    with threadpool_limits(limits=1, user_api="blas"):
        own = _gains(ids, trials, treatments, plots, arms, printed_means, None)
        return pooling.pooled_gains(own.used, own.grouped, ids)[0]


@dataclass(frozen=True)
class _Gains:
    """Everything up to the site-years; `used` are those that are pooled, `grouped` their blocks as the model wants
    them.
    """

    analyses: pd.DataFrame
    means: pd.DataFrame
    block_gains: pd.DataFrame
    site_year_gains: pd.DataFrame
    used: pd.DataFrame
    grouped: pd.DataFrame


def _gains(ids, trials, treatments, plots, arms, printed_means, progress) -> _Gains:
    tell = progress or (lambda text: None)
    trials, treatments, plots, arms = (_in_order(frame) for frame in (trials, treatments, plots, arms))
    arms = blocks.with_zero_n(arms[arms["comparison_id"].isin(ids)], treatments)
    tell("each trial's own analysis")
    analyses, means = designs.analyse_trials(plots, treatments, trials)
    moderated = site_years.moderated_analyses(analyses, trials)
    tell("gains by block and site-year")
    gains = site_years.with_variances(blocks.block_gains(plots, arms, trials), moderated)
    if printed_means is not None:
        without_plots = _in_order(printed_means[~printed_means["trial_id"].isin(plots["trial_id"])])
        of_print = printed_trials.printed_gains(without_plots, arms, trials, moderated)
        gains = frame_of([*gains.to_dict("records"), *of_print.to_dict("records")], "block_gains")
    by_site_year = site_years.site_year_gains(gains, trials)
    used = by_site_year[by_site_year["is_pooled"]]
    return _Gains(analyses, means, gains, by_site_year, used, pooling.model_blocks(gains, trials, used))


def _in_order(frame: pd.DataFrame) -> pd.DataFrame:
    """Rows in one order, so that results are the same to the last digit however they were read."""
    keys = [key for key in ORDER if key in frame]
    return frame.sort_values(keys, key=lambda column: column.astype(str), kind="stable", ignore_index=True)
