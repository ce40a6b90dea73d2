"""Trials that a comparison leaves out, each with its reason."""

from __future__ import annotations

import pandas as pd

from pipeline.contract.tables import HOLDS_TRIAL
from pipeline.display.words.checks import check_column
from pipeline.display.words.numbers import capital
from pipeline.display.words.tables import Markdown, pipe_table


def left_out_table(left_out: pd.DataFrame, findings: pd.DataFrame) -> Markdown:
    """Trials of a crop that a comparison leaves out, each with its reason.

    Args:
        left_out: rows of reports.left_out of one crop.
        findings: rows of reports.findings; the first that holds a trial is its reason.
    """
    rows = []
    for (season, place, trial_id, reason), _ in left_out.groupby(
        ["season", "place", "trial_id", "reason"], dropna=False
    ):
        rows.append({"Trial": f"{place} {season} ({trial_id})", "Why": why_left_out(trial_id, reason, findings)})
    caption = "Trials left out, with the reason. A trial is never left out for its yields."
    return pipe_table(pd.DataFrame(rows), caption=caption, label="left-out", widths={"Trial": 33, "Why": 67})


def why_left_out(trial_id: str, reason: str, findings: pd.DataFrame) -> str:
    holding = findings[(findings["trial_id"] == trial_id) & (findings["severity"] == HOLDS_TRIAL)]
    if not reason.startswith("held: ") or holding.empty:
        return capital(reason)
    first = holding.sort_values(["file", "row_number"]).iloc[0]
    if not first["check_name"].startswith(f"{first['table_name']}."):
        return f"Held: {first['check_name']} ({first['found']})"
    wanted = "a known word" if first["expected"].startswith("one of: ") else first["expected"]
    return f"Held: {check_column(first['check_name'])} delivered as {first['found']}; {wanted} is expected"
