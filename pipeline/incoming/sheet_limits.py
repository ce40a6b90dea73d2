"""How much one table may hold: beyond these limits, which are our own, a file is no table of field trials and would
fill the memory.
"""

from __future__ import annotations

from collections.abc import Iterable

from pipeline.incoming.sheet import column_letter, shorten

MOST_BYTES = 300_000_000
MOST_FILLED = 1_000
MOST_COLUMNS = 16_384  # as many as a spreadsheet has
MOST_CELLS = 20_000_000  # of rows times columns, empty ones too
MOST_TEXT = 50_000_000
MOST_CHARACTERS = 131_072  # of a cell: what Python's csv module reads


def too_many_columns(rows: Iterable[tuple[int, list[str | None]]]) -> list[str]:
    """The problem of the first of a sheet's first rows, by number, that fills too many cells; looked at before the
    headings are.
    """
    for number, cells in rows:
        filled = [position for position, cell in enumerate(cells) if cell is not None]
        if len(filled) > MOST_FILLED:
            return [
                f"row {number}: {len(filled):,} filled cells, the last in column {column_letter(filled[-1])}; at most"
                f" {MOST_FILLED:,} columns are read. Give each plot a row of its own, or delete columns that hold no"
                " data."
            ]
    return []


def too_many_cells(n_rows: int, n_columns: int) -> list[str]:
    """The problem, where there is one; looked at before columns are made."""
    if n_rows * n_columns > MOST_CELLS:
        return [
            f"{n_rows:,} rows with cells as far as column {column_letter(n_columns - 1)} are more than the"
            f" {MOST_CELLS:,} cells that are read, empty ones too. Delete the columns to the right of the table, or"
            " deliver it in parts."
        ]
    return []


def too_much_text(texts: Iterable[str]) -> list[str]:
    """The problem, where there is one: a workbook stores a long text once, however many cells hold it."""
    n = sum(map(len, texts))
    if n > MOST_TEXT:
        return [f"its cells hold {n:,} characters; at most {MOST_TEXT:,} are read. Shorten the texts that are no data."]
    return []


def long_cell(row_number: int, position: int, text: str) -> str:
    return (
        f"row {row_number}, column {column_letter(position)}: the cell holds {len(text):,} characters"
        f" ('{shorten(text)}'); at most {MOST_CHARACTERS:,} are read. Shorten it. If rows run together in it, a double"
        " quote is out of place."
    )
