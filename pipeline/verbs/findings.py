"""What needs mending: on the screen, whole in a file, and as a letter to each sender."""

from __future__ import annotations

import re
from datetime import date
from pathlib import Path

import pandas as pd

from pipeline import console
from pipeline.contract.checks import Check
from pipeline.display.letters.asked import asked_of_senders, may_follow
from pipeline.display.letters.letter import Letter, letters
from pipeline.errors import UserError, one_of
from pipeline.file_names import file_names
from pipeline.incoming.deliveries import folder_of
from pipeline.planning.program_file import FILL_IN
from pipeline.publishing.scratch import scratch_in
from pipeline.settings.file import settings_text
from pipeline.sql_steps import written_checks
from pipeline.steps.checked import Checked, check
from pipeline.steps.differences import ChangedFile, Renamed

FOLDER = "findings"  # in the program's folder
WHOLE_LIST = "all.txt"
MOST_CELLS_SHOWN = 6
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
    moved = {path for each in found.renamed for pair in each.files for path in pair}
    console.arrivals(
        *([path for path in paths if path not in moved] for paths in (found.arrived, found.withdrawn)), is_all=not moved
    )
    for each in found.renamed:
        console.say(_now_called(each))
    for told in (*map(_other_than_before, found.changed_files), *found.changed_beside):
        console.say(f"   {told}")
    if only is None:
        console.row_counts(found.row_counts)
        console.findings(found.findings, found.trials)
    else:
        of_sender = _of_sender(found, written, only)
        console.say(f"In what {only} sent:")
        console.findings(*of_sender)
    console.say(f"The whole list: {folder / WHOLE_LIST}")
    if marked := _marked_lines(found.program.folder):
        console.say(
            f"program.yml: {console.count(len(marked), 'line')} still marked {FILL_IN}, the first is line {marked[0]}."
            " Write there what you mean, then take the mark away."
        )
    if n_asked := sum(letter.n_open > 0 for letter in written):
        console.say(f"{console.count(n_asked, 'letter')} to send, each to who can answer: {folder}")
    if n_waiting := may_follow(found.findings, found.files, _checks()).sum():
        console.say(
            f"{console.count(n_waiting, 'finding')} in no letter yet: what is missed may stand in a file that is not"
            " read. Settle that file first."
        )


def _marked_lines(folder: Path) -> list[int]:
    """The lines of program.yml that make new marked and nobody filled in."""
    text = settings_text(folder / "program.yml", name="program.yml")
    return [number for number, line in enumerate(text.splitlines(), start=1) if f"# {FILL_IN}" in line]


def _now_called(each: Renamed) -> str:
    """'seasons/2094/coop-01 is now seasons/2094/coop-one: the same 5 files, 312 rows.'"""
    files = (
        f"{console.count(len(each.files), 'file')}, " if len(each.files) > 1 or each.before != each.files[0][0] else ""
    )
    return f"{each.before} is now {each.after}: the same {files}{console.count(each.n_rows, 'row')}."


def _other_than_before(changed: ChangedFile) -> str:
    """'seasons/2091/plots.csv: row 4, harvest_weight_lb: 40.2, now 40.9'; the first cells of many."""
    cells = [f"row {c.row_number}, {c.heading}: {_cell(c.before)}, now {_cell(c.after)}" for c in changed.cells]
    if len(cells) > MOST_CELLS_SHOWN:
        cells = [*cells[:MOST_CELLS_SHOWN], f"and {console.count(len(cells) - MOST_CELLS_SHOWN, 'more cell')}"]
    counts = ((changed.n_rows_more, "more"), (changed.n_rows_less, "less"))
    told = [
        *cells,
        *(f"{console.count(n, 'row')} {word}" for n, word in counts if n),
        *(f"{heading} is new" for heading in changed.new_headings),
        *(f"{heading} is gone" for heading in changed.lost_headings),
    ]
    return f"{changed.file}: {'; '.join(told) or 'the same rows'}"


def _cell(text: str | None) -> str:
    return text if text and text.strip() else "(empty)"


def _letters(found: Checked) -> list[Letter]:
    asked = asked_of_senders(found.findings, found.files, _checks())
    return letters(asked, found.files, program=found.program.name, today=date.today())


def _checks() -> list[Check]:
    return [check for check, _ in written_checks()]


def _of_sender(found: Checked, written: list[Letter], only: str) -> tuple[pd.DataFrame, pd.DataFrame]:
    """The findings in one sender's files, and the trials that they sent or that these are about."""
    mine = [letter for letter in written if only in (letter.name, letter.sender or letter.name)]
    if not mine:
        names = sorted({letter.name for letter in written} | {letter.sender for letter in written if letter.sender})
        raise UserError(f'"{only}" sent nothing: {one_of(names, only)}')
    folders = {f"seasons/{letter.season}/{letter.sender}".rstrip("/") for letter in mine}
    theirs, of_trials = (each[each["file"].map(folder_of).isin(folders)] for each in (found.findings, found.trials))
    known = {*of_trials["trial_id"], *theirs["trial_id"].dropna()}
    return theirs, found.trials[found.trials["trial_id"].isin(known)]


def _write(folder: Path, found: Checked, written: list[Letter]) -> None:
    """Puts the list and the letters in place and takes away letters of an earlier run that ask what is answered now."""
    texts = {WHOLE_LIST: console.findings_text(found.findings, found.trials)}
    names = file_names(letter.name for letter in written)
    for letter in written:
        if letter.n_open:
            name = names[letter.name]
            texts |= {f"{name}.txt": letter.text, f"{name}.html": letter.html}
    with scratch_in(folder, what="the findings") as scratch:
        for name, text in texts.items():
            (scratch / name).write_text(text, encoding="utf-8")
            (scratch / name).replace(folder / name)
    there = {path.name for path in folder.iterdir()}
    for name in sorted(there - set(texts)):
        both = {f"{name.rpartition('.')[0]}.{suffix}" for suffix in ("txt", "html")}
        if LETTER.fullmatch(name) and both <= there:  # a note or a copy of the analyst's own is one alone
            (folder / name).unlink()
