"""What a sheet's layout hides from a reader of its cells: merged cells, hidden rows, columns and sheets."""

from __future__ import annotations

from openpyxl.utils import get_column_letter
from openpyxl.worksheet.worksheet import Worksheet

from pipeline.incoming.sheet import Note, row_ranges


def layout_notes(worksheet: Worksheet, headings: dict[int, str], *, rows: range) -> list[Note]:
    """Notes on layout; `headings` by column from 1, where there is one; `rows` from the headings to the last."""
    notes = (
        _merged_cells(worksheet, headings, rows)
        + _hidden_rows(worksheet, rows)
        + _hidden_columns(worksheet, headings)
    )
    if worksheet.sheet_state != "visible":
        sentence = "The sheet is hidden and was read all the same."
        notes.append(
            Note(row=None, column=None, found=worksheet.title, what="hidden_sheet", sentence=sentence)
        )
    return notes


def _merged_cells(worksheet: Worksheet, headings: dict[int, str], rows: range) -> list[Note]:
    ranges = sorted(worksheet.merged_cells.ranges, key=lambda merged: (merged.min_row, merged.min_col))
    return [
        Note(
            row=merged.min_row,
            column=headings.get(merged.min_col),
            found=f"{merged.coord}, {row_ranges(list(range(merged.min_row, merged.max_row + 1)))}",
            what="merged_cells",
            sentence=f"The cells {merged.coord} are merged: only the first holds the value, "
            "the others are read as empty. Unmerge them and type the value into each row it is meant for.",
        )
        for merged in ranges
        if merged.max_row >= rows.start and merged.min_row < rows.stop
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
        Note(
            row=None, column=headings[p], found=get_column_letter(p), what="hidden_column", sentence=sentence
        )
        for p in hidden
    ]
