"""Comma-separated UTF-8 files to text columns, by the standard library's reader in strict mode (RFC 4180)."""

from __future__ import annotations

import csv
import gc
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from itertools import chain, compress, islice

from pipeline.incoming.csv_text import Text, separated_text
from pipeline.incoming.heading_rows import Headings, find_headings
from pipeline.incoming.headings import SendersWords
from pipeline.incoming.other_readings import read_otherwise
from pipeline.incoming.rows_above import ROWS_COMPARED
from pipeline.incoming.sheet import (
    Note,
    Sheet,
    build_sheet,
    column_letter,
    empty_file,
    heading_problems,
    named_places,
    refusal,
    row_ranges,
    shorten,
    table_name,
)
from pipeline.incoming.sheet_limits import MOST_CHARACTERS, long_cell, too_many_cells, too_many_columns

ROWS_AT_A_TIME = 1_000  # small enough to stay in the processor's cache: twice as fast as lots of 20,000


def _cells(texts: tuple[str, ...]) -> tuple[str | None, ...]:
    """The texts with blank ones as None; equal texts share one copy, which saves memory."""
    kept: dict[str, str | None] = {"": None}
    cells = tuple(map(kept.setdefault, texts, texts))
    if any(map(str.isspace, kept)):
        return tuple(None if cell is None or cell.isspace() else cell for cell in cells)
    return cells


@contextmanager
def _no_garbage_collection() -> Iterator[None]:
    """Rows of text never refer to each other in circles, and the collector would walk through all of them again and
    again (a million rows of 12 cells: 2.7 s of CPU against 4.9 s).
    """
    was_on = gc.isenabled()
    gc.disable()
    try:
        yield
    finally:
        if was_on:
            gc.enable()


@dataclass
class _Reading:
    """What has been read so far; each column grows in tuples."""

    width: int
    row_numbers: list[int] = field(default_factory=list)
    lots: list[list[tuple[str | None, ...]]] = field(default_factory=list)
    short_rows: list[int] = field(default_factory=list)
    too_long: list[str] = field(default_factory=list)

    def add(self, rows: list[list[str]], first_row_number: int) -> None:
        """Append rows; blank ones are skipped, the numbering keeps count of them."""
        numbers = list(range(first_row_number, first_row_number + len(rows)))
        filled = [(row and row[0].strip()) or any(map(str.strip, row)) for row in rows]  # the first cell mostly is
        if not all(filled):
            rows, numbers = list(compress(rows, filled)), list(compress(numbers, filled))
        if set(map(len, rows)) - {self.width}:
            rows = [self._fit(number, row) for number, row in zip(numbers, rows, strict=True)]
        self.row_numbers.extend(numbers)
        if rows:
            self.lots.append([_cells(texts) for texts in zip(*rows, strict=True)])

    def columns(self) -> list[list[str | None]]:
        """All cells read, one list per heading."""
        return [list(chain.from_iterable(lot[i] for lot in self.lots)) for i in range(self.width)]

    def _fit(self, row_number: int, row: list[str]) -> list[str]:
        """The row at the width of the headings; what does not fit is remembered."""
        if len(row) < self.width:
            self.short_rows.append(row_number)
            return row + [""] * (self.width - len(row))
        if "".join(row[self.width :]).strip():
            extra = next(i for i, cell in enumerate(row[self.width :], start=self.width) if cell.strip())
            place = f"row {row_number}, column {column_letter(extra)}"
            self.too_long.append(
                f"{place}: '{shorten(row[extra])}' lies beyond the last heading ({len(row)} cells, "
                f"{self.width} headings). Put a cell that holds a comma in double quotes, "
                "or give the column a heading."
            )
        return row[: self.width]


@_no_garbage_collection()
def read_csv(
    content: bytes,
    *,
    stem: str,
    name: str,
    words: SendersWords = SendersWords(),
    file_name: str = "",
    progress: Callable[[float], None] = lambda share: None,
) -> Sheet:
    """The one table of a .csv file; a row number counts rows as a spreadsheet program does.

    So a cell with a line break in it does not put the numbers off. `progress` is told the share
    of the file that was read, again and again. Raises UserError.
    """
    text = separated_text(content, name=name)
    reader = csv.reader(text.lines, delimiter=text.separator, strict=True)
    first_rows, before = _first_rows(reader, text, name=name)
    headings = _headings(first_rows, before, words, name=name)
    reading = _Reading(width=len(headings.verbatim))
    reading.add(first_rows[headings.last_row - before :], headings.last_row + 1)
    rows_read = before + len(first_rows)
    for rows in _chunks(reader, rows_read, text, name=name):
        reading.add(rows, rows_read + 1)
        rows_read += len(rows)
        if too_many := too_many_cells(len(reading.row_numbers), reading.width):
            raise refusal(name, too_many)
        progress(text.lines.buffer.tell() / text.lines.buffer.getbuffer().nbytes)
    columns = reading.columns()
    problems = headings.problems + heading_problems(headings.verbatim, columns, reading.row_numbers, headings.row)
    problems += named_places(reading.too_long)
    if problems:
        above = first_rows[: headings.row - 1 - before]
        n_above = sum(any(map(str.strip, row)) for row in above)
        raise refusal(name, problems, n_rows=n_above + len(reading.row_numbers))
    sheet = build_sheet(
        table=table_name(stem),
        sheet=None,
        heading_row=headings.row,
        verbatim=headings.verbatim,
        columns=columns,
        row_numbers=reading.row_numbers,
        notes=[*headings.notes, *_short_row_notes(reading.short_rows)],
    )
    sheet = read_otherwise(sheet, text, words, name, file_name)
    if reader.line_num > rows_read:
        sheet.notes.extend(_line_break_notes(sheet))
    return sheet


def _first_rows(reader: Iterator[list[str]], text: Text, *, name: str) -> tuple[list[list[str]], int]:
    """The first lot of rows with anything in it, and how many rows came before it."""
    before = 0
    for rows in _chunks(reader, 0, text, name=name):
        if any(any(map(str.strip, row)) for row in rows):
            return rows, before
        before += len(rows)
    raise empty_file(name)


def _headings(rows: list[list[str]], before: int, words: SendersWords, *, name: str) -> Headings:
    """The headings, without empty ones to the right of the first rows' last cell."""
    filled = ((number, row) for number, row in enumerate(rows, start=before + 1) if any(map(str.strip, row)))
    texts = [
        (number, [cell if cell.strip() else None for cell in row]) for number, row in islice(filled, ROWS_COMPARED)
    ]
    if problems := too_many_columns(texts):
        raise refusal(name, problems)
    headings = find_headings(texts, words)
    width = max((i for i, heading in enumerate(headings.verbatim, start=1) if heading is not None), default=0)
    for row in rows:
        if "".join(row[width:]).strip():
            width = max(i for i, cell in enumerate(row, start=1) if cell.strip())
    del headings.verbatim[width:]
    return headings


def _chunks(reader: Iterator[list[str]], rows_read: int, text: Text, *, name: str) -> Iterator[list[list[str]]]:
    """Rows in lots; a row that the strict reader refuses is named."""
    while True:
        rows: list[list[str]] = []
        try:
            rows.extend(islice(reader, ROWS_AT_A_TIME))
        except csv.Error as error:
            # list.extend keeps what came before the error, so the next row is the one that failed.
            row_number = rows_read + len(rows) + 1
            problem = _long_cell(text, row_number) or _quote_problem(row_number, error)
            raise refusal(name, [problem]) from error
        if not rows:
            return
        yield rows
        rows_read += len(rows)


def _long_cell(text: Text, row_number: int) -> str | None:
    """The cell of a row that is too long to be read; None where its quotes do not pair up either."""
    text.lines.seek(0)
    usual = csv.field_size_limit(len(text.lines.buffer.getbuffer()))
    try:
        row = next(islice(csv.reader(text.lines, delimiter=text.separator, strict=True), row_number - 1, None))
    except csv.Error:
        return None
    finally:
        csv.field_size_limit(usual)
    return next((long_cell(row_number, i, cell) for i, cell in enumerate(row) if len(cell) > MOST_CHARACTERS), None)


def _quote_problem(row_number: int, error: csv.Error) -> str:
    return (
        f"row {row_number}: the double quotes do not pair up ({error}). Look for a cell that begins with one "
        'and does not end with one; write a quote inside a quoted cell twice ("").'
    )


def _short_row_notes(short_rows: list[int]) -> list[Note]:
    if not short_rows:
        return []
    return [
        Note(
            row=short_rows[0],
            column=None,
            found=row_ranges(short_rows),
            what="short_row",
            sentence="The row has fewer cells than there are headings; the missing ones at its end are read as empty.",
        )
    ]


def _line_break_notes(sheet: Sheet) -> list[Note]:
    """A line break inside quotes may be meant, or a stray quote that swallowed a row: say where."""
    return [
        Note(
            row=row,
            column=heading,
            found=shorten(cell),
            what="line_break_in_cell",
            sentence="The cell holds a line break; if two rows run together here, a double quote is out of place.",
        )
        for heading, cells in sheet.columns.items()
        for row, cell in zip(sheet.row_numbers, cells, strict=True)
        if cell is not None and ("\n" in cell or "\r" in cell)
    ]
