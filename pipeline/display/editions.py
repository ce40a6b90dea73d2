"""Editions on the index: which were published, and what moved the headlines in the newest run."""

from __future__ import annotations

import pandas as pd

from pipeline.display.numbers import NBSP, number
from pipeline.display.tables import Markdown, escaped, joined

FIRST_RUN = "This is the first run: nothing to compare with."


def editions_list(editions: pd.DataFrame) -> Markdown:
    """Each edition with a link to its gains, newest first."""
    lines = [
        f"- [{escaped(row.edition)}](editions/{row.edition}/gains.csv): code {escaped(row.code_commit)}{', this one' if row.is_new else ''}"
        for row in editions.itertuples()
    ]
    return joined([Markdown(line) for line in lines], by="\n")


def changes(found: pd.DataFrame, run_id: str) -> list[str]:
    """What moved each headline in a run, cause by cause; only headlines that moved."""
    of_run = found[found["run_id"] == run_id]
    if found.empty:
        return [FIRST_RUN]
    said = []
    for (_, target), steps in of_run.groupby(["position", "target"]):
        first, last = steps.iloc[0], steps.iloc[-1]
        if _level(first["before"], first) != _level(last["after"], last):
            causes = "; ".join(
                f"{row['cause']}: {_level(row['before'], row)} to {_level(row['after'], row)}"
                for _, row in steps.iterrows()
            )
            said.append(
                f"{first['comparison_id']}, {target}: {_level(first['before'], first)} to {_level(last['after'], last)}{NBSP}{last['unit']} ({causes})."
            )
    return said or ["No headline changed since the run before."]


def _level(value: float, row: pd.Series) -> str:
    return "none" if pd.isna(value) else number(value, row["digits"])
