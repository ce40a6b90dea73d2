"""The page of instructions in a plot workbook."""

from __future__ import annotations

from collections.abc import Callable, Mapping

import numpy as np
import pandas as pd
from openpyxl.styles import Alignment, Font
from openpyxl.styles.fonts import DEFAULT_FONT
from openpyxl.worksheet.worksheet import Worksheet

from pipeline.incoming.own_sheets import BEGINS, INSTRUCTIONS
from pipeline.planning.workbook_fields import Field

HOW_TO_FILL = (
    (
        "Fill in the white cells. Gray cells were filled in for you; change one only if the field was laid out"
        " differently, and say so in the notes."
    ),
    "Keep the headings as they are: each states its unit. Headings in bold on gray over a thick line are required.",
    "Type numbers alone, without unit or comma. Leave a cell empty where nothing was measured; do not write 0 or NA.",
    (
        "Choose words from the list that a cell offers. A value the sheet refuses is out of range or in another unit:"
        " check the field sheet again."
    ),
    (
        "Under plots, outcome: say for every plot whether it was harvested, damaged, replanted or lost; anything but"
        " harvested needs a cause."
    ),
    "Under trials, outcome: change 'planned' to planted, harvested or lost as the season goes on.",
    (
        "Under nitrogen_applications, applied_on: the day of every pass as it was done. Check product and % N against"
        " the label of what you spread."
    ),
    "Plot numbers, codes and blocks are text, so that 1-1 stays 1-1.",
    (
        "The sheet '_plan of plots' is for the field. Type in plot length and width, and it says how much product each"
        " plot gets. What is written there is not read. Send the workbook back whole."
    ),
)
CAUTIONS = (
    (
        "This is a trial protocol, not a recommendation. Product labels and safety data sheets, local codes and your"
        " nutrient management plan come first; ask a certified crop adviser or the extension office where they differ."
    ),
    (
        "Do not spread nitrogen on frozen, snow-covered or saturated ground or before heavy rain, and keep the setbacks"
        " from wells and water."
    ),
    "Keep nitrogen out of borders and alleys; harvest plot centers only.",
)
COLUMN_HEADS = ("sheet", "column", "required", "unit", "what it means", "allowed values")
WIDTHS = (22, 28, 10, 11, 60, 60)


def write_instructions(
    sheet: Worksheet, fields: Mapping[str, list[Field]], *, trial: pd.Series, random_seed: int
) -> None:
    """Fills the sheet: what the trial is, how to fill the workbook, cautions, every column."""
    sheet.title = INSTRUCTIONS
    lines = [
        (f"{BEGINS[INSTRUCTIONS]}{trial['trial_id']}", True),
        (f"{trial['crop']}, harvest year {trial['season']}, site {trial['site_id']}, {trial['design']}", False),
        (
            (
                f"Randomized with random seed {random_seed} (numpy {np.__version__}). Keep this workbook: it is the"
                " record of the plan."
            ),
            False,
        ),
        ("How to fill it in", True),
        *((f"{number}. {text}", False) for number, text in enumerate(HOW_TO_FILL, start=1)),
        ("Cautions", True),
        *((text, False) for text in CAUTIONS),
        ("Every column", True),
    ]
    for row, (text, is_head) in enumerate(lines, start=1):
        _write_line(sheet, row, text, is_head)
    write_columns(sheet, len(lines) + 1, fields)
    sheet.page_setup.orientation, sheet.page_setup.fitToHeight = "landscape", 0
    sheet.sheet_properties.pageSetUpPr.fitToPage = True


def _write_line(sheet: Worksheet, row: int, text: str, is_head: bool) -> None:
    cell = sheet.cell(row, 1, text)
    cell.font = Font(name=DEFAULT_FONT.name, bold=is_head, size=13 if row == 1 else 11)
    cell.alignment = Alignment(wrap_text=True, vertical="top")
    sheet.merge_cells(start_row=row, end_row=row, start_column=1, end_column=len(COLUMN_HEADS))
    sheet.row_dimensions[row].height = 20 if is_head else 16 * (1 + len(text) // sum(WIDTHS))


def write_columns(
    sheet: Worksheet,
    first_row: int,
    fields: Mapping[str, list[Field]],
    heading_of: Callable[[Field], str] = lambda field: field.heading,
) -> None:
    """A row for every column of every table, under a row of headings; sets the sheet's widths."""
    for letter, width in zip("ABCDEF", WIDTHS, strict=True):
        sheet.column_dimensions[letter].width = width
    rows = [COLUMN_HEADS] + [
        (table, heading_of(field), "required" if field.required else "", field.unit, field.meaning, field.expected)
        for table, of_table in fields.items()
        for field in of_table
    ]
    for row, values in enumerate(rows, start=first_row):
        for column, value in enumerate(values, start=1):
            cell = sheet.cell(row, column, value)
            cell.alignment = Alignment(wrap_text=True, vertical="top")
            cell.font = Font(name=DEFAULT_FONT.name, bold=row == first_row)
        sheet.row_dimensions[row].height = 15 * max(
            1, *(1 + len(v) // w for v, w in zip(values[4:], WIDTHS[4:], strict=True))
        )
