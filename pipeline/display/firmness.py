"""Whether a result hangs on a part of the data: one season, place or site-year left out.

Rows are rows of reports.robustness of one comparison and target with moderator 'all'. Sentences are plain text; the page
escapes them.
"""

from __future__ import annotations

from collections.abc import Mapping

import pandas as pd

from pipeline.display.numbers import listed
from pipeline.display.wording import verdict
from pipeline.estimates.robustness import PLACE, SEASON, SITE_YEAR

PARTS = {SEASON: "season", PLACE: "place", SITE_YEAR: "site-year"}
# What hangs on the part, and what becomes of it without the part.
TOLD = {
    "gain": ("The gain", "it is no longer shown"),
    "loss": ("The loss", "it is no longer shown"),
    "not shown": ("That the average could be zero", "zero lies outside the interval"),
}


def _changing(robustness: pd.DataFrame) -> list[tuple[str, int, int]]:
    """Part, how often leaving one out changes whether zero is inside the interval, and out of how many."""
    known = robustness[robustness["estimate"].notna()]
    found = []
    for kind, part in PARTS.items():
        changes = known.loc[known["kind"] == kind, "changes_conclusion"].eq(True).fillna(False)
        if changes.any():
            found.append((part, int(changes.sum()), len(changes)))
    return found


def hangs_on(robustness: pd.DataFrame) -> str:
    """'hangs on single seasons or places'; empty where no single part changes the conclusion."""
    parts = [f"{part}s" for part, _, _ in _changing(robustness)]
    return f"hangs on single {listed(parts, 'or')}" if parts else ""


def how_firm(leading: Mapping, robustness: pd.DataFrame) -> str:
    """One sentence on what a headline hangs on and how often; empty where it hangs on no single part or claims nothing."""
    changing, found = _changing(robustness), verdict(leading)
    if not changing or found not in TOLD:
        return ""
    what, becomes = TOLD[found]
    parts = listed((f"{part}s" for part, _, _ in changing), "or")
    (part, n, of), *others = changing
    cases = [f"with one {part} left out {becomes} in {n} of {of} cases"]
    cases += [f"with one {part}, in {n} of {of}" for part, n, of in others]
    return f"{what} hangs on single {parts}: {'; '.join(cases)}."
