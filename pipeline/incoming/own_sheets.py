"""The sheets of our own workbooks that hold no table: known by their name and by how they begin.

They come back with every filled workbook and need no note. A sheet that has one of these names alone is a
stranger's, and is noted like any other that is passed over.
"""

from __future__ import annotations

from openpyxl.worksheet.worksheet import Worksheet

# Names of sheets that hold no table, ours among them, as table_name has them.
NOT_TABLES = ("notes", "readme", "read_me", "instructions", "example", "columns")
INSTRUCTIONS, WORDS, PLAN = "instructions", "_words", "_plan of plots"
READ_ME, EXAMPLE, COLUMNS = "Read me", "Example", "Columns"
BEGINS = {
    INSTRUCTIONS: "Plot workbook of trial ",
    WORDS: "Words that the cells of this plot workbook offer",
    PLAN: "Plan of plots: plot number over treatment code; every block was randomized afresh",
    READ_ME: "Trial workbook of ",
    EXAMPLE: "Example: ",
    COLUMNS: "Every column of this workbook",
}


def is_own_sheet(worksheet: Worksheet) -> bool:
    begin = BEGINS.get(worksheet.title)
    return begin is not None and str(worksheet["A1"].value or "").startswith(begin)
