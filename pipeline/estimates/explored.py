"""Breakdowns that nobody declared: tiled and untiled apart, previous crop, each named N rate. To look at, never to claim from."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import pandas as pd

from pipeline.estimates import breakdown, pooled
from pipeline.estimates import interval_rules as rules
from pipeline.estimates.columns import EXPLORED, frame_of
from pipeline.estimates.pooled import CONF_LEVEL

TILES, PREVIOUS_CROP, RATE = "tiled and untiled within a drainage group", "previous crop", "N rate"
MODERATORS = {TILES: ("tile_class",), PREVIOUS_CROP: ("previous_crop",)}
OF_TRIALS = ("artificial_drainage", "previous_crop")


@dataclass(frozen=True)
class RateArms:
    """Arms of comparisons that name several rates, each rate as if a comparison of its own.

    labels: the name that stands in arms.comparison_id -> (comparison_id, rate in kg/ha).
    """

    arms: pd.DataFrame
    labels: dict[str, tuple[str, float]]


def one_rate_each(arms: pd.DataFrame) -> RateArms:
    """The arms by comparison and rate, of comparisons with more than one rate."""
    several = arms[arms.groupby("comparison_id")["rate_kg_ha"].transform("nunique") > 1]
    several = several[several["rate_kg_ha"].notna()]
    label = several["comparison_id"] + " at " + several["rate_kg_ha"].map("{:g}".format)
    labels = dict(zip(label, zip(several["comparison_id"], several["rate_kg_ha"], strict=True), strict=True))
    return RateArms(several.assign(comparison_id=label), labels)


def by_rate(
    site_year_gains: pd.DataFrame, model_blocks: pd.DataFrame, labels: dict[str, tuple[str, float]], *, conf_level: float = CONF_LEVEL
) -> pd.DataFrame:
    """The average at each named rate, columns EXPLORED; the frames as for pooled_gains, of RateArms. level is the rate, kg/ha.

    Rates share their blocks, so there is no test between them here.
    """
    rows, _ = pooled.pooled_gains(site_year_gains, model_blocks, list(labels), conf_level=conf_level)
    rows = rows[rows["is_headline"].eq(True)]
    named = [labels[label] for label in rows["comparison_id"]]
    rows = rows.assign(comparison_id=[name for name, _ in named], level=[f"{rate:g}" for _, rate in named])
    return frame_of(rows.assign(moderator=RATE), EXPLORED)


def explored(
    site_year_gains: pd.DataFrame,
    model_blocks: pd.DataFrame,
    trials: pd.DataFrame,
    comparison_ids: list[str],
    *,
    conf_level: float = CONF_LEVEL,
    progress: Callable[[str], None] | None = None,
) -> pd.DataFrame:
    """One row per comparison, target and class that leads, columns EXPLORED, in the unit of gain.

    site_year_gains and model_blocks as for pooled_gains; trials may have the columns OF_TRIALS. A site-year
    whose trials differ in one of them is left out of that breakdown, as is a drainage group without
    3 tiled and 3 untiled site-years.
    """
    frames = with_classes(site_year_gains, model_blocks, trials)
    rows, tests = breakdown.breakdowns(*frames, comparison_ids, moderators=MODERATORS, conf_level=conf_level, progress=progress)
    key = ["comparison_id", "target", "moderator"]
    rows = rows.merge(tests[[*key, "p_value", "p_value_holm"]], on=key, how="left")
    return frame_of(rows[rows["is_headline"].eq(True)], EXPLORED)


def with_classes(
    site_year_gains: pd.DataFrame, model_blocks: pd.DataFrame, trials: pd.DataFrame
) -> tuple[pd.DataFrame, pd.DataFrame]:
    """Both frames with tile_class and previous_crop, None where unknown, mixed or not to be told apart."""
    key = ["comparison_id", "site_year_id"]
    of_trials = trials[["trial_id"]].join(trials.reindex(columns=list(OF_TRIALS)))
    facts = model_blocks[[*key, "trial_id", "drainage_group"]].drop_duplicates().merge(of_trials, on="trial_id")
    facts = facts.groupby(key)[["drainage_group", *OF_TRIALS]].agg(_the_one).reset_index()
    tile = facts["artificial_drainage"].map(lambda word: None if pd.isna(word) else "tiled" if word == "subsurface" else "untiled")
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
