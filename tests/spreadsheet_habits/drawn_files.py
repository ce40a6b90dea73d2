"""Small files, each with one habit of people or of spreadsheet programs, drawn over a sound trial's plots.

The sound plots: row 1 the headings, rows 2-4 block 1, rows 5-7 block 2, each with zero-N, urea and the blend.
Columns A to F are trial_id, block, plot, treatment_code, harvest_weight_lb, moisture_pct.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable
from pathlib import Path

from openpyxl import Workbook
from openpyxl.comments import Comment
from openpyxl.styles import Font, PatternFill
from openpyxl.worksheet.worksheet import Worksheet

from tests.tiny_program import TinyProgram

YELLOW = PatternFill("solid", fgColor="FFFFFF00")
Draw = Callable[[TinyProgram, str], Path]


def in_workbook(draw_on: Callable[[Worksheet], object], table: str = "plots") -> Draw:
    """The delivery's table as a workbook's sheet, numbers as numbers, drawn on, in place of the CSV file."""

    def draw(tiny: TinyProgram, where: str) -> Path:
        book = Workbook()
        book.active.title = table
        for row in tiny.rows(table, where):
            book.active.append([_typed(cell) for cell in row])
        draw_on(book.active)
        tiny.path(table, where).unlink()
        path = tiny.path(table, where).with_suffix(".xlsx")
        book.save(path)
        return path

    return draw


def _typed(cell: str) -> object:
    try:
        return float(cell) if cell else None
    except ValueError:
        return cell


def in_csv(change: Callable[[list[list[str]]], object], table: str = "plots") -> Draw:
    """The delivery's CSV file with its rows changed in place."""

    def draw(tiny: TinyProgram, where: str) -> Path:
        rows = tiny.rows(table, where)
        change(rows)
        tiny.write(table, rows, where)
        return tiny.path(table, where)

    return draw


def cell(coordinate: str, value: object, number_format: str = "General") -> Callable[[Worksheet], None]:
    def write(sheet: Worksheet) -> None:
        sheet[coordinate].value = value
        sheet[coordinate].number_format = number_format

    return write


def merged_block(sheet: Worksheet) -> None:
    sheet.merge_cells("B2:B4")


def merged_title(sheet: Worksheet) -> None:
    sheet.insert_rows(1, amount=2)
    sheet["A1"] = "Harvest of the season"
    sheet.merge_cells("A1:F1")


def group_headings(sheet: Worksheet) -> None:
    sheet.insert_rows(1)
    sheet["A1"], sheet["E1"] = "Layout", "Harvest"
    sheet.merge_cells("E1:F1")


def total_and_footnotes(sheet: Worksheet) -> None:
    sheet["A8"], sheet["E8"] = "Mean", 35.0
    sheet["D9"], sheet["E9"] = "LSD (0.05)", 2.1
    sheet["A11"] = "* weights from the scale at the elevator"
    sheet["A12"], sheet["B12"] = "checked", "A. Sample"


def headings_on_each_page(sheet: Worksheet) -> None:
    sheet.insert_rows(5)
    for column, heading in enumerate(sheet[1], start=1):
        sheet.cell(5, column, heading.value)


def hidden_by_filter(sheet: Worksheet) -> None:
    sheet.auto_filter.ref = "A1:M7"
    sheet.auto_filter.add_filter_column(3, ["U-120"])
    for row in (2, 4, 5, 7):
        sheet.row_dimensions[row].hidden = True


def hidden_column(sheet: Worksheet) -> None:
    sheet.column_dimensions["F"].hidden = True


def filled_cells(sheet: Worksheet) -> None:
    for coordinate in ("E3", "E6", "F6"):
        sheet[coordinate].fill = YELLOW
    for row in range(2, 8):
        sheet[f"A{row}"].fill = YELLOW  # a whole column is its look


def red_text(sheet: Worksheet) -> None:
    sheet["E4"].font = Font(color="FFFF0000")


def struck_through(sheet: Worksheet) -> None:
    for column in "ABCDEF":
        sheet[f"{column}5"].font = Font(strike=True)


def with_comment(sheet: Worksheet) -> None:
    sheet["E2"].comment = Comment("scale read twice", "A. Sample")


def plot_codes_as_dates(sheet: Worksheet) -> None:
    for day, row in enumerate(range(2, 8), start=1):
        sheet[f"C{row}"].value = dt.datetime(2091, 1, day)
        sheet[f"C{row}"].number_format = "d-mmm"


def units_beneath(rows: list[list[str]]) -> None:
    rows[0][4:6], rows[0][7:9] = ["harvest_weight", "moisture"], ["Harvest Length", "harvest_width_ft"]
    rows.insert(1, ["", "", "no.", "code", "(lb)", "%", "", "ft", "feet", "", "", "", ""])


def another_unit_beneath(rows: list[list[str]]) -> None:
    rows.insert(1, ["", "", "", "", "kg", "%", "", "ft", "ft", "", "", "", ""])


def column_of(position: int, *texts: str) -> Callable[[list[list[str]]], None]:
    """These texts in rows 2, 3, ... of a column."""

    def change(rows: list[list[str]]) -> None:
        for row, text in zip(rows[1:], texts, strict=False):
            row[position] = text

    return change


def with_treatment_codes(urea: str, blend: str, draw_plots: Draw) -> Draw:
    """The codes of urea and blend changed in treatments, applications and plots; then the plots drawn."""

    def draw(tiny: TinyProgram, where: str) -> Path:
        for table in ("treatments", "nitrogen_applications", "plots"):
            rows = [
                [{"U-120": urea, "C-120": blend}.get(cell, cell) for cell in row] for row in tiny.rows(table, where)
            ]
            tiny.write(table, rows, where)
        return draw_plots(tiny, where)

    return draw


def dates_from_text(sheet: Worksheet) -> None:
    """Cells of treatment codes that look like days become days."""
    for row in range(2, 8):
        if str(sheet.cell(row, 4).value).startswith("2"):
            sheet.cell(row, 4).value = dt.date.fromisoformat(sheet.cell(row, 4).value)
