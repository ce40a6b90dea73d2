"""Older and other workbooks (.xls, .ods) to text columns, through calamine. Formats, colors and comments are not
seen.
"""

from __future__ import annotations

import datetime as dt
import io

from python_calamine import CalamineWorkbook, PasswordError

from pipeline.incoming.headings import FILE_NAME, NO_TABLE, SendersWords
from pipeline.incoming.merged_cells import merged_note
from pipeline.incoming.own_sheets import NOT_TABLES
from pipeline.incoming.sheet import (
    Note,
    Sheet,
    column_letter,
    damaged_workbook,
    empty_file,
    protected_workbook,
    refusal,
    table_name,
)
from pipeline.incoming.workbook_limits import refuse_too_large
from pipeline.incoming.workbook_tables import table_of_texts
from pipeline.incoming.xlsx_cells import cell_text


def read_older_workbook(content: bytes, *, name: str, words: SendersWords) -> list[Sheet]:
    """The tables of a workbook, one per sheet that holds one; UserError with the problems of all its sheets."""
    if not content:
        raise empty_file(name)
    refuse_too_large(content, name=name)
    try:
        workbook = CalamineWorkbook.from_filelike(io.BytesIO(content))
        grids = {title: workbook.get_sheet_by_name(title) for title in workbook.sheet_names}
    except PasswordError:
        raise protected_workbook(name) from None
    except Exception:  # a damaged file fails in many ways
        raise damaged_workbook(name) from None
    sheets, passed_over, problems, n_rows = [], [], [], 0
    for title, grid in grids.items():
        texts = _texts(grid.to_python(skip_empty_area=False))
        reason = _not_a_table(title, texts, words)
        if reason:
            passed_over.append(_passed_over(title, reason))
            continue
        sheet, headings, of_sheet = table_of_texts(texts, title, words)
        problems += [f"sheet '{title}', {problem}" for problem in of_sheet]
        n_rows += sheet.n_filled_rows if sheet else len(texts) - 1
        if sheet is not None:
            _add_merged(sheet, headings, grid.merged_cell_ranges or [])
            sheets.append(sheet)
    if not sheets and not problems:
        problems.append("no sheet of the workbook holds a table. Headings go in the first row of a sheet.")
    if problems:
        raise refusal(name, problems, n_rows=n_rows or None)
    sheets[0].notes.extend(passed_over)
    return sheets


def _texts(rows: list[list[object]]) -> dict[int, dict[int, str]]:
    texts: dict[int, dict[int, str]] = {}
    for row_number, row in enumerate(rows, start=1):
        for column, value in enumerate(row, start=1):
            text = cell_text(_plain_day(value), "General")
            if text is not None:
                texts.setdefault(row_number, {})[column] = text
    return texts


def _plain_day(value: object) -> object:
    return value.total_seconds() / 86_400 if isinstance(value, dt.timedelta) else value


def _not_a_table(title: str, texts: dict, words: SendersWords) -> str | None:
    if title.strip().startswith("_") or table_name(title) in NOT_TABLES:
        return "by its name it is not a table"
    if words.table(table_name(title)) == NO_TABLE:
        return f"{FILE_NAME} says that it holds no table"
    return None if texts else "it is empty"


def _passed_over(title: str, reason: str) -> Note:
    return Note(None, None, title, "sheet_passed_over", f"The sheet '{title}' was passed over: {reason}.")


def _add_merged(sheet: Sheet, headings: dict[int, str], ranges: list) -> None:
    """Cells merged down a column; ranges: ((row, column), (row, column)) from 0."""
    for (top, left), (bottom, right) in ranges:
        if left == right and left + 1 in headings and top + 1 in sheet.row_numbers:
            heading, rows = headings[left + 1], range(top + 1, bottom + 2)
            sheet.merged.append((heading, top + 1, bottom + 1))
            letter = column_letter(left)
            sheet.notes.append(merged_note(f"{letter}{top + 1}:{letter}{bottom + 1}", rows, heading))
