"""The trial workbook: an .xlsx with every sheet a cooperator fills in, for any number of trials of one season.

Sheets, headings, words and ranges come from the declared tables, so that what is filled in is a delivery like any
other and an empty sheet delivers nothing. The sheets that only explain are known by own_sheets and are never read.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterable, Mapping
from pathlib import Path

import pandas as pd
from openpyxl import Workbook
from openpyxl.styles import Alignment, Border, Font
from openpyxl.styles.fonts import DEFAULT_FONT
from openpyxl.utils import get_column_letter
from openpyxl.worksheet.worksheet import Worksheet

from pipeline.contract.tables import declared_tables
from pipeline.contract.words import reference_words
from pipeline.incoming.own_sheets import BEGINS, COLUMNS, EXAMPLE, WORDS
from pipeline.planning.instructions import write_columns
from pipeline.planning.read_me_sheet import write_read_me
from pipeline.planning.table_sheets import (
    FORMATS,
    THIN,
    print_to_width,
    rule_of,
    save,
    typed,
    write_heading,
    write_words,
)
from pipeline.planning.workbook_fields import Field, fields_of
from pipeline.planning.worked_example import SHOWN, example_crop, worked_example

SHEETS = SHOWN
LAST_ROW = 5000  # a sheet holds no more rows of rules
DRAWN_ROWS = 25  # with lines around the cells, on the screen and on paper
NARROWEST, WIDEST = 11, 26
HEADING_HEIGHT, FEWEST_LINES = 15.5, 2
COLUMNS_PER_PAGE = 12
MOST_EXAMPLES = 6
TAB_COLOR = "FF2E7D4F"  # of the sheets to fill in
LEFT = Alignment(vertical="center", horizontal="left")
BOX = Border(left=THIN, right=THIN, top=THIN, bottom=THIN)


def write_trial_workbook(
    path: Path,
    *,
    program: str,
    season: int,
    crops: Mapping[str, str],
    display_units: str,
    rows: Mapping[str, pd.DataFrame] | None = None,
) -> None:
    """Writes the workbook of one season. UserError where the file cannot be written.

    crops: each with its product, grain or lint. display_units: us or metric, for the units of the headings. rows: by
    table, what is filled in already under the delivered headings.
    """
    fields = trial_workbook_fields(crops, season, display_units)
    workbook = Workbook()
    tables = [declared_tables()[name] for name in SHEETS]
    write_read_me(workbook.active, program=program, season=season, crops=list(crops), tables=tables)
    shown = example_crop(crops)
    of_example = trial_workbook_fields({shown: crops.get(shown, "grain")}, season, display_units)
    _write_example(workbook.create_sheet(EXAMPLE), of_example, shown)
    lists = write_words(workbook, fields)
    for name in SHEETS:
        _write_form(workbook.create_sheet(name), fields[name], lists, (rows or {}).get(name, pd.DataFrame()))
    _write_columns(workbook.create_sheet(COLUMNS), fields)
    workbook.move_sheet(WORDS, offset=len(workbook.sheetnames))
    save(workbook, path)


def trial_workbook_fields(crops: Mapping[str, str], season: int, display_units: str) -> dict[str, list[Field]]:
    """By sheet, its fields in their order."""
    tables = [declared_tables()[name] for name in SHEETS]
    lists = {column.words_from for table in tables for column in table.columns if column.words_from}
    words = {name: reference_words(name.removeprefix("reference.")) for name in lists}
    words["reference.crops"] = tuple(crops)
    return {table.name: fields_of(table, [], crops, season, words, display_units) for table in tables}


def _write_form(sheet: Worksheet, fields: list[Field], lists: dict, frame: pd.DataFrame) -> None:
    """Headings over rows to fill in; formats and rules hold for whole columns."""
    _write_headings(sheet, 1, fields)
    for position, field in enumerate(fields, start=1):
        letter = get_column_letter(position)
        given = frame[field.heading].tolist() if field.heading in frame else []
        sheet.column_dimensions[letter].width = _width(field, given)
        sheet.column_dimensions[letter].number_format = FORMATS[field.type]
        for row in range(2, 2 + max(DRAWN_ROWS, len(frame))):
            cell = sheet.cell(row, position)
            cell.number_format, cell.border, cell.alignment = FORMATS[field.type], BOX, LEFT
            if row - 2 < len(given) and not pd.isna(given[row - 2]):
                cell.value = typed(given[row - 2], field)
        rule = rule_of(field, lists)
        rule.add(f"{letter}2:{letter}{LAST_ROW}")
        sheet.add_data_validation(rule)
    # Headings and what tells one row from another stay in sight, and on every printed page.
    key = declared_tables()[sheet.title].key
    last_key = max(position for position, field in enumerate(fields, start=1) if field.column in key)
    sheet.freeze_panes = sheet.cell(2, 1 + last_key)
    sheet.print_title_rows, sheet.print_title_cols = "1:1", f"A:{get_column_letter(last_key)}"
    sheet.sheet_properties.tabColor = TAB_COLOR
    print_to_width(sheet, pages=math.ceil(len(fields) / COLUMNS_PER_PAGE))


def _write_headings(sheet: Worksheet, row: int, fields: Iterable[Field]) -> None:
    """A name and its unit in one cell, tall enough for the longest."""
    n_lines = FEWEST_LINES
    for position, field in enumerate(fields, start=1):
        cell = sheet.cell(row, position)
        write_heading(cell, field)
        cell.value = field.spaced_heading
        cell.alignment = Alignment(wrap_text=True, vertical="center", horizontal="center")
        name, *unit = field.spaced_heading.split("\n")
        n_lines = max(n_lines, len(unit) + math.ceil(len(name) / (_width(field, ()) - 2)))
    sheet.row_dimensions[row].height = HEADING_HEIGHT * n_lines


def _width(field: Field, given: Iterable, *, of_words: bool = True) -> int:
    """Room for the longest word of the heading, for what is filled in, and for what may be: a word of the list, an
    example.
    """
    texts = [*field.spaced_heading.split(), *map(str, given)]
    texts += [*field.words, field.example] if of_words else []
    return min(WIDEST, max(NARROWEST, 3 + max(map(len, texts))))


def _write_example(sheet: Worksheet, fields: Mapping[str, list[Field]], crop: str) -> None:
    """The first rows of every table of an invented trial, as they would be typed."""
    sheet.sheet_view.showGridLines = False
    _bold(
        sheet,
        1,
        f"{BEGINS[EXAMPLE]}an invented {crop} trial. Nothing on this sheet is read. No rate here is a recommendation.",
        13,
    )
    row, widths = 3, Counter()
    for name, rows in worked_example(fields, crop).items():
        shown = [field for field in fields[name] if field.heading in rows]
        more = f" The first {MOST_EXAMPLES} of {len(rows)} rows." if len(rows) > MOST_EXAMPLES else ""
        _bold(sheet, row, f"Sheet {name}: {declared_tables()[name].grain}.{more}")
        _write_headings(sheet, row + 1, shown)
        for position, field in enumerate(shown, start=1):
            widths[position] = max(widths[position], _width(field, rows[field.heading].dropna(), of_words=False))
            for offset, value in enumerate(rows[field.heading].head(MOST_EXAMPLES), start=2):
                cell = sheet.cell(row + offset, position, None if pd.isna(value) else typed(value, field))
                cell.number_format, cell.border = FORMATS[field.type], BOX
                cell.alignment = LEFT
        row += 3 + min(MOST_EXAMPLES, len(rows))
    for position, width in widths.items():
        sheet.column_dimensions[get_column_letter(position)].width = width
    print_to_width(sheet, pages=math.ceil(len(widths) / COLUMNS_PER_PAGE))
    sheet.page_setup.fitToHeight = 1


def _write_columns(sheet: Worksheet, fields: Mapping[str, list[Field]]) -> None:
    _bold(sheet, 1, BEGINS[COLUMNS], 13)
    write_columns(sheet, 3, fields, lambda field: field.spaced_heading.replace("\n", " "))
    sheet.freeze_panes = "C4"
    sheet.print_title_rows = "3:3"
    print_to_width(sheet, pages=1)


def _bold(sheet: Worksheet, row: int, text: str, size: int = 11) -> None:
    sheet.cell(row, 1, text).font = Font(name=DEFAULT_FONT.name, bold=True, size=size)
