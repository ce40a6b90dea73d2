"""What is judged of each input: the exit code, what is said, time, and that no delivered row is lost."""

from __future__ import annotations

import re
import signal
import time
from collections.abc import Iterator
from contextlib import contextmanager

import pandas as pd

from pipeline.incoming.sheet import NotRead, Sheet
from tests.hard_to_break.soak.deliveries import Rows

DOCUMENTED = {0, 1, 2, *(128 + number for number in (signal.SIGINT, signal.SIGTERM, signal.SIGHUP))}
OBEYED = re.compile(r"[\x00-\x08\x0b-\x1f\x7f-\x9f\u202a-\u202e\u2066-\u2069]")
LONGEST_MESSAGE = 20_000
# seconds of the processor; an input of these sizes takes a few hundredths
LONGEST_READING, LONGEST_RUN = 20, 120
BESIDE_THE_DATA = ("unit_row", "headings_in_two_rows")


class TooSlow(BaseException):
    """The input is not done within its time."""


@contextmanager
def within(seconds: float) -> Iterator[None]:
    """TooSlow where what is done takes more of the processor."""

    def ring(*_):
        raise TooSlow(f"more than {seconds} s")

    old = signal.signal(signal.SIGVTALRM, ring)
    signal.setitimer(signal.ITIMER_VIRTUAL, seconds)
    try:
        yield
    finally:
        signal.setitimer(signal.ITIMER_VIRTUAL, 0)
        signal.signal(signal.SIGVTALRM, old)


def of_refusal(said: str, name: str) -> list[str]:
    """A refusal names its file and is no longer than one can read."""
    faults = [] if said.startswith(name) else [f"a refusal that does not begin with {name}: {said[:200]!r}"]
    if len(said) > LONGEST_MESSAGE:
        faults.append(f"a refusal of {len(said)} characters")
    return faults


def of_screen(code: int, out: str, err: str) -> list[str]:
    """A documented exit code, a message where it is not 0, nothing that a terminal obeys, no traceback."""
    faults = [] if code in DOCUMENTED else [f"exit code {code}: {err[-300:]}"]
    if code and not err.strip():
        faults.append(f"exit code {code} without a word")
    for text in (out, err):
        if found := OBEYED.search(text):
            faults.append(
                f"raw control character {found[0]!r} on the screen: {text[max(found.start() - 80, 0) : found.end()]!r}"
            )
        if "Traceback (most recent" in text:
            faults.append(f"traceback: {text[-300:]}")
    return faults


def of_sheet(sheet: Sheet, rows: Rows) -> list[str]:
    """Each filled row is there: as data with its cells, or in a note as what stands around them."""
    filled = {
        number: [cell for cell in row if cell.strip()]
        for number, row in enumerate(rows, start=1)
        if any(map(str.strip, row))
    }
    n_beside = 1 + sum(note.what in BESIDE_THE_DATA for note in sheet.notes)
    faults = []
    if sheet.n_filled_rows + n_beside != len(filled):
        faults.append(f"{len(filled)} filled rows, read {sheet.n_filled_rows} and {n_beside} of headings")
    cells = zip(*sheet.columns.values(), strict=True)
    for number, row in zip(sheet.row_numbers, cells, strict=True):
        if sorted(filled.get(number, [])) != sorted(cell for cell in row if cell is not None):
            faults.append(f"row {number} holds {filled.get(number)}, read {row}")
            break
    return faults


def of_held(problem: NotRead, rows: Rows) -> list[str]:
    """Rows of a held file are counted, but for the headings, which may stand in two rows."""
    n_filled = sum(any(map(str.strip, row)) for row in rows)
    if problem.n_rows is None:
        return []  # its rows cannot be told apart
    return [] if n_filled - 2 <= problem.n_rows < n_filled else [f"{n_filled} filled rows, held {problem.n_rows}"]


def of_counts(counts: pd.DataFrame) -> list[str]:
    """delivered = used + set aside + held + superseded, by season and table."""
    sums = counts[["used", "set_aside", "held", "superseded"]].sum(axis=1)
    lost = counts[sums != counts["delivered"]]
    return [f"counts do not add up: {row}" for row in lost.to_dict("records")]


@contextmanager
def timed(times: dict[str, float], kind: str) -> Iterator[None]:
    start = time.process_time()
    yield
    times[kind] = max(times.get(kind, 0), time.process_time() - start)
