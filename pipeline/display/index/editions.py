"""Editions on the index: which were published, and what moved the headlines in the newest run."""

from __future__ import annotations

import pandas as pd

from pipeline.display.words.numbers import NBSP, between, count, listed, number
from pipeline.display.words.tables import Markdown, escaped, joined

NOTHING_BEFORE = "Nothing to compare with yet: no earlier run had other data or settings."
UNCHANGED = "No headline changed since the run before."


def editions_list(editions: pd.DataFrame) -> Markdown:
    """Each edition with a link to its gains, newest first."""
    lines = [
        f"- [{escaped(row.edition)}](editions/{row.edition}/gains.csv): code {escaped(row.code_commit)}{', this one' if row.is_new else ''}"
        for row in editions.itertuples()
    ]
    return joined([Markdown(line) for line in lines], by="\n")


def changes(all_changes: pd.DataFrame, run_id: str) -> list[str]:
    """What a run moved: a sentence per headline whose print changed, with its causes, and how many stand still.

    A headline moved where its average, its interval or its site-years are printed otherwise than before. The screen and
    the index say the same.

    Args:
        all_changes: rows of reports.changes of all runs.
    """
    of_run = all_changes[all_changes["run_id"] == run_id]
    if of_run.empty:
        return [NOTHING_BEFORE if all_changes.empty else UNCHANGED]
    said, n_still = [], 0
    for (_, target), steps in of_run.groupby(["position", "target"]):
        first, last = steps.iloc[0], steps.iloc[-1]
        before, after = _printed(first, "before"), _printed(last, "after")
        if before == after:
            n_still += 1
            continue
        causes = "; ".join(f"{row['cause']}: {_moved(row)}" for _, row in steps.iterrows())
        why = causes if len(steps) > 1 else last["cause"]
        said.append(f"{first['comparison_id']}, {target}: {before}, now {after} ({why}).")
    if n_still:
        what = listed(of_run["cause"].drop_duplicates())
        said.append(f"{count(n_still, 'headline')} did not move as printed (changed: {what}).")
    return said


def _printed(row: pd.Series, which: str) -> str:
    """'5.8 (1.2 to 10.4) bu/ac from 33 site-years'."""
    n = row[f"n_{which}"]
    return f"{_level(row, which)} from {count(0 if pd.isna(n) else int(n), 'site-year')}"


def _level(row: pd.Series, which: str) -> str:
    if pd.isna(row[which]):
        return "no average"
    low, high = row[f"conf_low_{which}"], row[f"conf_high_{which}"]
    interval = "" if pd.isna(low) else f" ({between(low, high, row['digits'])})"
    return f"{number(row[which], row['digits'])}{interval}{NBSP}{row['unit']}"


def _moved(row: pd.Series) -> str:
    before, after = _level(row, "before"), _level(row, "after")
    return "not moved as printed" if before == after else f"{before} to {after}"
