"""The declared tables: which columns a delivery may hold and what each may contain.

A declaration in tables/*.yml holds names, types, units, words, ranges, severities and meanings and
nothing else. Whatever spans two columns or two tables is a query in sql/checks/.
"""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass, field, fields
from functools import cache
from pathlib import Path

from pipeline.contract.declared import read_declared
from pipeline.contract.units import UNITS

HOLDS_TRIAL = "holds the trial"
SETS_ASIDE = "sets the row aside"
NOTED = "noted"
SEVERITIES = (HOLDS_TRIAL, SETS_ASIDE, NOTED)
TYPES = ("text", "integer", "number", "date", "yes_no")


@dataclass(frozen=True)
class Column:
    """One declared column. Ranges are in its first unit; `units` are keys of units.UNITS.

    formerly: its heading in an earlier version, which is still read.
    or_factor: required, unless all columns so marked are left empty and a free factor says what the row is.
    or_product: two columns, a weight and its percent, whose product stands for an empty cell of this column.
    only_of: the crops that have it; those of by_crop where that is given, else all.
    """

    name: str
    type: str
    severity: str
    meaning: str
    formerly: str = ""
    example: str = ""
    required: bool = False
    units: tuple[str, ...] = ()
    headings: dict[str, str] = field(default_factory=dict)
    words: tuple[str, ...] = ()
    words_from: str = ""
    hard: tuple[float, float] | None = None
    typical: tuple[float, float] | None = None
    by_crop: dict[str, dict[str, tuple[float, float]]] = field(default_factory=dict)
    pattern: bool = False
    or_factor: bool = False
    only_of: tuple[str, ...] = ()
    or_product: tuple[str, ...] = ()

    def is_of(self, crop: str) -> bool:
        """Whether a crop has this column."""
        return crop in (self.only_of or self.by_crop or (crop,))

    @property
    def unit_of_heading(self) -> dict[str, str | None]:
        """Accepted headings and the unit each one states (None for a column without units)."""
        if not self.units:
            return {self.name: None}
        return {self.headings.get(unit, f"{self.name}_{unit}"): unit for unit in self.units}

    @property
    def stored_name(self) -> str:
        """Name in staging and after: the column's name with its stored unit."""
        return f"{self.name}_{UNITS[self.units[0]].stored}" if self.units else self.name

    def in_stored_unit(self, value: float) -> float:
        """A declared range limit, from the first unit into the stored unit."""
        if not self.units:
            return value
        unit = UNITS[self.units[0]]
        return value * unit.factor + unit.offset


@dataclass(frozen=True)
class Table:
    """One declared table. `doubled` is the severity where two rows claim one key with different contents."""

    name: str
    grain: str
    key: tuple[str, ...]
    doubled: str
    meaning: str
    columns: tuple[Column, ...]

    @property
    def plain_columns(self) -> tuple[Column, ...]:
        return tuple(column for column in self.columns if not column.pattern)

    @property
    def known_headings(self) -> list[str]:
        return [heading for column in self.plain_columns for heading in column.unit_of_heading]

    def current(self, heading: str) -> str:
        """Today's heading for one of an earlier version; any other as it is."""
        return next((c.name for c in self.plain_columns if heading and c.formerly == heading), heading)

    def lacking(self, headings: Collection[str]) -> list[Column]:
        """The required columns that none of these headings stands for."""
        present = set(headings)
        lacks = [c for c in self.plain_columns if c.required and not present & set(c.unit_of_heading)]
        factors = {c.name: bool(present & set(c.unit_of_heading)) for c in self.plain_columns}
        lacks = [c for c in lacks if not (c.or_product and all(factors[name] for name in c.or_product))]
        instead = [c for c in self.plain_columns if c.or_factor]
        has_factor = any(h.startswith(c.name) and h != c.name for c in self.columns if c.pattern for h in present)
        if has_factor and all(column in lacks for column in instead):
            return [column for column in lacks if column not in instead]
        return lacks

    def column_under(self, heading: str) -> Column | None:
        """The column that a heading stands for; None for a heading that is not known."""
        plain = [column for column in self.plain_columns if heading in column.unit_of_heading]
        free = [column for column in self.columns if column.pattern and heading.startswith(column.name)]
        return next(iter(plain + free), None)

    def knows(self, heading: str) -> bool:
        return self.column_under(heading) is not None


def _column(entry: dict, table: str) -> Column:
    known = {f.name for f in fields(Column)}
    assert not set(entry) - known, f"{table}.{entry['name']}: {set(entry) - known}"
    assert entry["type"] in TYPES and entry["severity"] in SEVERITIES, (table, entry["name"])
    values = dict(entry)
    for name in ("units", "words", "hard", "typical", "only_of", "or_product"):
        if name in values:
            values[name] = tuple(values[name])
    return Column(**values)


@cache
def declared_tables() -> dict[str, Table]:
    """Every table a delivery may hold, by name."""
    found = {}
    for path in sorted((Path(__file__).parent / "tables").glob("*.yml")):
        entry = read_declared(path)
        columns = tuple(_column(column, entry["table"]) for column in entry["columns"])
        assert entry["doubled"] in SEVERITIES, entry["table"]
        key = tuple(entry["key"])
        found[entry["table"]] = Table(entry["table"], entry["grain"], key, entry["doubled"], entry["meaning"], columns)
    return found
