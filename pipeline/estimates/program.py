"""From checked plots to every estimate of a program: the order of its steps."""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterable, Sequence

import pandas as pd
from threadpoolctl import threadpool_limits

from pipeline.contract.results import frame_of
from pipeline.estimates.average import agreement, one_field, pooling, robustness, spread
from pipeline.estimates.gains import Gains, all_gains
from pipeline.estimates.kept_results import by_comparison, under_each_other
from pipeline.estimates.where import breakdown, exploratory, rainfall_cuts
from pipeline.estimates.where.by_rate import named, one_rate_each
from pipeline.estimates.where.weather_tables import weather_tables


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
    neighboring_classes: pd.DataFrame | None = None,
    also_declared: Collection[str] = (),
    covariates: pd.DataFrame | None = None,
    reference_covariates: pd.DataFrame | None = None,
    progress: Callable[[str], None] | None = None,
    tell_averages: Callable[[pd.DataFrame], None] = lambda rows: None,
) -> dict[str, pd.DataFrame]:
    """All estimate tables by name, in the unit of plots.value.

    comparisons have an id. trials, treatments, plots and arms are one row per trial,
    treatment, used plot, and treatment standing on one side of a comparison. Frames
    may be empty; the results then have their columns and say what is missing.
    printed_means: treatment means of trials known only by print, whose treatments stand in
    arms; a trial that also has plots is taken from its plots. Only for robustness: noted
    (site_year_ids with findings), eligibility (every planned trial) and neighboring_classes
    (comparison_id, site_year_id, rainfall_class: the next class of site-years near a rainfall
    cut).
    also_declared: breakdowns that program.yml declares.
    covariates, reference_covariates: weather of the site-years and of the reference years, as trials.weather_covariates
    and trials.reference_covariates have it; without any, the tables of what the weather explains are empty.
    tell_averages: called with the averages over all site-years as soon as they stand, long before the rest.
    """
    ids = [comparison.id for comparison in comparisons]
    tell = progress or (lambda text: None)
    with threadpool_limits(limits=1, user_api="blas"):  # many small matrices: threads only hinder
        own = all_gains(ids, trials, treatments, plots, arms, printed_means, tell)
        used, grouped = gains = own.used, own.grouped
        overall, components = _averages(own, ids, tell)
        overall = one_field.centered(overall)
        tell_averages(overall)
        by_class, tests = by_comparison(breakdown.breakdowns, ids, gains, tell=tell, says="where it differs")
        with_findings = used.loc[used["site_year_id"].isin(noted), ["comparison_id", "site_year_id"]]
        carried = (*gains, overall, with_findings, eligibility)
        robust = by_comparison(_carried, ids, carried, tell=tell, says="does one site-year or season carry it")
        near = (*gains, by_class, neighboring_classes)
        at_cuts = by_comparison(_at_other_cuts, ids, near, tell=tell, says="at other rainfall cuts")
        agrees = by_comparison(_agreement, ids, (overall, grouped), tell=tell, says="do the methods agree")
        at_rate = one_rate_each(arms[arms["comparison_id"].isin(ids)])
        of_rates = all_gains(list(at_rate.labels), trials, treatments, plots, at_rate.arms, printed_means)
        looked_at = exploratory.explored(
            used,
            grouped,
            trials,
            ids,
            rates=named(of_rates.used, of_rates.grouped, at_rate.labels),
            declared_tests=tests,
            also_declared=also_declared,
            tell=tell,
        )
        in_weather = (*gains, covariates, reference_covariates)
        weather = by_comparison(_weather, ids, in_weather, tell=tell, says="what the weather explains")
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
        "robustness": under_each_other([robust, at_cuts]),
        "agreement": agrees,
        "shrunken_gains": spread.shrunken_gains(used, overall, components),
        **weather,
    }


def headlines_and_blocks(
    comparisons: Iterable,
    trials: pd.DataFrame,
    treatments: pd.DataFrame,
    plots: pd.DataFrame,
    arms: pd.DataFrame,
    *,
    printed_means: pd.DataFrame | None = None,
) -> tuple[pd.DataFrame, pd.DataFrame]:
    """(the averages over all site-years alone, the block gains behind them), as estimate() gives them: for telling what
    changed them, and for traits other than yield.
    """
    ids = [comparison.id for comparison in comparisons]
    with threadpool_limits(limits=1, user_api="blas"):
        own = all_gains(ids, trials, treatments, plots, arms, printed_means)
        return _averages(own, ids, lambda text: None)[0], own.block_gains


def _averages(own: Gains, ids: Sequence[str], tell: Callable[[str], None]) -> tuple[pd.DataFrame, pd.DataFrame]:
    """The pooled rows of every comparison, and variance components."""
    return by_comparison(pooling.pooled_gains, ids, (own.used, own.grouped), tell=tell, says="average gain")


def _carried(used, grouped, overall, with_findings, eligibility, comparison_ids) -> pd.DataFrame:
    return robustness.robustness(
        used, grouped, overall, comparison_ids, noted=with_findings["site_year_id"], eligibility=eligibility
    )


def _at_other_cuts(used, grouped, by_class, neighboring, comparison_ids) -> pd.DataFrame:
    if neighboring is None:
        return frame_of([], "robustness")
    return rainfall_cuts.at_other_cuts(used, grouped, by_class, neighboring)


def _agreement(overall, grouped, comparison_ids) -> pd.DataFrame:
    return agreement.agreement(overall, grouped)


def _weather(used, grouped, covariates, reference, comparison_ids) -> dict[str, pd.DataFrame]:
    return weather_tables(used, grouped, comparison_ids, covariates, reference)
