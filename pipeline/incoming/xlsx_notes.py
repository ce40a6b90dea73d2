"""What a sheet hides from a reader of its cells: merged cells, hidden rows, columns and sheets, how days are
counted.
"""

from __future__ import annotations

import re

from openpyxl.cell import Cell
from openpyxl.utils import get_column_letter
from openpyxl.worksheet.worksheet import Worksheet

from pipeline.incoming.merged_cells import merged_note
from pipeline.incoming.sheet import Note, Sheet, row_ranges

_TYPED_DATE = re.compile(r"\d{1,2}[/.-]\d{1,2}[/.-](\d{4}|\d{2})")


def layout_notes(worksheet: Worksheet, headings: dict[int, str], *, rows: range) -> list[Note]:
    """Notes on layout; `headings` by column from 1, where there is one; `rows` from the headings to the last."""
    notes = (
        _merged_cells(worksheet, headings, rows) + _hidden_rows(worksheet, rows) + _hidden_columns(worksheet, headings)
    )
    if worksheet.sheet_state != "visible":
        sentence = "The sheet is hidden and was read all the same."
        notes.append(Note(row=None, column=None, found=worksheet.title, what="hidden_sheet", sentence=sentence))
    return notes


def _merged_cells(worksheet: Worksheet, headings: dict[int, str], rows: range) -> list[Note]:
    ranges = sorted(worksheet.merged_cells.ranges, key=lambda merged: (merged.min_row, merged.min_col))
    return [
        merged_note(merged.coord, range(merged.min_row, merged.max_row + 1), headings.get(merged.min_col))
        for merged in ranges
        if merged.max_row >= rows.start and merged.min_row < rows.stop
    ]


def merged_down(worksheet: Worksheet, headings: dict[int, str], data_rows: list[int]) -> list[tuple[str, int, int]]:
    """(heading, first row, last row) of the cells that are merged down one column of the table."""
    rows = set(data_rows)
    return [
        (headings[merged.min_col], merged.min_row, merged.max_row)
        for merged in worksheet.merged_cells.ranges
        if merged.min_col == merged.max_col and merged.min_col in headings and merged.min_row in rows
    ]


def _hidden_rows(worksheet: Worksheet, rows: range) -> list[Note]:
    hidden = sorted(row for row, shape in worksheet.row_dimensions.items() if shape.hidden and row in rows)
    if not hidden:
        return []
    cause = "hidden, perhaps by a filter," if worksheet.auto_filter.ref else "hidden"
    sentence = f"The rows are {cause} and were read all the same. Show them, or delete what should not count."
    return [Note(row=hidden[0], column=None, found=row_ranges(hidden), what="hidden_rows", sentence=sentence)]


def _hidden_columns(worksheet: Worksheet, headings: dict[int, str]) -> list[Note]:
    # One entry may stand for a run of columns.
    runs = [shape for shape in worksheet.column_dimensions.values() if shape.hidden]
    hidden = sorted({position for run in runs for position in headings if run.min <= position <= run.max})
    sentence = "The column is hidden and was read all the same. Show it, or delete it if it should not count."
    return [
        Note(row=None, column=headings[p], found=get_column_letter(p), what="hidden_column", sentence=sentence)
        for p in hidden
    ]


def date_notes(cells: list[Cell], sheet: Sheet, headings: dict[int, str], *, is_1904: bool) -> list[Note]:
    """Notes on date cells: days counted from 1904, and dates that may have day and month swapped."""
    rows: dict[int, list[int]] = {}
    for cell in cells:
        rows.setdefault(cell.column, []).append(cell.row)
    notes = [note for p in sorted(rows) if p in headings for note in _beside_typed_dates(rows[p], sheet, headings[p])]
    if cells and is_1904:
        sentence = "The workbook counts its days from 1904, not 1900; its dates are read so."
        counted = f"{len(cells)} date cells"
        notes.append(Note(row=None, column=None, found=counted, what="dates_from_1904", sentence=sentence))
    return notes


def _beside_typed_dates(date_rows: list[int], sheet: Sheet, heading: str) -> list[Note]:
    """A program set to month first makes May 2 of a typed 5/2 and leaves 13/5 as text: both in one column tell."""
    column = zip(sheet.row_numbers, sheet.columns[heading], strict=True)
    typed = [(row, text) for row, text in column if text and _TYPED_DATE.fullmatch(text.strip())]
    if not typed:
        return []
    row, text = typed[0]
    sentence = (
        f"The column holds dates ({row_ranges(date_rows)}) beside dates left as text"
        f" ({row_ranges([r for r, _ in typed])}): a spreadsheet program that takes the month first may have swapped day"
        " and month in the former. Compare them with the field book."
    )
    return [Note(row=row, column=heading, found=text, what="dates_beside_text", sentence=sentence)]
