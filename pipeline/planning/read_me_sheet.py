"""The first sheet of the trial workbook: what to fill in, where to send it, cautions."""

from __future__ import annotations

from collections.abc import Sequence

from openpyxl.styles import Alignment, Border, Font
from openpyxl.styles.fonts import DEFAULT_FONT
from openpyxl.worksheet.worksheet import Worksheet

from pipeline.contract.tables import Table
from pipeline.incoming.own_sheets import BEGINS, COLUMNS, EXAMPLE, READ_ME
from pipeline.planning.instructions import CAUTIONS
from pipeline.planning.table_sheets import FILL_IN, THIN

WIDTHS = (30, 76)
LINE_HEIGHT, ROOM = 15.5, 6
ASKED = ("Send it back to", "Send it back by", "Your name and farm or station", "Phone or e-mail")
HOW_TO_FILL = (
    f"Fill in the sheets below, from left to right. The sheet {EXAMPLE} shows an invented trial as it should look.",
    "Start each row directly below the headings and leave no row empty in between.",
    (
        "Columns with bold headings on gray are required. Leave any other cell empty if you do not know; never type 0"
        " or NA for it."
    ),
    (
        "Keep the headings as they are: the second line of a heading is the unit. Type numbers alone, without unit or"
        " comma."
    ),
    "Where a cell offers a list, choose from it. A value the sheet refuses is out of range or in another unit.",
    "Spell trial id, site id, place and treatment code the same way in every sheet. They tie the sheets together.",
    "List every trial and every plot, also what was lost. A plot that was not harvested needs its cause, such as hail.",
    (
        "Before harvest, send what you have. Under trials, outcome: planned or planted. Leave plots empty, and send the"
        " workbook again later."
    ),
    "Add a sheet named notes for anything else. It is not read as data.",
    f"The sheet {COLUMNS} explains every column.",
)
NO_ADVICE = "This workbook collects research data. It recommends no product and no rate; the example is invented."


def write_read_me(
    sheet: Worksheet, *, program: str, season: int, crops: Sequence[str], tables: Sequence[Table]
) -> None:
    """Fills the sheet. tables: those of the sheets to fill in, in their order."""
    sheet.title = READ_ME
    sheet.sheet_view.showGridLines = False
    for letter, width in zip("AB", WIDTHS, strict=True):
        sheet.column_dimensions[letter].width = width
    row = _line(sheet, 1, f"{BEGINS[READ_ME]}{program}", size=16)
    row = _line(sheet, row, f"{', '.join(crops)}, harvest year {season}")
    row = _asked(sheet, row + 1)
    row = _line(sheet, row + 1, "How to fill it in", size=13)
    for number, text in enumerate(HOW_TO_FILL, start=1):
        row = _line(sheet, row, f"{number}. {text}")
    row = _line(sheet, row + 1, "The sheets", size=13)
    for table in tables:
        row = _pair(sheet, row, table.name, f"{table.grain.capitalize()}. {table.meaning}")
    row = _line(sheet, row + 1, "Cautions", size=13)
    for text in (NO_ADVICE, *CAUTIONS):
        row = _line(sheet, row, text)
    sheet.page_setup.orientation, sheet.page_setup.fitToWidth, sheet.page_setup.fitToHeight = "portrait", 1, 1
    sheet.sheet_properties.pageSetUpPr.fitToPage = True


def _asked(sheet: Worksheet, row: int) -> int:
    """Boxes to type in: the first two for the lead, the others for the cooperator."""
    for label in ASKED:
        row = _pair(sheet, row, label, "")
        box = sheet.cell(row - 1, 2)
        box.fill, box.border = FILL_IN, Border(left=THIN, right=THIN, top=THIN, bottom=THIN)
        box.number_format = "@"
        sheet.row_dimensions[row - 1].height = LINE_HEIGHT + ROOM
    return row


def _line(sheet: Worksheet, row: int, text: str, size: int = 11) -> int:
    """A text across both columns; the next row. Headings are larger."""
    cell = sheet.cell(row, 1, text)
    cell.font = Font(name=DEFAULT_FONT.name, size=size, bold=size > 11)
    cell.alignment = Alignment(wrap_text=True, vertical="center")
    sheet.merge_cells(start_row=row, end_row=row, start_column=1, end_column=len(WIDTHS))
    _set_height(sheet, row, text, sum(WIDTHS), size)
    return row + 1


def _pair(sheet: Worksheet, row: int, label: str, text: str) -> int:
    first, second = sheet.cell(row, 1, label), sheet.cell(row, 2, text or None)
    first.font = Font(name=DEFAULT_FONT.name, bold=True)
    for cell in (first, second):
        cell.alignment = Alignment(wrap_text=True, vertical="center")
    _set_height(sheet, row, text, WIDTHS[1], 11)
    return row + 1


def _set_height(sheet: Worksheet, row: int, text: str, width: int, size: int) -> None:
    lines = 1 + int(len(text) * size / 11 // (width * 1.15))
    sheet.row_dimensions[row].height = LINE_HEIGHT * lines * size / 11 + ROOM
