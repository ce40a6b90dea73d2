"""Which row of a sheet holds the headings: below a title, and perhaps above a row of units.

A row counts as headings only when it fits (see `fits_a_declared_table`); where none does, the first filled row is
taken and its misfits are refused later, with their row number.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import dataclass, field

from pipeline.contract.tables import declared_tables
from pipeline.contract.units import UNITS
from pipeline.incoming.sheet import Note, column_letter, tidy_heading

LooksLikeHeadings = Callable[[list[str]], bool]
Row = tuple[int, list[str | None]]

ROWS_SEARCHED = 20
_SUFFIXES = sorted({*UNITS, "bu_ac"} - {"rain_in", "pct_to_fraction"}, key=len, reverse=True)
_OTHER_SPELLINGS = {
    "%": "pct", "percent": "pct", "lbs": "lb", "pounds": "lb", "inch": "in", "inches": "in", "feet": "ft",
    "lb_a": "lb_ac", "lbs_ac": "lb_ac", "lb_acre": "lb_ac", "lbs_acre": "lb_ac", "bu_a": "bu_ac", "bu_acre": "bu_ac",
    "lbs_bu": "lb_bu", "plants_acre": "plants_ac", "°f": "f", "deg_f": "f", "°c": "c", "deg_c": "c", "mg_ha": "t_ha",
}  # fmt: skip
_NOT_A_UNIT = {"-", "--", "n/a", "na", "none", "#", "no.", "code", "text", "word", "date", "yyyy-mm-dd", "yes/no"}


@dataclass(frozen=True)
class Headings:
    """The headings as typed, by position; `last_row` is the last row that is theirs (the units, if there are any)."""

    row: int
    last_row: int
    verbatim: list[str | None]
    notes: list[Note] = field(default_factory=list)
    problems: list[str] = field(default_factory=list)


def fits_a_declared_table(headings: list[str]) -> bool:
    """Do these headings give every required column of some declared table?"""
    return any(not table.lacking(headings) for table in declared_tables().values())


def find_headings(rows: list[Row], looks_like_headings: LooksLikeHeadings | None = None) -> Headings:
    """The headings among a sheet's first filled rows (number and cells of each, at least one row)."""
    fits = looks_like_headings or fits_a_declared_table
    for i, (number, cells) in enumerate(rows[:ROWS_SEARCHED]):
        units = _units(rows[i + 1][1]) if i + 1 < len(rows) else None
        if units is None:
            candidate = Headings(number, number, cells)
        else:
            candidate = _joined(number, cells, *rows[i + 1], units)
        if fits([tidy_heading(cell) for cell in candidate.verbatim if cell is not None]):
            candidate.notes[:0] = [_title_note(row) for row in rows[:i]]
            return candidate
    number, cells = rows[0]
    return Headings(number, number, cells)


def _title_note(row: Row) -> Note:
    number, cells = row
    return Note(
        row=number,
        column=None,
        found=" | ".join(cell for cell in cells if cell is not None),
        what="title_row",
        sentence="The row stands above the headings and is not read as data.",
    )


def _units(cells: list[str | None]) -> dict[int, str] | None:
    """Unit by position, as our headings end in it; None where the row holds anything but units."""
    units = {}
    for position, cell in enumerate(cells):
        text = (cell or "").strip().lower()
        bare = text.strip("()[] ")
        word = re.sub(r"[\s/.]+", "_", bare).strip("_").removesuffix("-1")
        suffix = _OTHER_SPELLINGS.get(word, word)
        if suffix in _SUFFIXES:
            units[position] = suffix
        elif bare and bare not in _NOT_A_UNIT:
            return None
    return units or None


def _joined(
    row: int, cells: list[str | None], unit_row: int, unit_cells: list[str | None], units: dict[int, str]
) -> Headings:
    """Headings with the units beneath them; a heading that states another unit is a problem."""
    verbatim, problems = list(cells), []
    for position, unit in units.items():
        heading = cells[position] if position < len(cells) else None
        if heading is None:
            continue
        stated = next((s for s in _SUFFIXES if tidy_heading(heading).endswith(f"_{s}")), None)
        if stated is None:
            verbatim[position] = f"{heading} {unit}"
        elif stated != unit:
            problems.append(
                f"row {unit_row}, column {column_letter(position)}: '{unit_cells[position]}' stands under "
                f"'{heading}' (row {row}). Keep the unit that was meant, in the heading, and delete row {unit_row}."
            )
    note = Note(
        row=unit_row,
        column=None,
        found=" | ".join(cell for cell in unit_cells if cell is not None),
        what="unit_row",
        sentence="The row beneath the headings holds their units; it is read with them and not as data.",
    )
    return Headings(row, unit_row, verbatim, [note], problems)
