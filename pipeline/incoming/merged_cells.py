"""Cells merged down a column, such as one block number beside its plots: the text stands for each of their rows.

A number that was weighed or measured is not spread: merged, it may be one value of several plots. Nor is a plot's name.
"""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from dataclasses import replace

from pipeline.contract.tables import declared_tables
from pipeline.incoming.headings import SendersWords
from pipeline.incoming.sheet import Note, Sheet, row_ranges

MERGED, FILLED = "merged_cells", "merged_cells_filled"


def merged_note(coordinates: str, rows: range, heading: str | None) -> Note:
    """A note on merged cells such as B3:B4; heading: over the first of them, where there is one."""
    sentence = (
        f"The cells {coordinates} are merged: only the first holds the value, "
        "the others are read as empty. Unmerge them and type the value into each row it is meant for."
    )
    return Note(rows.start, heading, f"{coordinates}, {row_ranges(list(rows))}", MERGED, sentence)


def fill_merged(sheet: Sheet, words: SendersWords) -> None:
    """Fills the merged cells of a sheet's columns that name things, and says so in its notes."""
    table = declared_tables().get(words.table(sheet.table))
    for heading, first, last in sheet.merged if table else ():
        column = table.column_under(words.heading(table.name, heading))
        if column is None or column.type == "number" or column.name == "plot":
            continue
        cells = sheet.columns[heading]
        start, stop = bisect_left(sheet.row_numbers, first), bisect_right(sheet.row_numbers, last)
        cells[start:stop] = cells[start : start + 1] * (stop - start)
        sheet.notes[:] = [_told(note, first, heading) for note in sheet.notes]


def _told(note: Note, row: int, heading: str) -> Note:
    if (note.what, note.row, note.column) != (MERGED, row, heading):
        return note
    coordinates = (note.found or "").split(",")[0]
    sentence = f"The cells {coordinates} are merged: the value of the first is read in each of their rows."
    return replace(note, what=FILLED, sentence=sentence)
