"""Whether a result depends on a part of the data: one season, place or site-year left out.

Rows are rows of reports.robustness of one comparison and target with moderator 'all'. Sentences are plain text; the
page escapes them. A gain is held against zero, as good against its margin.
"""

from __future__ import annotations

from collections.abc import Mapping

import pandas as pd

from pipeline.contract.vocabulary import NOT_SHOWN
from pipeline.display.words.answers import verdict
from pipeline.display.words.numbers import listed
from pipeline.display.words.passes import is_shown_as_good
from pipeline.estimates.average.robustness import PLACE, SEASON, SITE_YEAR

PARTS = {SEASON: "season", PLACE: "place", SITE_YEAR: "site-year"}
# What becomes of a verdict without the part.
BECOMES = {
    "gain": "the gain is no longer shown",
    "loss": "the loss is no longer shown",
    NOT_SHOWN: "zero is outside the interval",
}


def _changing(robustness: pd.DataFrame) -> list[tuple[str, int, int]]:
    """Part, how often leaving one out changes whether zero is inside the interval, and out of how many."""
    known = robustness[robustness["estimate"].notna()]
    parts = []
    for kind, part in PARTS.items():
        changes = known.loc[known["kind"] == kind, "changes_conclusion"].eq(True).fillna(False)
        if changes.any():
            parts.append((part, int(changes.sum()), len(changes)))
    return parts


def hangs_on(robustness: pd.DataFrame) -> str:
    """'depends on one season or place'; empty where no single part changes the conclusion."""
    parts = [part for part, _, _ in _changing(robustness)]
    return f"depends on one {listed(parts[:2], 'or')}" if parts else ""  # site-year only where nothing larger does


def how_firm(leading: Mapping, robustness: pd.DataFrame) -> str:
    """One sentence on what a headline hangs on and how often; empty where it hangs on no single part or claims
    nothing.
    """
    changing, becomes = _changing(robustness), BECOMES.get(verdict(leading))
    if not changing or becomes is None:
        return ""
    return _cases(changing, becomes)


def how_firm_as_good(test: Mapping, robustness: pd.DataFrame) -> str:
    """One sentence on what a shown 'as good' hangs on and how often; empty where it hangs on no single part or is not
    shown.

    test: the declared row of reports.as_good.
    """
    if not is_shown_as_good(test):
        return ""
    rows = robustness.assign(changes_conclusion=loses_as_good(test, robustness))
    changing = _changing(rows)
    return _cases(changing, "as good is no longer shown") if changing else ""


def loses_as_good(test: Mapping, robustness: pd.DataFrame) -> pd.Series:
    """By row: as good is no longer shown, since the lower limit reaches the margin; None where there is no limit."""
    low = robustness["ratio_low" if test["unit"] == "ratio" else "conf_low"]
    return low.le(test["margin_limit"]).astype("boolean").mask(low.isna())


def _cases(changing: list[tuple[str, int, int]], becomes: str) -> str:
    (part, n, of), *others = changing
    cases = [f"Leave out one {part}, and {becomes} in {n} of {of} cases"]
    cases += [f"one {part}, in {n} of {of}" for part, n, of in others]
    return f"{'; '.join(cases)}."
