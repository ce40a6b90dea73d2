"""The declared columns as fields of a plot workbook: heading, words, limits, and what to say about them."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date

from openpyxl.utils.datetime import to_excel

from pipeline.contract.tables import Column, Table
from pipeline.contract.units import METRIC, UNITS, US, display_unit, said_unit
from pipeline.contract.words import reference_column
from pipeline.errors import UserError

YES_NO = ("yes", "no")
# No declared range: any number of ordinary size, so that text is still refused.
ANY_NUMBER = (-1e9, 1e9)


@dataclass(frozen=True)
class Field:
    """One column of a sheet. limits: smallest and largest value let in, in the heading's unit (dates as serials).

    column: the declared name, without the unit.
    """

    column: str
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
    def spaced_heading(self) -> str:
        """The heading as people like to read it, its unit in a second line; a delivery's reader takes it for the
        heading.
        """
        name, unit = self.column.replace("_", " ").strip(), self.heading.removeprefix(self.column).removeprefix("_")
        if self.column.endswith("_"):  # a free factor
            return self.heading.replace("_", " ")
        return f"{name}\n{unit.replace('_', '/')}" if unit else name

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
    table: Table,
    given: Sequence[str],
    crops: Mapping[str, str],
    season: int,
    words: Mapping[str, Sequence[str]],
    display_units: str = US,
) -> list[Field]:
    """The table's fields for some crops, in declared order; columns that only other crops have are left out.

    given: headings already filled; they choose the unit, which is else the first declared one, or its metric
    counterpart. Free factors come last, those of `given` only. crops: each with its product, grain or lint: a crop of
    the program's own has the columns of the known crops of its product.
    """
    fields = []
    for column in table.plain_columns:
        if not any(column.is_of(kin) for crop, product in crops.items() for kin in _kin(crop, product)):
            continue
        of_heading = column.unit_of_heading
        heading = next((heading for heading in of_heading if heading in given), usual_heading(column, display_units))
        fields.append(_field(column, heading, of_heading[heading], crops, season, words))
    free = [heading for heading in given if heading not in table.known_headings]
    pattern = next((column for column in table.columns if column.pattern), None)
    return fields + [_field(pattern, heading, None, crops, season, words) for heading in free]


def _kin(crop: str, product: str) -> list[str]:
    """The known crops whose columns a crop has: itself, or all of its product."""
    known = reference_column("crops", "product")
    return [crop] if crop in known else [word for word, of in known.items() if of == product]


def usual_heading(column: Column, display_units: str) -> str:
    """The first heading whose unit readers of these display units are told."""
    of_heading = column.unit_of_heading
    told = (heading for heading, unit in of_heading.items() if unit and display_unit(unit, display_units) == unit)
    return next(told, next(iter(of_heading))) if display_units == METRIC else next(iter(of_heading))


def _field(column: Column, heading: str, unit: str | None, crops: Iterable[str], season: int, words: Mapping) -> Field:
    known = _words(column, words)
    hard = _in_unit(column, _range(column, "hard", crops), unit)
    typical = _in_unit(column, _range(column, "typical", crops), unit)
    said = said_unit(unit) or unit or ""  # a fraction is said here
    return Field(
        column=column.name,
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


def _range(column: Column, kind: str, crops: Iterable[str]) -> tuple[float, float] | None:
    """A declared range; of several crops that have one each, from the lowest to the highest. None where a crop has
    none.
    """
    ranges = [column.by_crop.get(crop, {}).get(kind) for crop in crops if column.is_of(crop) or not _known(crop)]
    if not ranges or None in ranges:
        return getattr(column, kind)
    return min(low for low, _ in ranges), max(high for _, high in ranges)


def _known(crop: str) -> bool:
    return crop in reference_column("crops", "product")


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
