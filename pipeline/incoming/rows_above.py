"""Rows above the headings: a title, or rows of the table, as where a sheet was sorted together with its headings.

A title or a line of group headings fills a few cells. What fills more, or says again what its columns hold, is not
passed over as one: the file is refused.
"""

from __future__ import annotations

from statistics import median

from pipeline.incoming.sheet import TITLE_ROW, Note, row_ranges, shorten

Row = tuple[int, list[str | None]]

ROWS_COMPARED = 500
_FEWEST_CELLS = 2


def title_note(row: Row) -> Note:
    number, cells = row
    return Note(number, None, _told(cells), TITLE_ROW, "The row stands above the headings and is not read as data.")


def problems_above(above: list[Row], heading_row: int, headings: list[str | None], beneath: list[Row]) -> list[str]:
    """That some rows above the headings may be rows of the table, with the mend; empty where all are titles.

    beneath: the first rows under the headings, by which a row of this table is known.
    """
    usual = [_n_filled(headings), *([median(_n_filled(cells) for _, cells in beneath)] if beneath else [])]
    columns = [{cells[i] for _, cells in beneath if i < len(cells)} - {None} for i in range(len(headings))]
    like_data = [row for row in above if _is_like_data(row[1], min(usual), columns)]
    if not like_data:
        return []
    rows = row_ranges([number for number, _ in like_data])
    first = shorten(_told(like_data[0][1]))
    return [
        f"{rows}: above the headings (row {heading_row}) stands what may be data ('{first}'). It fills about as many"
        " cells as the headings do, or repeats what stands beneath them. Move the headings above all rows of the"
        " table. If it is only a title, shorten it to one cell."
    ]


def _is_like_data(cells: list[str | None], usual: float, columns: list[set[str]]) -> bool:
    n_again = sum(cell in column for cell, column in zip(cells, columns, strict=False))
    return n_again >= _FEWEST_CELLS or _n_filled(cells) >= _FEWEST_CELLS and _n_filled(cells) > usual / 2


def _n_filled(cells: list[str | None]) -> int:
    return sum(cell is not None for cell in cells)


def _told(cells: list[str | None]) -> str:
    return " | ".join(cell for cell in cells if cell is not None) or "characters that cannot be seen"
