"""Workbooks (.xlsx) to text columns, one table per sheet, through openpyxl."""

from __future__ import annotations

import io
import warnings
from dataclasses import dataclass

from openpyxl import load_workbook
from openpyxl.cell import Cell
from openpyxl.utils.datetime import CALENDAR_MAC_1904
from openpyxl.workbook import Workbook
from openpyxl.worksheet.worksheet import Worksheet

from pipeline.incoming.headings import FILE_NAME, NO_TABLE, SendersWords
from pipeline.incoming.own_sheets import NOT_TABLES, is_own_sheet
from pipeline.incoming.sheet import (
    Note,
    Sheet,
    damaged_workbook,
    empty_file,
    named_places,
    protected_workbook,
    refusal,
    table_name,
)
from pipeline.incoming.workbook_limits import refuse_too_large
from pipeline.incoming.workbook_tables import table_of_texts
from pipeline.incoming.xlsx_cells import cell_text
from pipeline.incoming.xlsx_marks import mark_notes
from pipeline.incoming.xlsx_notes import date_notes, layout_notes, merged_down

_FORMULA = "f"
_ERROR = "e"
# A formula that gives empty text is stored with this type and no value.
_FORMULA_TEXT = "str"


@dataclass(frozen=True)
class _Grid:
    """A sheet's filled cells as text by row and column (both from 1), and what went wrong on the way."""

    texts: dict[int, dict[int, str]]
    error_cells: list[Cell]
    date_cells: list[Cell]
    without_value: list[str]


class _StoredValues:
    """The results that a spreadsheet program stored beside its formulas; opened only if there are any."""

    def __init__(self, content: bytes, *, name: str) -> None:
        self._content, self._name = content, name
        self._workbook: Workbook | None = None

    def cell(self, formula: Cell) -> Cell:
        if self._workbook is None:
            self._workbook = _open(self._content, name=self._name, data_only=True)
        return self._workbook[formula.parent.title][formula.coordinate]


def read_xlsx(content: bytes, *, name: str, words: SendersWords = SendersWords()) -> list[Sheet]:
    """The tables of a workbook, one per sheet that holds one.

    Sheets whose name begins with '_' or is one of NOT_TABLES, and empty sheets, are passed over
    with a note on the first table, those of our own plot workbook without one. Problems of all sheets are raised in one
    UserError.
    """
    _refuse_other_formats(content, name=name)
    refuse_too_large(content, name=name)
    workbook = _open(content, name=name, data_only=False)
    stored = _StoredValues(content, name=name)
    sheets, passed_over, problems, n_rows = [], [], [], 0
    for worksheet in workbook.worksheets:
        if is_own_sheet(worksheet):
            continue
        if reason := _not_a_table(worksheet):
            passed_over.append(_passed_over(worksheet, reason))
            continue
        is_1904 = workbook.epoch == CALENDAR_MAC_1904
        grid = _grid(worksheet, stored)
        sheet, of_sheet = _read_sheet(worksheet, grid, words, is_1904=is_1904)
        if words.table(table_name(worksheet.title)) == NO_TABLE:
            of_sheet = []
            passed_over.append(_passed_over(worksheet, f"{FILE_NAME} says that it holds no table"))
        else:
            n_rows += sheet.n_filled_rows if sheet else max(len(grid.texts) - 1, 0)
        problems.extend(f"sheet '{worksheet.title}', {problem}" for problem in of_sheet)
        if sheet is not None:
            sheets.append(sheet)
    problems.extend(_doubled_tables(sheets))
    if not sheets and not problems:
        problems.append("no sheet of the workbook holds a table. Headings go in the first row of a sheet.")
    if problems:
        raise refusal(name, problems, n_rows=n_rows or None)
    sheets[0].notes.extend(passed_over)
    return sheets


def _refuse_other_formats(content: bytes, *, name: str) -> None:
    if not content:
        raise empty_file(name)
    if content.startswith(b"\xd0\xcf\x11\xe0"):
        if "EncryptedPackage".encode("utf-16-le") in content:
            raise protected_workbook(name)
        mend = "Open it in a spreadsheet program and save it as .xlsx."
        raise refusal(name, [f"this is an older workbook (.xls). {mend}"])
    if not content.startswith(b"PK\x03\x04"):
        raise refusal(name, ["this is not a workbook. If it holds comma-separated text, rename it to .csv."])


def _open(content: bytes, *, name: str, data_only: bool) -> Workbook:
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")  # openpyxl warns about drawings and validations, which hold no cells
        try:
            return load_workbook(io.BytesIO(content), data_only=data_only)
        except Exception as error:  # a damaged file fails in openpyxl in a dozen ways
            raise damaged_workbook(name) from error


def _not_a_table(worksheet: Worksheet) -> str | None:
    if worksheet.title.strip().startswith("_") or table_name(worksheet.title) in NOT_TABLES:
        return "by its name it is not a table"
    if not any(str(cell.value).strip() for cell in _stored_cells(worksheet) if cell.value is not None):
        return "it is empty"
    return None


def _passed_over(worksheet: Worksheet, reason: str) -> Note:
    sentence = f"The sheet '{worksheet.title}' was passed over: {reason}."
    return Note(row=None, column=None, found=worksheet.title, what="sheet_passed_over", sentence=sentence)


def _stored_cells(worksheet: Worksheet) -> list[Cell]:
    # The public iter_rows makes every cell up to the last row and column, which fills the memory
    # when one stray cell is formatted at the far end of a sheet.
    return sorted(worksheet._cells.values(), key=lambda cell: (cell.row, cell.column))


def _read_sheet(
    worksheet: Worksheet, grid: _Grid, words: SendersWords, *, is_1904: bool
) -> tuple[Sheet | None, list[str]]:
    problems = named_places(grid.without_value)
    if not grid.texts:
        return None, problems or ["all its formulas give empty text. Type the table in, or delete the sheet."]
    sheet, headings, of_table = table_of_texts(grid.texts, worksheet.title, words)
    problems += of_table
    if problems or sheet is None:
        return None, problems
    sheet.notes.extend(_error_notes(grid.error_cells, headings))
    sheet.notes.extend(date_notes(grid.date_cells, sheet, headings, is_1904=is_1904))
    sheet.notes.extend(layout_notes(worksheet, headings, rows=range(sheet.heading_row, max(grid.texts) + 1)))
    sheet.notes.extend(mark_notes(_stored_cells(worksheet), headings, data_rows=sheet.row_numbers))
    sheet.merged.extend(merged_down(worksheet, headings, sheet.row_numbers))
    return sheet, []


def _grid(worksheet: Worksheet, stored: _StoredValues) -> _Grid:
    grid = _Grid(texts={}, error_cells=[], date_cells=[], without_value=[])
    for cell in _stored_cells(worksheet):
        shown = stored.cell(cell) if cell.data_type == _FORMULA else cell
        if shown is not cell and shown.value is None and shown.data_type != _FORMULA_TEXT:
            grid.without_value.append(
                f"row {cell.row}, column {cell.column_letter}: cell {cell.coordinate} holds a formula "
                "without a stored value. Open the workbook in a spreadsheet program, let it calculate, and save it."
            )
        text = cell_text(shown.value, cell.number_format)
        if text is not None:
            grid.texts.setdefault(cell.row, {})[cell.column] = text
        if shown.data_type == _ERROR:
            grid.error_cells.append(shown)
        elif text is not None and shown.is_date:
            grid.date_cells.append(shown)
    return grid


def _doubled_tables(sheets: list[Sheet]) -> list[str]:
    names: dict[str, list[str]] = {}
    for sheet in sheets:
        names.setdefault(sheet.table, []).append(f"'{sheet.sheet}'")
    return [
        f"the sheets {' and '.join(titles)} both give the table '{table}'. Rename or join them."
        for table, titles in names.items()
        if len(titles) > 1
    ]


def _error_notes(cells: list[Cell], headings: dict[int, str]) -> list[Note]:
    return [
        Note(
            row=cell.row,
            column=headings.get(cell.column),
            found=str(cell.value),
            what="error_value",
            sentence=f"Cell {cell.coordinate} shows an error of the spreadsheet program; fix its formula.",
        )
        for cell in cells
    ]
