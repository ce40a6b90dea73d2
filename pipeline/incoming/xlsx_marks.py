"""Marks on data cells that may mean something: colors, struck-through text, a scientific format, comments.

A mark that a whole column shares is its look and says nothing; any other is noted with its cells. What it means
(lost plot? doubtful weight?) is not guessed.
"""

from __future__ import annotations

from collections.abc import Iterable

from openpyxl.cell import Cell
from openpyxl.styles.colors import COLOR_INDEX, Color

from pipeline.incoming.sheet import MAX_PLACES_NAMED, Note, row_ranges, shorten

OURS = "F2F2F2"  # of the cells that a plot workbook comes with; a row typed below them is white
_PLAIN = {"FFFFFF", "000000", "theme 0", "theme 1", "the default color", OURS}
_SAY_IT_IN_A_COLUMN = "What it means is not read: say it in a column (outcome and cause of a plot, notes)."
_SENTENCES = {
    "marked_by_color": f"Some cells are colored and others of their column are not. {_SAY_IT_IN_A_COLUMN}",
    "struck_through": f"Some cells are struck through and are read all the same. {_SAY_IT_IN_A_COLUMN}",
    "scientific_format": (
        "The cells are numbers shown in scientific form. A spreadsheet program does that to codes "
        "such as 1E2, which becomes 100: if codes were typed here, format the column as Text and type them again."
    ),
}


def mark_notes(cells: Iterable[Cell], headings: dict[int, str], *, data_rows: list[int]) -> list[Note]:
    """Notes on marked data cells; `headings` by column from 1, `data_rows` ascending."""
    among = set(data_rows)
    cells = [cell for cell in cells if cell.row in among and cell.column in headings]
    marked: dict[tuple[str, str], list[Cell]] = {}
    marks_of_style: dict[int, list[tuple[str, str]]] = {}
    for cell in cells:
        if cell.has_style:
            if cell.style_id not in marks_of_style:
                marks_of_style[cell.style_id] = _marks(cell)
            for mark in marks_of_style[cell.style_id]:
                marked.setdefault(mark, []).append(cell)
    notes = []
    for (what, said), marked_cells in marked.items():
        if what == "scientific_format":
            marked_cells = [cell for cell in marked_cells if isinstance(cell.value, (int, float))]
        else:
            marked_cells = _not_whole_columns(marked_cells, len(data_rows))
        if marked_cells:
            notes.append(_note(what, said, marked_cells, headings))
    return notes + [_comment(cell, headings) for cell in cells if cell.comment is not None]


def _marks(cell: Cell) -> list[tuple[str, str]]:
    """(kind, words for it) of what a cell's style shows beside its value."""
    marks = []
    if cell.fill.fill_type is not None and (color := _color(cell.fill.fgColor)) not in _PLAIN:
        marks.append(("marked_by_color", f"filled with {color}"))
    if (color := _color(cell.font.color)) not in _PLAIN:
        marks.append(("marked_by_color", f"written in {color}"))
    if cell.font.strike:
        marks.append(("struck_through", "struck through"))
    if "E+" in cell.number_format.upper():
        marks.append(("scientific_format", cell.number_format))
    return marks


def _color(color: Color | None) -> str:
    """The color as red-green-blue digits, or the workbook theme's number for it."""
    if color is None:
        return "the default color"
    if color.type == "theme":
        return f"theme {color.theme}" if not color.tint else f"theme {color.theme}, tint {color.tint:.2f}"
    if color.type == "indexed":
        return COLOR_INDEX[color.indexed][-6:] if color.indexed < len(COLOR_INDEX) else "the default color"
    return str(color.rgb)[-6:].upper()


def _not_whole_columns(cells: list[Cell], n_rows: int) -> list[Cell]:
    by_column: dict[int, list[Cell]] = {}
    for cell in cells:
        by_column.setdefault(cell.column, []).append(cell)
    return [cell for cell in cells if len(by_column[cell.column]) < n_rows]


def _note(what: str, said: str, cells: list[Cell], headings: dict[int, str]) -> Note:
    named = ", ".join(cell.coordinate for cell in cells[:MAX_PLACES_NAMED])
    more = f" and {len(cells) - MAX_PLACES_NAMED} more" if len(cells) > MAX_PLACES_NAMED else ""
    rows = row_ranges(sorted({cell.row for cell in cells}))
    columns = {cell.column for cell in cells}
    column = headings[columns.pop()] if len(columns) == 1 else None
    return Note(
        row=cells[0].row, column=column, found=f"{said}: {rows} ({named}{more})", what=what, sentence=_SENTENCES[what]
    )


def _comment(cell: Cell, headings: dict[int, str]) -> Note:
    return Note(
        row=cell.row,
        column=headings[cell.column],
        found=shorten(cell.comment.text, limit=200),
        what="cell_comment",
        sentence=f"Cell {cell.coordinate} carries a comment, which is kept here and not read as data.",
    )
