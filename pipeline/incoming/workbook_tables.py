"""A workbook sheet's filled cells to a table of texts, whatever library read them."""

from __future__ import annotations

from itertools import chain

from pipeline.incoming.heading_rows import find_headings
from pipeline.incoming.headings import SendersWords
from pipeline.incoming.rows_above import ROWS_COMPARED
from pipeline.incoming.sheet import Sheet, build_sheet, heading_problems, named_places, table_name, tidy_heading
from pipeline.incoming.sheet_limits import MOST_CHARACTERS, long_cell, too_many_cells, too_many_columns, too_much_text


def table_of_texts(
    texts: dict[int, dict[int, str]], title: str, words: SendersWords
) -> tuple[Sheet | None, dict[int, str], list[str]]:
    """The table, its tidy headings by column, and its problems; no table where there are any.

    texts: by row and column, both from 1; at least one.
    """
    positions = range(1, max(max(cells) for cells in texts.values()) + 1)
    filled_rows = sorted(texts)
    too_long = (
        long_cell(row, position - 1, text)
        for row in filled_rows
        for position, text in texts[row].items()
        if len(text) > MOST_CHARACTERS
    )
    if (
        too_large := too_many_cells(len(filled_rows), len(positions))
        or named_places(list(too_long))
        or too_much_text(chain.from_iterable(cells.values() for cells in texts.values()))
    ):
        return None, {}, too_large
    first_rows = [(row, [texts[row].get(p) for p in positions]) for row in filled_rows[:ROWS_COMPARED]]
    if too_wide := too_many_columns(first_rows):
        return None, {}, too_wide
    found = find_headings(first_rows, words)
    data_rows = [row for row in filled_rows if row > found.last_row]
    columns = [[texts[row].get(position) for row in data_rows] for position in positions]
    problems = found.problems + heading_problems(found.verbatim, columns, data_rows, found.row)
    headings = {p: tidy_heading(h) for p, h in zip(positions, found.verbatim, strict=True) if h is not None}
    if problems:
        return None, headings, problems
    sheet = build_sheet(
        table=table_name(title),
        sheet=title,
        heading_row=found.row,
        verbatim=found.verbatim,
        columns=columns,
        row_numbers=data_rows,
        notes=found.notes,
    )
    return sheet, headings, []
