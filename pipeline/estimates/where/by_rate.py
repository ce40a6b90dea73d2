"""Does the gain depend on the N rate? The gain at each named rate, and one model of all rates together.

Rates stand side by side in the same blocks of the same site-years, so their gains are correlated: what a site-year
adds to all rates is one random term, what it adds to one rate another. A gain at one rate rests on the plots of that
rate alone, so its error variance is that of fewer plots than the average over rates has. Where the arms lie in
different main plots, all rates of a block share the error of those main plots: the block is a random term then.
"""

from __future__ import annotations

from dataclasses import dataclass

import pandas as pd

from pipeline.contract.results import frame_of
from pipeline.estimates.engines import one_stage
from pipeline.estimates.engines.interval_rules import CONF_LEVEL
from pipeline.estimates.where import breakdown, multiplicity
from pipeline.settings.program import N_RATE as RATE

SITE_YEAR_RATE, TRIAL_BLOCK = "site_year_rate", "trial_block"


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


@dataclass(frozen=True)
class RateGains:
    """Pooled site-year gains, and their block gains with variances, at one rate each: comparison_id, and rate (kg/ha,
    as text).
    """

    site_year_gains: pd.DataFrame
    model_blocks: pd.DataFrame


def named(site_year_gains: pd.DataFrame, model_blocks: pd.DataFrame, labels: dict[str, tuple[str, float]]) -> RateGains:
    """The gains of RateArms, its comparison in its place again and the rate beside it."""
    return RateGains(*(_named(frame, labels) for frame in (site_year_gains, model_blocks)))


def _named(frame: pd.DataFrame, labels: dict[str, tuple[str, float]]) -> pd.DataFrame:
    found = [labels[label] for label in frame["comparison_id"]]
    named_ = frame.assign(comparison_id=[name for name, _ in found], rate=[f"{rate:g}" for _, rate in found])
    # each rate has plots of its own
    return named_.assign(plots=named_["plots"] + " at " + named_["rate"]) if "plots" in named_ else named_


def by_rate(
    site_year_gains: pd.DataFrame,
    model_blocks: pd.DataFrame,
    comparison_ids: list[str],
    *,
    conf_level: float = CONF_LEVEL,
) -> tuple[pd.DataFrame, pd.DataFrame]:
    """Rows by rate (two methods each; level is the rate in kg/ha) and interaction tests, as breakdowns() gives them for
    classes; of RateGains.
    """
    rows, tests = [], []
    for comparison_id in comparison_ids:
        site_years = site_year_gains[site_year_gains["comparison_id"] == comparison_id]
        blocks = model_blocks[model_blocks["comparison_id"] == comparison_id]
        key = {"comparison_id": comparison_id, "moderator": RATE}
        found, of_test = breakdown.of_both_targets(
            key, site_years, blocks, ("rate",), conf_level=conf_level, fit=fit_rates
        )
        rows, tests = rows + found, tests + of_test
    return frame_of(rows, "pooled_gains"), frame_of(tests, "interaction_tests", without=multiplicity.ADJUSTED)


def fit_rates(blocks: pd.DataFrame, target: str, *, levels: pd.Series) -> one_stage.OneStage | None:
    """One mean per rate and their joint test; blocks as for fit_gains, one row per block and rate, with
    main_plot_factor.

    Terms beside those of fit_gains: site-year x rate where some site-year has several blocks at a rate, else it is the
    residual; the block where arms lie in different main plots. None as fit_gains gives it.
    """
    if levels.nunique() < 2:
        return one_stage.fit_gains(blocks, target, levels=levels)
    of_block = blocks["trial_id"].astype(str) + " block " + blocks["block"].astype(str)
    blocks = blocks.assign(
        **{SITE_YEAR_RATE: blocks["site_year_id"].astype(str) + " at " + levels, TRIAL_BLOCK: of_block}
    )
    n_cells, n_blocks = blocks[SITE_YEAR_RATE].nunique(), blocks[TRIAL_BLOCK].nunique()
    shares_main_plots = bool((blocks["main_plot_factor"] > 0).any())
    can_tell = {
        SITE_YEAR_RATE: blocks["site_year_id"].nunique() < n_cells < len(blocks),
        TRIAL_BLOCK: shares_main_plots and blocks["trial_id"].nunique() < n_blocks < len(blocks),
    }
    return one_stage.fit_gains(
        blocks, target, levels=levels, more_terms=tuple(term for term, is_told in can_tell.items() if is_told)
    )
