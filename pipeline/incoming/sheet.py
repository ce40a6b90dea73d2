"""The shape every reader gives back: one table of text cells, with the row each came from."""

from __future__ import annotations

import re
from dataclasses import dataclass, field

from pipeline.errors import UserError

MAX_PLACES_NAMED = 5
TITLE_ROW = "title_row"
# format characters of Unicode that occur in texts, letters that are drawn as nothing, and control characters but tabs
# and line breaks
INVISIBLE = re.compile(
    "[\\x00-\\x08\\x0b\\x0c\\x0e-\\x1f\\x7f-\\x9f\\u00ad\\u034f\\u061c\\u115f\\u1160\\u180e\\u200b-\\u200f\\u202a-\\u202e\\u2060-\\u2064\\u2066-\\u206f\\u2800\\u3164\\ufeff\\uffa0\\ufff9-\\ufffb\\U000e0001-\\U000e007f]"
)


@dataclass(frozen=True)
class Note:
    """Something that was read safely and still deserves a finding.

    `what` is a short name for the kind of note (such as 'merged_cells'); `sentence` says it in
    plain words; `found` is the text or range met. Row and column (a heading as in
    `Sheet.headings`) are None where the note is about more than one of them.
    """

    row: int | None
    column: str | None
    found: str | None
    what: str
    sentence: str


@dataclass(frozen=True)
class Sheet:
    """One CSV file or one sheet of a workbook, as text.

    `columns` maps each heading (lower case, underscores for spaces) to its cells, all as long as
    `row_numbers`; an empty cell is None and every other cell is verbatim text. A row number is
    the one a spreadsheet program shows beside the row. `verbatim_headings` are the headings as
    typed, in the order of `headings`. `decimal_commas`: numbers have a comma for the point.
    `merged`: (heading, first row, last row) of cells merged down a column, of which the first holds the text.
    """

    table: str
    sheet: str | None
    headings: list[str]
    verbatim_headings: list[str]
    heading_row: int
    columns: dict[str, list[str | None]]
    row_numbers: list[int]
    notes: list[Note] = field(default_factory=list)
    decimal_commas: bool = False
    merged: list[tuple[str, int, int]] = field(default_factory=list)

    @property
    def n_filled_rows(self) -> int:
        """All filled rows of the sheet but its headings: those of the table and the titles above."""
        return len(self.row_numbers) + sum(note.what == TITLE_ROW for note in self.notes)

    def distinct_texts(self) -> dict[str, set[str | None]]:
        """By heading, the texts in its column. They are few, so looking at each of them costs little for a million
        rows.
        """
        return {heading: set(cells) for heading, cells in self.columns.items()}


def table_name(text: str) -> str:
    """'Nitrogen Applications' and 'nitrogen-applications' are both nitrogen_applications."""
    return re.sub(r"[\s-]+", "_", text.strip().lower())


def tidy_heading(text: str) -> str:
    """A heading stripped, in lower case, with underscores for inner spaces and slashes and without what cannot be seen.

    Empty where nothing in it can be seen.
    """
    seen = INVISIBLE.sub("", text).lower()
    return "_".join(seen.replace("/", " ").split() or seen.split())


def column_letter(position: int) -> str:
    """The letters a spreadsheet program shows over a column; position 0 is A, 26 is AA."""
    letters = ""
    position += 1
    while position:
        position, remainder = divmod(position - 1, 26)
        letters = chr(ord("A") + remainder) + letters
    return letters


def row_ranges(rows: list[int]) -> str:
    """Ascending row numbers as a short text: [4, 7, 8, 9] is 'rows 4, 7-9'."""
    ranges: list[list[int]] = []
    for row in rows:
        if ranges and row == ranges[-1][1] + 1:
            ranges[-1][1] = row
        else:
            ranges.append([row, row])
    named = [str(a) if a == b else f"{a}-{b}" for a, b in ranges[:MAX_PLACES_NAMED]]
    if len(ranges) > MAX_PLACES_NAMED:
        named.append(f"and more, {len(rows)} rows in all")
    return ("row " if len(rows) == 1 else "rows ") + ", ".join(named)


def shorten(text: str, limit: int = 60) -> str:
    """Cell text on one line, fit to stand in a message."""
    line = " ".join(text.split())
    return line if len(line) <= limit else line[: limit - 3] + "..."


def named_places(places: list[str]) -> list[str]:
    """The first few places of one kind of problem, and how many more there are."""
    more = len(places) - MAX_PLACES_NAMED
    return places[:MAX_PLACES_NAMED] + ([f"... and {more} more like this"] if more > 0 else [])


class NotRead(UserError):
    """A file that is no table as it stands.

    n_rows: its filled rows but the headings, None where they cannot be counted.
    only_sender_mends: nobody else can, as where it is damaged.
    """

    def __init__(self, said: str, n_rows: int | None, *, only_sender_mends: bool = False) -> None:
        super().__init__(said)
        self.n_rows, self.only_sender_mends = n_rows, only_sender_mends


def refusal(name: str, problems: list[str], *, n_rows: int | None = None, only_sender_mends: bool = False) -> NotRead:
    """One error for a file, all its problems in it, one a line."""
    said = f" {problems[0]}" if len(problems) == 1 else "".join(f"\n  {problem}" for problem in problems)
    return NotRead(f"{name}:{said}", n_rows, only_sender_mends=only_sender_mends)


def empty_file(name: str) -> NotRead:
    """The refusal of a file in which nothing stands."""
    problem = "the file is empty. Deliver it with its headings, or leave it out."
    return refusal(name, [problem], only_sender_mends=True)


def protected_workbook(name: str) -> NotRead:
    """The refusal of a workbook that opens with a password only."""
    problem = "the workbook is protected by a password. Save it without one."
    return refusal(name, [problem], only_sender_mends=True)


def damaged_workbook(name: str) -> NotRead:
    """The refusal of a workbook that its library cannot open."""
    problem = (
        "the workbook is damaged or of another kind. Open it in a spreadsheet program, save it as .xlsx and deliver"
        " that. If it does not open, it must be sent again."
    )
    return refusal(name, [problem], only_sender_mends=True)


def heading_problems(
    verbatim: list[str | None], columns: list[list[str | None]], row_numbers: list[int], heading_row: int
) -> list[str]:
    """Doubled headings, and filled cells under no heading, each with how to mend it."""
    positions: dict[str, list[int]] = {}
    for position, heading in enumerate(verbatim):
        if heading is not None:
            positions.setdefault(tidy_heading(heading), []).append(position)
    twice = [
        f"row {heading_row}: columns {' and '.join(map(column_letter, doubled))} are all headed '{shorten(heading)}'. "
        "Give each column its own heading, or delete the copy."
        for heading, doubled in positions.items()
        if len(doubled) > 1
    ]
    unheaded = []
    for position, cells in enumerate(columns):
        if verbatim[position] is None:
            filled = next((i for i, cell in enumerate(cells) if cell is not None), None)
            if filled is not None:
                unheaded.append(
                    f"row {row_numbers[filled]}, column {column_letter(position)}: "
                    f"'{shorten(cells[filled])}' stands under no heading (row {heading_row} shows nothing there). "
                    f"Type a heading in cell {column_letter(position)}{heading_row}, or clear the column; "
                    "lines above the headings, such as a title, must go."
                )
    return named_places(twice) + named_places(unheaded)


def build_sheet(
    *,
    table: str,
    sheet: str | None,
    heading_row: int,
    verbatim: list[str | None],
    columns: list[list[str | None]],
    row_numbers: list[int],
    notes: list[Note],
) -> Sheet:
    """A Sheet from columns by position; columns with neither heading nor cells are dropped.

    Call it only when `heading_problems` found none.
    """
    headed = [(h, c) for h, c in zip(verbatim, columns, strict=True) if h is not None]
    headings = [tidy_heading(h) for h, _ in headed]
    return Sheet(
        table=table,
        sheet=sheet,
        headings=headings,
        verbatim_headings=[h for h, _ in headed],
        heading_row=heading_row,
        columns=dict(zip(headings, (c for _, c in headed), strict=True)),
        row_numbers=row_numbers,
        notes=notes,
    )
