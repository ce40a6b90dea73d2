"""Trials that a comparison leaves out, each with its reason."""

from __future__ import annotations

from collections.abc import Mapping

import pandas as pd

from pipeline.contract.tables import HOLDS_TRIAL
from pipeline.display.words.checks import check_column
from pipeline.display.words.numbers import capital
from pipeline.display.words.tables import Markdown, pipe_table
from pipeline.display.words.trials import place_and_season


def left_out_table(left_out: pd.DataFrame, findings: pd.DataFrame, says: Mapping[str, str]) -> Markdown:
    """Trials of a crop that a comparison leaves out, each with its reason and, where others use it or have another
    reason, which comparison that is.

    Args:
        left_out: rows of reports.left_out of one crop.
        findings: rows of reports.findings; the first that holds a trial is its reason.
        says: every comparison of the crop in words, by its id.
    """
    rows, caption = [], "Trials left out, with the reason. A trial is never left out for its yields."
    for (season, place, trial_id, reason), alike in left_out.groupby(
        ["season", "place", "trial_id", "reason"], dropna=False
    ):
        is_of_all = len(alike) == len(says)
        of = "" if is_of_all else f" ({'; '.join(dict.fromkeys(alike['comparison_id'].map(says)))})"
        trial = capital(f"{place_and_season(place, season)} ({trial_id})")
        rows.append({"Trial": trial, "Why": why_left_out(trial_id, reason, findings) + of})
    if left_out.groupby(["trial_id", "reason"]).size().lt(len(says)).any():
        caption += " At the end, in parentheses: of which comparisons, where not of all."
    return pipe_table(pd.DataFrame(rows), caption=caption, label="left-out", widths={"Trial": 33, "Why": 67})


def why_left_out(trial_id: str, reason: str, findings: pd.DataFrame) -> str:
    holding = findings[(findings["trial_id"] == trial_id) & (findings["severity"] == HOLDS_TRIAL)]
    if not reason.startswith("held: ") or holding.empty:
        return capital(reason)
    first = holding.sort_values(["file", "row_number"]).iloc[0]
    if not first["check_name"].startswith(f"{first['table_name']}."):
        return f"Held: {first['check_name']} ({first['found']})"
    if first["check_name"].endswith(" is empty"):
        return f"Held: {check_column(first['check_name'])} was not delivered"
    wanted = "a known word" if first["expected"].startswith("one of: ") else first["expected"]
    return f"Held: {check_column(first['check_name'])} delivered as {first['found']}; {wanted} is expected"
