"""Declared tables as sheets to fill in: headings, word lists to choose from, limits, and what is said of a cell."""

from __future__ import annotations

import math
from collections.abc import Mapping
from pathlib import Path

import numpy as np
import pandas as pd
from openpyxl import Workbook
from openpyxl.cell.cell import Cell
from openpyxl.styles import Border, Font, PatternFill, Side
from openpyxl.styles.fonts import DEFAULT_FONT
from openpyxl.utils import get_column_letter
from openpyxl.worksheet.datavalidation import DataValidation
from openpyxl.worksheet.worksheet import Worksheet

from pipeline.errors import UserError
from pipeline.incoming.own_sheets import BEGINS, WORDS
from pipeline.incoming.xlsx_marks import OURS
from pipeline.planning.plan_sheet import as_text
from pipeline.planning.workbook_fields import Field

FORMATS = {"text": "@", "yes_no": "@", "date": "yyyy-mm-dd", "integer": "0", "number": "General"}
HEAD_FILL, REQUIRED_FILL, GIVEN_FILL, FILL_IN = (
    PatternFill("solid", start_color=color) for color in ("FFFFFFFF", "FFD9D9D9", f"FF{OURS}", "FFFFF8DC")
)
KEPT_IN_SIGHT, COLUMNS_PER_PAGE = 5, 11
THIN, THICK = Side(style="thin", color="FF808080"), Side(style="thick", color="FF000000")


def write_words(workbook: Workbook, fields: Mapping[str, list[Field]]) -> dict[tuple[str, ...], str]:
    """Every word list in a column of a hidden sheet; returns the range of each."""
    sheet = workbook.create_sheet(WORDS)
    sheet["A1"] = BEGINS[WORDS]
    sheet.sheet_state = "hidden"
    ranges: dict[tuple[str, ...], str] = {}
    for field in (field for of_table in fields.values() for field in of_table if field.words):
        if field.words in ranges:
            continue
        letter = get_column_letter(len(ranges) + 1)
        for row, word in enumerate(field.words, start=2):
            sheet[f"{letter}{row}"] = word
        ranges[field.words] = f"'{WORDS}'!${letter}$2:${letter}${1 + len(field.words)}"
    return ranges


def write_table(sheet: Worksheet, fields: list[Field], frame: pd.DataFrame, lists: dict, spare_rows: int) -> None:
    """Headings, prefilled cells, formats and rules of one table."""
    last_row = 1 + len(frame) + spare_rows
    for position, field in enumerate(fields, start=1):
        letter = get_column_letter(position)
        given = frame[field.heading].tolist() if field.heading in frame else []
        write_heading(sheet[f"{letter}1"], field)
        for row in range(2, last_row + 1):
            cell = sheet[f"{letter}{row}"]
            cell.number_format = FORMATS[field.type]
            if row - 2 >= len(given):
                continue
            cell.fill = GIVEN_FILL  # an empty one too: a few gray cells among white ones would be taken for a mark
            if not pd.isna(given[row - 2]):
                cell.value = typed(given[row - 2], field)
                as_text(cell)
        rule = rule_of(field, lists)
        rule.add(f"{letter}2:{letter}{last_row}")
        sheet.add_data_validation(rule)
        widest = max([len(field.heading), *(len(str(value)) for value in given)])
        sheet.column_dimensions[letter].width = min(40, widest + 3)
    # Headings and what tells one row from another stay in sight, and on every printed page.
    filled = sum(field.heading in frame for field in fields[:KEPT_IN_SIGHT])
    sheet.freeze_panes = sheet.cell(2, 1 + filled)
    sheet.print_title_rows, sheet.print_title_cols = "1:1", f"A:{get_column_letter(max(1, filled))}"
    print_to_width(sheet, pages=math.ceil(len(fields) / COLUMNS_PER_PAGE))


def write_heading(cell: Cell, field: Field) -> None:
    """Required headings are bold on grey over a thick line, so that a grey print shows them too."""
    cell.value = field.heading
    cell.number_format = "@"
    cell.font = Font(name=DEFAULT_FONT.name, bold=field.required)
    cell.fill = REQUIRED_FILL if field.required else HEAD_FILL
    cell.border = Border(bottom=THICK if field.required else THIN)


def typed(value: object, field: Field) -> object:
    """A prefilled value as the sheet stores it: numbers as numbers, dates as dates, all else as text."""
    if field.type in ("integer", "number"):
        number = pd.to_numeric(value, errors="coerce")
        if np.isnan(number):
            raise UserError(f'layout: "{value}" under {field.heading} is not a number')
        return int(number) if float(number).is_integer() else float(number)
    if field.type == "date":
        day = pd.to_datetime(value, errors="coerce", format="%Y-%m-%d")
        if pd.isna(day):
            raise UserError(f'layout: "{value}" under {field.heading} is not a date like 2095-05-02')
        return day.date()
    return str(value)


def rule_of(field: Field, lists: dict[tuple[str, ...], str]) -> DataValidation:
    """What the sheet lets in, with the meaning shown while a cell is chosen."""
    shape: dict[str, object] = {"type": None}
    if field.words:
        shape = {"type": "list", "formula1": lists[field.words]}
    elif field.limits:
        low, high = field.limits
        kind = "whole" if field.type == "integer" else field.type if field.type == "date" else "decimal"
        shape = {"type": kind, "operator": "between", "formula1": low, "formula2": high}
    rule = DataValidation(**shape, allow_blank=True, showInputMessage=True, showErrorMessage=True, errorStyle="stop")
    rule.promptTitle, rule.prompt = field.heading[:32], field.prompt[:255]
    rule.errorTitle, rule.error = "Not accepted", field.error[:255]
    return rule


def print_to_width(sheet: Worksheet, pages: int) -> None:
    sheet.page_setup.orientation = "landscape"
    sheet.page_setup.fitToWidth, sheet.page_setup.fitToHeight = pages, 0
    sheet.sheet_properties.pageSetUpPr.fitToPage = True


def save(workbook: Workbook, path: Path) -> None:
    """Writes the file, without an author: the library would name itself. UserError where it cannot be written."""
    workbook.properties.creator = None
    try:
        workbook.save(path)
    except OSError as problem:
        raise UserError(
            f"{path}: cannot be written ({problem.strerror}). Is it open, or the folder missing?"
        ) from problem
