"""The sheet a crew takes to the field: the plan of plots with room to write, and what to weigh out for each plot.

Product per plot follows from the rate, the % N on the label and the planned plot size, which are typed in; the sheet
computes it.
"""

from __future__ import annotations

from collections.abc import Iterator

import pandas as pd
from openpyxl.cell.cell import TYPE_STRING, Cell
from openpyxl.styles import Alignment, Border, Font, Side
from openpyxl.styles.fonts import DEFAULT_FONT
from openpyxl.utils import get_column_letter
from openpyxl.worksheet.worksheet import Worksheet

from pipeline.contract.units import M2_PER_HA, SQ_FT_PER_ACRE
from pipeline.contract.words import FORMULA_OPENINGS
from pipeline.incoming.own_sheets import BEGINS, PLAN

THIN = Side(style="thin", color="FF808080")
BOX = Border(left=THIN, right=THIN, top=THIN, bottom=THIN)
# by the heading of the N rate: unit of the rate, of a length, of a weight, and square lengths in the rate's area
US, METRIC = ("lb/ac", "ft", "lb", SQ_FT_PER_ACRE), ("kg/ha", "m", "kg", M2_PER_HA)
LENGTH_AT, WIDTH_AT = "B3", "D3"
SIZE_ROW, MAP_ROW = 3, 5
NARROW, WIDE = 13, 16
TWO_LINES = 32
NOT_LISTED = "not listed yet"
WRITE_HEIGHT = 34  # room for a note under each plot


def write_plan(sheet: Worksheet, plan: pd.DataFrame, treatments: pd.DataFrame, applications: pd.DataFrame) -> None:
    """Fills the sheet. plan: as plan_of_plots gives it. treatments, applications: the workbook's rows of these
    tables.
    """
    units = US if "n_rate_lb_ac" in treatments else METRIC
    sheet.title = PLAN
    _bold(sheet["A1"], BEGINS[PLAN])
    _write_sizes(sheet, units[1])
    last = _write_map(sheet, plan)
    _write_key(sheet, last + 2, treatments, applications, units)
    for position in range(1, max(int(plan["position"].max()) + 2, len(KEY) + 1)):
        sheet.column_dimensions[get_column_letter(position)].width = WIDE if position == 1 else NARROW
    sheet.page_setup.orientation, sheet.page_setup.fitToWidth, sheet.page_setup.fitToHeight = "landscape", 1, 0
    sheet.sheet_properties.pageSetUpPr.fitToPage = True


def _bold(cell: Cell, text: str) -> None:
    cell.value, cell.font = text, Font(name=DEFAULT_FONT.name, bold=True)


def _write_sizes(sheet: Worksheet, length: str) -> None:
    """Labels with an empty box beside each."""
    labels = (
        f"Planned plot length, {length}",
        f"Planned plot width, {length}",
        f"Alley width, {length}",
        "North is toward",
    )
    for position, label in enumerate(labels):
        cell = sheet.cell(SIZE_ROW, 1 + 2 * position, label)
        cell.alignment = Alignment(wrap_text=True, vertical="center")
        sheet.cell(SIZE_ROW, 2 + 2 * position).border = BOX
    sheet.row_dimensions[SIZE_ROW].height = TWO_LINES


def _write_map(sheet: Worksheet, plan: pd.DataFrame) -> int:
    """The plots as they lie in the field: two rows of cells per block, in order of position, the lower to write in. Its
    last row.
    """
    row = MAP_ROW
    for block, of_block in plan.groupby("block", sort=True):
        _bold(sheet.cell(row, 1), f"block {block}")
        sheet.cell(row + 1, 1, "notes")
        for plot in of_block.itertuples():
            main_plot = f" ({plot.main_plot})" if plot.main_plot else ""
            cell = sheet.cell(row, 1 + plot.position, f"{plot.plot}{main_plot}\n{plot.treatment_code}")
            as_text(cell)
            cell.alignment, cell.border = Alignment(wrap_text=True, horizontal="center"), BOX
            sheet.cell(row + 1, 1 + plot.position).border = BOX
        sheet.row_dimensions[row].height, sheet.row_dimensions[row + 1].height = TWO_LINES, WRITE_HEIGHT
        row += 2
    return row - 1


KEY = (
    "treatment",
    "application",
    "product",
    "% N",
    "N rate",
    "product rate",
    "product per plot",
    "date applied",
    "by whom",
)
PERCENT, RATE, PRODUCT_RATE = (KEY.index(name) + 1 for name in ("% N", "N rate", "product rate"))


def _write_key(
    sheet: Worksheet,
    first_row: int,
    treatments: pd.DataFrame,
    applications: pd.DataFrame,
    units: tuple[str, str, str, float],
) -> None:
    """A row per application of each treatment: what to weigh out, and boxes for who applied it when."""
    rate_unit, length, weight, _ = units
    _bold(sheet.cell(first_row, 1), "Treatment key")
    note = (
        f"Product per plot, {weight}, appears when plot length and width ({length}) and % N are filled in. Rates:"
        f" {rate_unit}. Check against the label."
    )
    sheet.cell(first_row, 2, note)
    for column, heading in enumerate(KEY, start=1):
        cell = sheet.cell(first_row + 1, column)
        _bold(cell, heading)
        cell.border, cell.alignment = BOX, Alignment(wrap_text=True, vertical="top")
    sheet.row_dimensions[first_row + 1].height = TWO_LINES
    for row, values in enumerate(_applied(treatments, applications, rate_unit), start=first_row + 2):
        for column, value in enumerate([*values, *_formulas(row, units), None, None][: len(KEY)], start=1):
            cell = sheet.cell(row, column, None if pd.isna(value) else value)
            if column <= PERCENT - 1:
                as_text(cell)
            cell.border = BOX
            cell.alignment = Alignment(wrap_text=True, vertical="top")
            cell.number_format = {PRODUCT_RATE: "0.0", PRODUCT_RATE + 1: "0.00"}.get(column, "General")
        if any(len(str(value)) > NARROW for value in values):
            sheet.row_dimensions[row].height = TWO_LINES


def _applied(treatments: pd.DataFrame, applications: pd.DataFrame, rate_unit: str) -> Iterator[tuple]:
    """(treatment, application, product, % N, N rate), a treatment without applications in one row: it has no N, or
    they are not listed yet.
    """
    rate = f"n_rate_{rate_unit.replace('/', '_')}"
    for code, planned in zip(treatments["treatment_code"], treatments[rate], strict=True):
        own = applications[applications["treatment_code"] == code]
        if own.empty:
            yield (code, NOT_LISTED, None, None, planned) if planned > 0 else (code, "none", "none", None, 0)
        for row in own.to_dict("records"):
            yield code, row["application"], row["product"], row.get("product_n_pct"), row.get(rate)


def _formulas(row: int, units: tuple[str, str, str, float]) -> tuple[str, str]:
    """Product per area and per plot, empty until what they need is typed in."""
    _, _, _, area = units
    percent, rate, product = (f"{get_column_letter(column)}{row}" for column in (PERCENT, RATE, PRODUCT_RATE))
    return (
        f'=IF({percent}="","",ROUND({rate}/({percent}/100),1))',
        f'=IF(OR({product}="",{LENGTH_AT}="",{WIDTH_AT}=""),"",ROUND({rate}/({percent}/100)*{LENGTH_AT}*{WIDTH_AT}/{area:g},2))',
    )


def as_text(cell: Cell) -> None:
    """A text that opens like a formula stays a text, with the mark that a typed apostrophe leaves (quotePrefix in
    ECMA-376, part 1).
    """
    if isinstance(cell.value, str) and cell.value.startswith(FORMULA_OPENINGS):
        cell.data_type, cell.quotePrefix = TYPE_STRING, True
