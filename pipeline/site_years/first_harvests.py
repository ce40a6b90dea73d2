"""When the first yield behind a comparison can have been seen: what a date of declaration is held against."""

from __future__ import annotations

import pandas as pd

COLUMNS = ("comparison_id", "crop", "first_harvest", "known_by", "trial_id", "first_printed")
HARVESTED, PLANTED, SEASON = "harvested", "planted", "season"  # what the day is known by


def first_harvests(eligibility: pd.DataFrame, trials: pd.DataFrame, printed_trials: set[str]) -> pd.DataFrame:
    """One row per comparison that uses a trial, columns COLUMNS: the earliest day on which a yield can have been known.

    A trial without a harvest date counts from its planting, one without either from the first day of its season's year.
    Trials known only by print were seen by their printers, and count only where a comparison uses no others; else
    the earliest of them is first_printed.

    Args:
        eligibility: comparison_id, trial_id, is_used. trials: trial_id, crop, season, planted, harvested.
    """
    used = eligibility.loc[eligibility["is_used"], ["comparison_id", "trial_id"]]
    dated = _dated(used.merge(trials[["trial_id", "crop", "season", "planted", "harvested"]], on="trial_id"))
    is_printed = dated["trial_id"].isin(printed_trials)
    has_own = dated["comparison_id"].isin(dated.loc[~is_printed, "comparison_id"])
    first_printed = dated[is_printed & has_own].groupby("comparison_id")["first_harvest"].min().rename("first_printed")
    first = dated[~is_printed | ~has_own].sort_values(["first_harvest", "trial_id"]).drop_duplicates("comparison_id")
    return first.merge(first_printed, left_on="comparison_id", right_index=True, how="left")[list(COLUMNS)]


def _dated(trials: pd.DataFrame) -> pd.DataFrame:
    """With first_harvest and what it is known by."""
    days = {
        HARVESTED: pd.to_datetime(trials["harvested"]),
        PLANTED: pd.to_datetime(trials["planted"]),
        SEASON: pd.to_datetime(trials["season"].astype(int).astype(str) + "-01-01"),
    }
    known_by = pd.Series(SEASON, index=trials.index)
    for name in (PLANTED, HARVESTED):
        known_by = known_by.mask(days[name].notna(), name)
    first = days[HARVESTED].fillna(days[PLANTED]).fillna(days[SEASON])
    return trials.assign(first_harvest=first, known_by=known_by)
