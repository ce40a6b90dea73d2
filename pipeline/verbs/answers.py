"""Questions to the warehouse as the last report left it: may a claim be printed, and what does an estimate rest on."""

from __future__ import annotations

from pathlib import Path

import pandas as pd

from pipeline import console
from pipeline import trace as tracing
from pipeline.display.review import short_trace
from pipeline.display.review import trace as trace_words
from pipeline.display.words import claims as claim_words
from pipeline.display.words.numbers import count
from pipeline.errors import UserError
from pipeline.incoming.deliveries import find_files, input_files
from pipeline.provenance import inputs_hash, sha256_of
from pipeline.settings.program import read_program
from pipeline.verbs.last_report import last_report, tables_of

MAY_NOT_BE_PRINTED = 2


def claims(folder: Path) -> int:
    """Says every claim's verdict; exit code 2 where one is contradicted or says more than is shown, else 0.

    Raises:
        UserError: no report was made yet, or program.yml or the season folders changed since.
    """
    views = stored_views(folder, ("claims", "program", *claim_words.EVIDENCE))
    _refuse_stale(folder, views["program"].iloc[0])
    found = claim_words.evidence_in(views)
    for line in claim_words.lines(views["claims"], found):
        console.say(line)
    blocking, unshown = claim_words.blocking(views["claims"]), claim_words.unshown(views["claims"])
    if len(blocking):
        console.say(f"{count(len(blocking), 'claim')} must not be printed as worded: {_numbers(blocking)}.")
    if len(unshown):
        console.say(f"Not shown by any result yet: {'claim' if len(unshown) == 1 else 'claims'} {_numbers(unshown)}.")
    return MAY_NOT_BE_PRINTED if len(blocking) else 0


def _numbers(claims: pd.DataFrame) -> str:
    return ", ".join(str(position) for position in claims["position"])


def trace(estimate_id: str, folder: Path, *, whole: bool = False) -> None:
    """Says what an estimate of the last report rests on: in ten lines, or whole down to every file and row."""
    walked = tracing.walk(stored_views(folder, tracing.VIEWS), estimate_id)
    for line in (trace_words if whole else short_trace).lines(walked):
        console.say(line)


def stored_views(folder: Path, names: tuple[str, ...] = ()) -> dict[str, pd.DataFrame]:
    """Views of the reports layer (all without names), read without touching the warehouse."""
    with last_report(read_program(folder), [f"reports.{name}" for name in names]) as warehouse:
        every = [name.removeprefix("reports.") for name in tables_of(warehouse) if name.startswith("reports.")]
        return {name: warehouse.table(f"reports.{name}") for name in names or every}


def _refuse_stale(folder: Path, run: pd.Series) -> None:
    """A verdict on yesterday's data must not guard today's print."""
    changed = []
    if sha256_of(folder / "program.yml") != run["settings_sha256"]:
        changed.append("program.yml")
    if inputs_hash(input_files(folder, find_files(folder))) != run["inputs_sha256"]:
        changed.append("the season folders")
    if changed:
        raise UserError(f"{' and '.join(changed)} changed since the last report. Run make report, then this again.")
