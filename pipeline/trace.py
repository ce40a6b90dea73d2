"""From any printed estimate down to its plots: the rows of the reports layer that it rests on, gathered."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import pandas as pd

from pipeline.errors import UserError, one_of

VIEWS = ("gains", "site_year_gains", "headline_weights", "left_out", "sources", "corrected_cells", "program")
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
    corrections: corrected_cells on the rows of those plots. run: the row of program.
    """

    estimate: pd.Series
    site_years: pd.DataFrame
    left_out: pd.DataFrame
    plots: pd.DataFrame
    corrections: pd.DataFrame
    run: pd.Series


def walk(views: Mapping[str, pd.DataFrame], estimate_id: str) -> Trace:
    """The walk down from one estimate.

    Args:
        views: the reports views named in VIEWS, by name.

    Raises:
        UserError: no estimate has this id.
    """
    gains = views["gains"]
    found = gains[gains["estimate_id"] == estimate_id]
    if found.empty:
        hint = one_of(sorted(gains["estimate_id"]), estimate_id)
        near = hint if hint.startswith("did") else "ids stand in grey beside each average of the season reports"
        raise UserError(f'no estimate has the id "{estimate_id}": {near}. An id changes when inputs or settings change.')
    estimate = found.iloc[0]
    site_years = _site_years(views, estimate)
    plots = _of(views["sources"], estimate)
    plots = plots[plots["site_year_id"].isin(site_years["site_year_id"])]
    rows = plots[["file", "sheet", "row_number"]].drop_duplicates()
    corrected = views["corrected_cells"].query("table_name == 'plots'").merge(rows, on=["file", "sheet", "row_number"])
    return Trace(estimate, site_years, _of(views["left_out"], estimate), plots, corrected, views["program"].iloc[0])


def _of(view: pd.DataFrame, estimate: pd.Series) -> pd.DataFrame:
    return view[view["comparison_id"] == estimate["comparison_id"]]


def _site_years(views: Mapping[str, pd.DataFrame], estimate: pd.Series) -> pd.DataFrame:
    """The pooled site-years of the estimate's class, each with its weight where the estimate is a headline over all."""
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
