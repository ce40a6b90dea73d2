"""Breakdowns that no program declares by using this pipeline: tiled and untiled apart, previous crop, each named N
rate.

Exploratory, to look at and never to claim from, but for those that program.yml declares.
"""

from __future__ import annotations

from collections.abc import Callable, Collection
from dataclasses import dataclass

import pandas as pd

from pipeline.contract.results import frame_of, narrowed
from pipeline.estimates.engines import interval_rules as rules
from pipeline.estimates.frames import stacked
from pipeline.estimates.kept_results import by_comparison, under_each_other
from pipeline.estimates.where import breakdown, multiplicity
from pipeline.estimates.where.by_rate import RATE, RateGains, by_rate
from pipeline.settings.program import PREVIOUS_CROP, TILES

MODERATORS = {TILES: ("tile_class",), PREVIOUS_CROP: ("previous_crop",)}
OF_TRIALS = ("artificial_drainage", "previous_crop")


@dataclass(frozen=True)
class Explored:
    """rows: two methods for each class; tests: all of the program, by Holm within their families; site_years: those of
    each class.
    """

    rows: pd.DataFrame
    tests: pd.DataFrame
    site_years: pd.DataFrame


def explored(
    site_year_gains: pd.DataFrame,
    model_blocks: pd.DataFrame,
    trials: pd.DataFrame,
    comparison_ids: list[str],
    *,
    rates: RateGains,
    declared_tests: pd.DataFrame,
    also_declared: Collection[str] = (),
    tell: Callable[[str], None] = lambda text: None,
) -> Explored:
    """Every such breakdown, in the unit of gain.

    declared_tests: of breakdowns every program declares; those named in also_declared join their family.
    site_year_gains and model_blocks as for pooled_gains; trials may have the columns OF_TRIALS. A site-year whose
    trials differ in one of them is left out of that breakdown and counted in n_unknown, as is a drainage group without
    3 tiled and 3 untiled site-years.
    """
    frames = with_classes(site_year_gains, model_blocks, trials)
    by_class, tests = by_comparison(_by_class, comparison_ids, frames, tell=tell, says="where else it differs")
    at_rates = rates.site_year_gains, rates.model_blocks
    with_rates = list(rates.site_year_gains["comparison_id"].unique())
    rate_rows, rate_tests = by_comparison(by_rate, with_rates, at_rates, tell=tell, says="each N rate")
    family = multiplicity.with_holm(under_each_other([declared_tests, tests, rate_tests]), also_declared)
    key, of_test = ["comparison_id", "target", "moderator"], ["kind", "p_value", "p_value_holm"]
    rows = narrowed(under_each_other([by_class, rate_rows]), "explored", without=of_test)
    rows = frame_of(rows.merge(family[[*key, *of_test]], on=key, how="left"), "explored")
    return Explored(rows, family, _site_years(frames[0], rates.site_year_gains))


def _by_class(site_years: pd.DataFrame, blocks: pd.DataFrame, comparison_ids: list[str]) -> tuple:
    return breakdown.breakdowns(site_years, blocks, comparison_ids, moderators=MODERATORS)


def _site_years(site_years: pd.DataFrame, at_rates: pd.DataFrame) -> pd.DataFrame:
    """The site-years of each class, with the gain that counted there."""
    found = [
        site_years.assign(moderator=name, level=breakdown.levels_of(site_years, columns))
        for name, columns in MODERATORS.items()
    ]
    found = stacked([*found, at_rates.assign(moderator=RATE, level=at_rates["rate"])])
    return narrowed(found[found["level"].notna()] if len(found) else found, "explored_site_years")


def with_classes(
    site_year_gains: pd.DataFrame, model_blocks: pd.DataFrame, trials: pd.DataFrame
) -> tuple[pd.DataFrame, pd.DataFrame]:
    """Both frames with tile_class and previous_crop, None where unknown, mixed or not to be told apart."""
    key = ["comparison_id", "site_year_id"]
    of_trials = trials[["trial_id"]].join(trials.reindex(columns=list(OF_TRIALS)))
    facts = model_blocks[[*key, "trial_id", "drainage_group"]].drop_duplicates().merge(of_trials, on="trial_id")
    facts = facts.groupby(key)[["drainage_group", *OF_TRIALS]].agg(_the_one).reset_index()
    tile = facts["artificial_drainage"].map(
        lambda word: None if pd.isna(word) else "tiled" if word == "subsurface" else "untiled"
    )
    facts["tile_class"] = facts["drainage_group"] + ", " + tile
    counts = facts.groupby(["comparison_id", "drainage_group"])["tile_class"].agg(_fewest_of_two)
    enough = counts[counts >= rules.FEWEST_FOR_A_MEAN].index
    is_apart = pd.MultiIndex.from_frame(facts[["comparison_id", "drainage_group"]]).isin(enough)
    facts["tile_class"] = facts["tile_class"].astype(object).where(is_apart, None)
    facts = facts[[*key, "tile_class", "previous_crop"]]
    return site_year_gains.merge(facts, on=key, how="left"), model_blocks.merge(facts, on=key, how="left")


def _the_one(values: pd.Series) -> object:
    """The value that all share, else None."""
    return values.iloc[0] if values.nunique(dropna=False) == 1 else None


def _fewest_of_two(classes: pd.Series) -> int:
    counts = classes.value_counts()
    return int(counts.min()) if len(counts) == 2 else 0
