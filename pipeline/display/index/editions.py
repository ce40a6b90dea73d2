"""Editions on the index: which were published, and what moved the headlines in the newest run."""

from __future__ import annotations

import pandas as pd

from pipeline.contract.vocabulary import AS_GOOD, CLAIM
from pipeline.display.words.answers import TARGET_NAMES
from pipeline.display.words.numbers import NBSP, between, count, listed, number
from pipeline.display.words.tables import Markdown, escaped, joined
from pipeline.verdicts import is_few

NOTHING_BEFORE = "Nothing to compare with yet: no earlier run had other data or settings."
NO_AVERAGE = "no average"
UNCHANGED = "No headline changed since the run before."


def editions_list(editions: pd.DataFrame) -> Markdown:
    """Each edition with a link to its gains, newest first."""
    lines = [
        f"- [{escaped(row.edition)}](editions/{row.edition}/gains.csv): code"
        f" {escaped(row.code_commit)}{', this one' if row.is_new else ''}"
        for row in editions.itertuples()
    ]
    return joined([Markdown(line) for line in lines], by="\n")


def changes(all_changes: pd.DataFrame, verdicts: pd.DataFrame, run_id: str) -> list[str]:
    """What a run moved: a sentence per headline whose print changed, with its causes, how many stand still, and
    verdicts.

    A headline moved where its average, its interval, its site-years, what is shown or the method that leads is another
    than before. The screen and the index say the same.

    Args:
        all_changes: rows of reports.changes of all runs.
        verdicts: rows of reports.verdict_changes.
    """
    return [*_headlines(all_changes, run_id), *_verdicts(verdicts[verdicts["run_id"] == run_id])]


def _headlines(all_changes: pd.DataFrame, run_id: str) -> list[str]:
    of_run = all_changes[all_changes["run_id"] == run_id]
    if of_run.empty:
        return [NOTHING_BEFORE if all_changes.empty else UNCHANGED]
    said, n_still = [], 0
    for (_, target), steps in of_run.groupby(["position", "target"]):
        first, last = steps.iloc[0], steps.iloc[-1]
        before, after = _printed(first, "before"), _printed(last, "after")
        otherwise = f"{_shown_otherwise(first, last)}{_led_otherwise(first, last)}"
        if before == after and not otherwise:
            n_still += 1
            continue
        causes = "; ".join(f"{row['cause']}: {_moved(row)}" for _, row in steps.iterrows())
        why = causes if len(steps) > 1 else last["cause"]
        # the run before had no such comparison where it had no count either
        now = f"new, {after}" if pd.isna(first["n_before"]) else f"{before}, now {after}"
        said.append(f"{first['comparison_id']}, {TARGET_NAMES[target]}: {now} ({why}).{otherwise}")
    if n_still:
        what = listed(of_run["cause"].drop_duplicates())
        said.append(f"{count(n_still, 'headline')} did not move as printed (changed: {what}).")
    return said


def _verdicts(changed: pd.DataFrame) -> list[str]:
    """'Claim "Two more bushels": borne out before, not shown now.'"""
    subjects = {CLAIM: 'Claim "{what}"', AS_GOOD: "As good, {what}, {target}"}
    said = []
    for row in changed.to_dict("records"):
        subject = subjects[row["kind"]].format(what=row["what"], target=TARGET_NAMES.get(row["target"], ""))
        said.append(f"{subject}: {row['before']} before, {row['after']} now.")
    return said


def _shown_otherwise(first: pd.Series, last: pd.Series) -> str:
    before, after = _shown(first, "before"), _shown(last, "after")
    if before in (None, after) or after == NO_AVERAGE:
        return ""
    return f" Shown now: {after}." if before == NO_AVERAGE else f" Shown before: {before}. Shown now: {after}."


def _shown(row: pd.Series, which: str) -> str | None:
    """What a headline allows to be said; None where an older run did not keep how many seasons it had."""
    if pd.isna(row[which]) or pd.isna(row[f"conf_low_{which}"]):
        return NO_AVERAGE
    if pd.isna(row[f"n_seasons_{which}"]):
        return None
    counted = {name: row[f"{name}_{which}"] for name in ("n", "n_seasons")}
    if is_few({"target": row["target"], "n_site_years": counted["n"], "n_seasons": counted["n_seasons"]}):
        return "too few trials or seasons to claim anything"
    if row[f"conf_low_{which}"] > 0:
        return "a gain"
    return "a loss" if row[f"conf_high_{which}"] < 0 else "neither a gain nor a loss"


def _led_otherwise(first: pd.Series, last: pd.Series) -> str:
    before, after = first["method_before"], last["method_after"]
    if pd.isna(before) or pd.isna(after) or before == after:
        return ""
    return f" The method that leads was {before}; now it is {after}."


def _printed(row: pd.Series, which: str) -> str:
    """'5.8 (1.2 to 10.4) bu/ac from 33 site-years'."""
    n = row[f"n_{which}"]
    return f"{_level(row, which)} from {count(0 if pd.isna(n) else int(n), 'site-year')}"


def _level(row: pd.Series, which: str) -> str:
    if pd.isna(row[which]):
        return NO_AVERAGE
    low, high = row[f"conf_low_{which}"], row[f"conf_high_{which}"]
    interval = "" if pd.isna(low) else f" ({between(low, high, row['digits'])})"
    return f"{number(row[which], row['digits'])}{interval}{NBSP}{row['unit']}"


def _moved(row: pd.Series) -> str:
    before, after = _level(row, "before"), _level(row, "after")
    return "not moved as printed" if before == after else f"{before} to {after}"
