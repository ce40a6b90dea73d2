"""What needs mending: on the screen, whole in a file, and as a letter to each sender."""

from __future__ import annotations

import re
from datetime import date
from pathlib import Path

import pandas as pd

from pipeline import console
from pipeline.contract.checks import ANALYST
from pipeline.display.letters.letter import Letter, letters
from pipeline.errors import UserError, one_of
from pipeline.incoming.deliveries import folder_of
from pipeline.publishing.scratch import scratch_in
from pipeline.sql_steps import written_checks
from pipeline.steps.checked import Checked, check

FOLDER = "findings"  # in the program's folder
WHOLE_LIST = "all.txt"
LETTER = re.compile(r"\d{4}(-.*)?\.(txt|html)")  # what a letter's file is called: its season, then its sender


def findings(folder: Path, only: str | None = None) -> None:
    """Reads and checks, prints what was found, writes the letters; no estimate, no page, no change to the warehouse.

    only: a sender, by the name of their folder: then only what is asked of them is printed.
    """
    with console.steps() as tell:
        found = check(folder, tell)
    tell_findings(found, only)


def tell_findings(found: Checked, only: str | None = None) -> None:
    """Prints what was found and where the whole of it stands; writes the whole list and the letters."""
    written = _letters(found)
    folder = found.program.folder / FOLDER
    _write(folder, found, written)
    console.arrivals(found.arrived, found.withdrawn)
    if only is None:
        console.row_counts(found.row_counts)
        console.findings(found.findings, found.trials)
    else:
        console.findings(*_of_sender(found, written, only))
    console.say(f"The whole list: {folder / WHOLE_LIST}")
    if n_asked := sum(letter.n_open > 0 for letter in written):
        console.say(f"{console.count(n_asked, 'letter')} to send, each to who can answer: {folder}")


def _letters(found: Checked) -> list[Letter]:
    for_analyst = {check.name for check, _ in written_checks() if check.asks == ANALYST}
    return letters(
        found.findings, found.files, for_analyst=for_analyst, program=found.program.name, today=date.today()
    )  # fmt: skip


def _of_sender(found: Checked, written: list[Letter], only: str) -> tuple[pd.DataFrame, pd.DataFrame]:
    """The findings in one sender's files, and their trials."""
    mine = [letter for letter in written if only in (letter.name, letter.sender or letter.name)]
    if not mine:
        names = sorted({letter.name for letter in written} | {letter.sender for letter in written if letter.sender})
        raise UserError(f'"{only}" sent nothing: {one_of(names, only)}')
    folders = {f"seasons/{letter.season}/{letter.sender}".rstrip("/") for letter in mine}
    return tuple(frame[frame["file"].map(folder_of).isin(folders)] for frame in (found.findings, found.trials))


def _write(folder: Path, found: Checked, written: list[Letter]) -> None:
    """Puts the list and the letters in place and takes away letters of an earlier run that ask what is answered now."""
    texts = {WHOLE_LIST: console.findings_text(found.findings, found.trials)}
    for letter in written:
        if letter.n_open:
            name = letter.name.replace("/", "-")
            texts |= {f"{name}.txt": letter.text, f"{name}.html": letter.html}
    with scratch_in(folder, what="the findings") as scratch:
        for name, text in texts.items():
            (scratch / name).write_text(text, encoding="utf-8")
            (scratch / name).replace(folder / name)
    for path in folder.iterdir():
        if LETTER.fullmatch(path.name) and path.name not in texts:
            path.unlink()
