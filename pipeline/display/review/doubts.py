"""Cautions about a comparison's figures, each doubt computed from its rows.

Rows are rows of reports.* views. Sentences are plain text; the page escapes them.
"""

from __future__ import annotations

from collections.abc import Mapping

import pandas as pd

from pipeline.contract.vocabulary import TO_COME
from pipeline.display.review.checks import FAR
from pipeline.display.words.answers import TARGET, few_places
from pipeline.display.words.numbers import between, capital, count, listed, number, text
from pipeline.estimates.engines.interval_rules import ADJUSTMENTS
from pipeline.simulation import season_zero
from pipeline.simulation.calibration import PUBLISHED

FEW_SEASONS = 5
NEVER_TRIED = (
    "Whether such intervals catch the truth was not tried on trials laid out as these are: run make calibrate, then"
    " make report."
)


def doubts(
    comparison: Mapping,
    headlines: pd.DataFrame,
    agreement: pd.DataFrame,
    robustness: pd.DataFrame,
    diagnostics: pd.DataFrame,
    site_years: pd.DataFrame,
    flow: Mapping,
    calibration: pd.DataFrame,
    loses_as_good: pd.Series | None = None,
) -> list[str]:
    """Cautions about a comparison's figures, each doubt computed from its rows; never empty.

    loses_as_good: by row of robustness, where as good is shown: whether it no longer is.
    """
    said = []
    for target in agreement.loc[agreement["agrees"].notna() & agreement["agrees"].ne(True).fillna(False), "target"]:
        said.append(f"{capital(TARGET[target])}, the methods disagree: see the results by other methods.")
    for _, row in headlines.iterrows():
        if text(row["warnings"]):
            said.append(f"{capital(TARGET[row['target']])}, the fit warned: {row['warnings']}.")
    to_come = headlines[headlines["target"] == TO_COME]
    if comparison["n_seasons"] < FEW_SEASONS and to_come["estimate"].notna().any():
        said.append(
            f"{capital(count(comparison['n_seasons'], 'season'))} say little about how much seasons differ: the figure"
            " for future seasons rests on few of them."
        )
    printed = to_come[to_come["estimate"].notna()]
    if any(ADJUSTMENTS["season zero"] in text(rule) for rule in printed["rule"]):
        said.append(_season_zero(comparison["n_seasons"]))
    if headlines["estimate"].notna().any() and (few := few_places(comparison)):
        said.append(few)
    said += _tipping(robustness, robustness["changes_conclusion"], "Whether zero is inside the interval")
    if loses_as_good is not None:
        said += _tipping(robustness, loses_as_good, "Whether as good is shown")
    far = diagnostics[diagnostics["standardized"].abs() > FAR]
    if len(far):
        where = listed(sorted({f"{row.place} {row.season}" for row in far.itertuples()}))
        said.append(
            f"{count(len(far), 'residual')} beyond {number(FAR)} standard deviations ({where}): check the field notes."
        )
    near = site_years[site_years["near_cut"].eq(True).fillna(False)]
    if len(near):
        said.append(
            f"{count(len(near), 'site-year')} within 0.2 of a rainfall cut point: other cut points could class"
            f" {'it' if len(near) == 1 else 'them'} differently."
        )
    if flow["n_held"]:
        said.append(
            f"{count(flow['n_held'], 'trial')} of the crop held (kept out): the figures may change when what the checks"
            " flagged is resolved."
        )
    if comparison["n_trials_missing_rates"]:
        said.append(f"{count(comparison['n_trials_missing_rates'], 'trial')} without one of the named rates.")
    said += _not_caught(calibration, comparison["declared_target"])
    said.append(
        "Site-years are those that cooperators offered, not a random draw from the region: how well they represent it"
        " is a judgment."
    )
    return said


def _season_zero(n_seasons: int) -> str:
    """How often the truth was held given such an estimate, in simulations of as many seasons or the next fewer."""
    rows = season_zero.where_seasons_differ(n_seasons)
    rows = rows[rows["n_seasons"] == rows["n_seasons"].max()]
    held = between(100 * rows["coverage_zero"].min(), 100 * rows["coverage_zero"].max(), 1)
    low, high = season_zero.DIFFER
    return (
        f"{season_zero.NOT_ALIKE} In simulations of {count(rows['n_seasons'].max(), 'season')} that did differ (season"
        f" variance {low:g} to {high:g} times that between site-years), the interval for future seasons held the true"
        f" average in {held}% of the programs with such an estimate."
    )


def _tipping(robustness: pd.DataFrame, changes: pd.Series, says: str) -> list[str]:
    robustness = robustness[robustness["estimate"].notna()]
    tipping = robustness[changes.reindex(robustness.index).eq(True).fillna(False)]
    if tipping.empty:
        return []
    counts = [
        f"{kind} {number(len(of_kind))} of {count((robustness['kind'] == kind).sum(), 'time')}"
        for kind, of_kind in tipping.groupby("kind", sort=False)
    ]
    return [f"{says} depends on a part of the data or on the method: {'; '.join(counts)}."]


def _not_caught(calibration: pd.DataFrame, target: str) -> list[str]:
    if calibration.empty:
        return [NEVER_TRIED]
    ours = calibration[(calibration["method"] == PUBLISHED) & (calibration["target"] == target)]
    narrow = ours[ours["verdict"].str.startswith("too narrow")]
    return (
        [f"On simulated trials of this layout the interval is too narrow where {listed(narrow['truth'])}."]
        if len(narrow)
        else []
    )
