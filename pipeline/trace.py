"""From any printed estimate down to its plots: the rows of the reports layer that it rests on, gathered."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import pandas as pd

from pipeline.errors import UserError, one_of
from pipeline.estimate_ids import asked_part

VIEWS = (
    "gains", "explored", "site_year_gains", "explored_site_years", "headline_weights", "left_out", "sources", "picks", "rain_sources",
    "corrected_cells", "program",
)  # fmt: skip
ROW = ("file", "sheet", "row_number")
OF_PLOTS = ("plots", "harvests", "printed_means")  # tables whose rows each stand for one plot or mean
LEAST_RATE_STEP = 0.01  # kg/ha; the rate of a class went through text
MODERATOR_COLUMNS = {
    "all": (),
    "drainage group": ("drainage_group",),
    "rainfall class": ("rainfall_class",),
    "drainage group x rainfall class": ("drainage_group", "rainfall_class"),
}


@dataclass(frozen=True)
class Trace:
    """What one estimate rests on, as rows of reports views.

    estimate: its row of gains. site_years: site_year_gains, with `weight` in the headline (NaN where the estimate is no
    headline over all site-years). left_out: trials of the crop not used, with reasons. plots: sources of the used trials.
    picks: those of plots picked more than once. rain: rain_sources of the site-years. corrections: corrected_cells that
    touch any of these. run: the row of program.
    """

    estimate: pd.Series
    site_years: pd.DataFrame
    left_out: pd.DataFrame
    plots: pd.DataFrame
    picks: pd.DataFrame
    rain: pd.DataFrame
    corrections: pd.DataFrame
    run: pd.Series


def walk(views: Mapping[str, pd.DataFrame], estimate_id: str) -> Trace:
    """The walk down from one estimate.

    Args:
        views: the reports views named in VIEWS, by name.

    Raises:
        UserError: no estimate has this id.
    """
    estimate = _estimate(pd.concat([views["gains"], views["explored"]], ignore_index=True), estimate_id)
    site_years = _site_years(views, estimate)
    plots = _of(views["sources"], estimate)
    plots = plots[plots["site_year_id"].isin(site_years["site_year_id"])]
    if pd.notna(estimate["rate_kg_ha"]):
        plots = plots[(plots["rate_kg_ha"] - estimate["rate_kg_ha"]).abs() < LEAST_RATE_STEP]
    picks = views["picks"].merge(plots[["trial_id", "plot"]].drop_duplicates(), on=["trial_id", "plot"])
    rain = views["rain_sources"]
    rain = rain[(rain["crop"] == estimate["crop"]) & rain["site_year_id"].isin(site_years["site_year_id"])]
    corrections = _corrections(views["corrected_cells"], site_years, plots, picks)
    return Trace(
        estimate,
        site_years,
        _of(views["left_out"], estimate),
        plots,
        picks,
        rain,
        corrections,
        views["program"].iloc[0],
    )


def _corrections(
    corrected: pd.DataFrame, site_years: pd.DataFrame, plots: pd.DataFrame, picks: pd.DataFrame
) -> pd.DataFrame:
    """Those on the rows of these plots and picks, on other tables' rows of their trials, and on sites and rain of their places."""
    rows = pd.concat([frame[list(ROW)] for frame in (plots, picks)]).drop_duplicates()
    on_rows = corrected.merge(rows, on=list(ROW))
    others = corrected[~corrected["table_name"].isin(OF_PLOTS)]
    of_trial = others["trial_id"].isin(plots["trial_id"])
    of_place = others["trial_id"].isna() & others["place"].isin(site_years["place"])
    return pd.concat([on_rows, others[of_trial | of_place]], ignore_index=True)


def _estimate(gains: pd.DataFrame, estimate_id: str) -> pd.Series:
    """The row of an id; where only the data behind it changed, the error names the id it has now."""
    found = gains[gains["estimate_id"] == estimate_id]
    if len(found):
        return found.iloc[0]
    same = gains.loc[gains["estimate_id"].map(asked_part) == asked_part(estimate_id), "estimate_id"]
    if len(same):
        raise UserError(
            f'the data behind the estimate "{estimate_id}" changed since that page was made: it is now {same.iloc[0]}. '
            "The older figure stands in gains.csv of its edition, in the published folder."
        )
    hint = one_of(sorted(gains["estimate_id"]), estimate_id)
    near = hint if hint.startswith("did") else "ids stand in grey beside each average of the season reports"
    raise UserError(
        f'no estimate has the id "{estimate_id}": {near}. An id changes when the definition of its estimate or its data change.'
    )


def _of(view: pd.DataFrame, estimate: pd.Series) -> pd.DataFrame:
    return view[view["comparison_id"] == estimate["comparison_id"]]


def _site_years(views: Mapping[str, pd.DataFrame], estimate: pd.Series) -> pd.DataFrame:
    """The pooled site-years of the estimate's class, each with its weight where the estimate is a headline over all."""
    if estimate["moderator"] not in MODERATOR_COLUMNS:
        mine = _of(views["explored_site_years"], estimate)
        mine = mine[(mine["moderator"] == estimate["moderator"]) & (mine["level"] == estimate["level"])]
        return mine.assign(weight=float("nan")).sort_values(["season", "place"], ignore_index=True)
    used = _of(views["site_year_gains"], estimate)
    used = used[used["is_pooled"].eq(True)]
    columns = list(MODERATOR_COLUMNS[estimate["moderator"]])
    if columns:
        level = used[columns].fillna("").agg(" x ".join, axis=1)
        used = used[level == estimate["level"]]
    weights = _of(views["headline_weights"], estimate)
    if estimate["moderator"] != "all" or not estimate["is_headline"]:
        weights = weights.iloc[:0]
    weights = weights[weights["target"] == estimate["target"]].set_index("site_year_id")
    # as the leading method sees it, so that weights times gains add up to the estimate
    gain = used["site_year_id"].map(weights["gain"]).fillna(used["gain"])
    used = used.assign(weight=used["site_year_id"].map(weights["weight"]), gain=gain)
    return used.sort_values(["season", "place"], ignore_index=True)
