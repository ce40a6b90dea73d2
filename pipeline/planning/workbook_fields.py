"""The declared columns as fields of a plot workbook: heading, words, limits, and what to say about them."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date

from openpyxl.utils.datetime import to_excel

from pipeline.contract.tables import Column, Table
from pipeline.contract.units import UNITS, said_unit
from pipeline.errors import UserError

YES_NO = ("yes", "no")
# No declared range: any number of ordinary size, so that text is still refused.
ANY_NUMBER = (-1e9, 1e9)


@dataclass(frozen=True)
class Field:
    """One column of a sheet. limits: smallest and largest value let in, in the heading's unit (dates as serials)."""

    heading: str
    type: str
    required: bool
    words: tuple[str, ...]
    limits: tuple[float, float] | None
    unit: str
    meaning: str
    expected: str
    example: str

    @property
    def prompt(self) -> str:
        """What the sheet shows while a cell is chosen."""
        needed = "Required. " if self.required else ""
        example = f" Like: {self.example}" if self.example else ""
        return f"{needed}{self.meaning}. {self.expected}{example}".strip()

    @property
    def error(self) -> str:
        """What the sheet says when it refuses a value."""
        return f"{self.expected} {self.meaning}.".strip()


def fields_of(
    table: Table, given: Sequence[str], crop: str, season: int, words: Mapping[str, Sequence[str]]
) -> list[Field]:
    """The table's fields for one crop, in declared order; columns that only other crops have are left out.

    given: headings already filled; they choose the unit, which is else the first declared
    one. Free factors come last, those of `given` only.
    """
    fields = []
    for column in table.plain_columns:
        if not column.is_of(crop):
            continue
        of_heading = column.unit_of_heading
        heading = next((heading for heading in of_heading if heading in given), next(iter(of_heading)))
        fields.append(_field(column, heading, of_heading[heading], crop, season, words))
    free = [heading for heading in given if heading not in table.known_headings]
    pattern = next((column for column in table.columns if column.pattern), None)
    return fields + [_field(pattern, heading, None, crop, season, words) for heading in free]


def _field(column: Column, heading: str, unit: str | None, crop: str, season: int, words: Mapping) -> Field:
    known = _words(column, words)
    hard = _in_unit(column, _range(column, "hard", crop), unit)
    typical = _in_unit(column, _range(column, "typical", crop), unit)
    said = said_unit(unit) or unit or ""  # a fraction is said here
    return Field(
        heading=heading,
        type=column.type,
        required=column.required,
        words=known,
        limits=_limits(column, hard, season),
        unit=said,
        meaning=column.meaning,
        expected=_expected(column, known, hard, typical, said),
        example=column.example,
    )


def _words(column: Column, words: Mapping[str, Sequence[str]]) -> tuple[str, ...]:
    if column.words_from:
        if column.words_from not in words:
            raise UserError(f"layout: the words of {column.words_from} are missing, which {column.name} draws on")
        return tuple(words[column.words_from])
    return YES_NO if column.type == "yes_no" else column.words


def _range(column: Column, kind: str, crop: str) -> tuple[float, float] | None:
    return column.by_crop.get(crop, {}).get(kind) or getattr(column, kind)


def _in_unit(column: Column, limits: tuple[float, float] | None, unit: str | None) -> tuple[float, float] | None:
    """A declared range (in the column's first unit) in the heading's unit, rounded outward to three decimals."""
    if limits is None or unit is None or unit == column.units[0]:
        return None if limits is None else (float(limits[0]), float(limits[1]))
    to = UNITS[unit]
    low, high = sorted((column.in_stored_unit(value) - to.offset) / to.factor for value in limits)
    return math.floor(low * 1000 + 1e-6) / 1000, math.ceil(high * 1000 - 1e-6) / 1000


def _limits(column: Column, hard: tuple[float, float] | None, season: int) -> tuple[float, float] | None:
    """What the sheet enforces; a date lies in the harvest year or the one before (autumn planting)."""
    if column.type == "date":
        return to_excel(date(season - 1, 1, 1)), to_excel(date(season, 12, 31))
    if column.type in ("integer", "number"):
        return hard or ANY_NUMBER
    return None


def _expected(column: Column, known: tuple, hard, typical, unit: str) -> str:
    """What may stand in the cell, in words."""
    if known:
        return "One of: " + ", ".join(known) + "."
    if column.type == "date":
        return "A date as year-month-day."
    said = {"integer": "A whole number", "number": "A number"}.get(column.type, "")
    if said and hard:
        said += f" from {hard[0]:g} to {hard[1]:g}"
    said = f"{said} {unit}".strip() if said else ""
    usual = f", usually {typical[0]:g} to {typical[1]:g}" if said and typical else ""
    return f"{said}{usual}." if said else ""
