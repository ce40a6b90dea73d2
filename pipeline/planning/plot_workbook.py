"""The plot workbook of one trial: an .xlsx that cooperators fill in and send back as it is.

Sheets, headings, words and ranges come from the declared tables, so a filled workbook is a
delivery like any other. Sheets whose name begins with '_', and 'instructions', are not read.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
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

from pipeline.contract.tables import declared_tables
from pipeline.errors import UserError, one_of
from pipeline.incoming.own_sheets import BEGINS, PLAN, WORDS
from pipeline.planning.instructions import write_instructions
from pipeline.planning.plan_sheet import as_text, write_plan
from pipeline.planning.workbook_fields import Field, fields_of

SHEETS = ("trials", "treatments", "nitrogen_applications", "plots")
SPARE_ROWS = {"nitrogen_applications": 40}
FORMATS = {"text": "@", "yes_no": "@", "date": "yyyy-mm-dd", "integer": "0", "number": "General"}
HEAD_FILL, REQUIRED_FILL, GIVEN_FILL = (
    PatternFill("solid", start_color=colour) for colour in ("FFFFFFFF", "FFD9D9D9", "FFF2F2F2")
)
KEPT_IN_SIGHT, COLUMNS_PER_PAGE = 5, 11
THIN, THICK = Side(style="thin", color="FF808080"), Side(style="thick", color="FF000000")


def write_plot_workbook(
    path: Path,
    tables: Mapping[str, pd.DataFrame],
    plan: pd.DataFrame,
    words: Mapping[str, Sequence[str]],
    *,
    random_seed: int,
) -> None:
    """Writes the workbook of one trial.

    tables: trials (one row), treatments, nitrogen_applications, with delivered headings and
    cells as they would be typed. plan: as plan_of_plots gives it. words: the known words of
    each reference list a column points to, by its name ('reference.crops'). UserError for a
    heading or a list that the declarations do not know, and where the file cannot be written.
    """
    tables = dict(tables) | {"plots": _plots(tables, plan)}
    crop, season = _trial(tables)
    fields = {
        name: fields_of(declared_tables()[name], _known_headings(name, tables[name]), crop, season, words)
        for name in SHEETS
    }
    if "main_plot" not in tables["plots"]:
        fields["plots"] = [field for field in fields["plots"] if field.heading != "main_plot"]
    workbook = Workbook()
    write_instructions(workbook.active, fields, trial=tables["trials"].iloc[0], random_seed=random_seed)
    lists = _write_words(workbook, fields)
    for name in SHEETS:
        _write_table(workbook.create_sheet(name), fields[name], tables[name], lists, SPARE_ROWS.get(name, 0))
    write_plan(workbook.create_sheet(PLAN), plan, tables["treatments"], tables["nitrogen_applications"])
    workbook.move_sheet(WORDS, offset=len(workbook.sheetnames))
    try:
        workbook.save(path)
    except OSError as problem:
        raise UserError(
            f"{path}: cannot be written ({problem.strerror}). Is it open, or the folder missing?"
        ) from problem


def _plots(tables: Mapping[str, pd.DataFrame], plan: pd.DataFrame) -> pd.DataFrame:
    """The plan as rows of the plots table."""
    if len(tables["trials"]) != 1:
        raise UserError(f"layout: {len(tables['trials'])} rows in trials; a plot workbook is for one trial")
    known = set(tables["treatments"]["treatment_code"].astype(str))
    if strange := sorted(set(plan["treatment_code"].astype(str)) - known):
        raise UserError(f"layout: the plan holds codes that the treatments table lacks: {', '.join(strange)}")
    columns = ["block", "main_plot", "plot", "treatment_code"]
    columns = [name for name in columns if plan[name].notna().any()]
    plots = plan[columns].astype(str)
    plots.insert(0, "trial_id", tables["trials"]["trial_id"].iloc[0])
    return plots


def _trial(tables: Mapping[str, pd.DataFrame]) -> tuple[str, int]:
    trial = tables["trials"].iloc[0]
    for column in ("trial_id", "crop", "season"):
        if column not in trial or pd.isna(trial[column]):
            raise UserError(f"layout: trials needs {column} for the workbook to be made")
    return str(trial["crop"]), int(trial["season"])


def _known_headings(name: str, frame: pd.DataFrame) -> list[str]:
    table = declared_tables()[name]
    for heading in frame.columns:
        if not table.knows(heading):
            raise UserError(f'layout: {name} has no column "{heading}": {one_of(table.known_headings, heading)}')
    return list(frame.columns)


def _write_words(workbook: Workbook, fields: Mapping[str, list[Field]]) -> dict[tuple[str, ...], str]:
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


def _write_table(sheet: Worksheet, fields: list[Field], frame: pd.DataFrame, lists: dict, spare_rows: int) -> None:
    """Headings, prefilled cells, formats and rules of one table."""
    last_row = 1 + len(frame) + spare_rows
    for position, field in enumerate(fields, start=1):
        letter = get_column_letter(position)
        given = frame[field.heading].tolist() if field.heading in frame else []
        _write_heading(sheet[f"{letter}1"], field)
        for row in range(2, last_row + 1):
            cell = sheet[f"{letter}{row}"]
            cell.number_format = FORMATS[field.type]
            if row - 2 < len(given) and not pd.isna(given[row - 2]):
                cell.value, cell.fill = _typed(given[row - 2], field), GIVEN_FILL
                as_text(cell)
        rule = _rule(field, lists)
        rule.add(f"{letter}2:{letter}{last_row}")
        sheet.add_data_validation(rule)
        widest = max([len(field.heading), *(len(str(value)) for value in given)])
        sheet.column_dimensions[letter].width = min(40, widest + 3)
    # Headings and what tells one row from another stay in sight, and on every printed page.
    filled = sum(field.heading in frame for field in fields[:KEPT_IN_SIGHT])
    sheet.freeze_panes = sheet.cell(2, 1 + filled)
    sheet.print_title_rows, sheet.print_title_cols = "1:1", f"A:{get_column_letter(max(1, filled))}"
    _print_to_width(sheet, pages=math.ceil(len(fields) / COLUMNS_PER_PAGE))


def _write_heading(cell: Cell, field: Field) -> None:
    """Required headings are bold on grey over a thick line, so that a grey print shows them too."""
    cell.value = field.heading
    cell.number_format = "@"
    cell.font = Font(name=DEFAULT_FONT.name, bold=field.required)
    cell.fill = REQUIRED_FILL if field.required else HEAD_FILL
    cell.border = Border(bottom=THICK if field.required else THIN)


def _typed(value: object, field: Field) -> object:
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


def _rule(field: Field, lists: dict[tuple[str, ...], str]) -> DataValidation:
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


def _print_to_width(sheet: Worksheet, pages: int) -> None:
    sheet.page_setup.orientation = "landscape"
    sheet.page_setup.fitToWidth, sheet.page_setup.fitToHeight = pages, 0
    sheet.sheet_properties.pageSetUpPr.fitToPage = True
