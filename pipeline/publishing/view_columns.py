"""What a column of a report view holds: its unit and its meaning, from the declarations of what the view reads."""

from __future__ import annotations

from collections.abc import Collection, Iterator
from dataclasses import dataclass
from functools import cache

from pipeline.contract.results import EVERY_VIEW, declared_results, view_columns
from pipeline.contract.tables import declared_tables
from pipeline.sql_steps import steps_of

REPORTS = "reports"
# delivered tables of which a view has columns as they were delivered
DELIVERED = {
    "applications": ("nitrogen_applications",),
    "picks": ("harvests",),
    "places": ("sites",),
    "plots": ("plots",),
    "trials": ("trials", "sites"),
}
# what a view states in the unit that a column of its row names
YIELDS, N_RATES = ("kg/ha", "see evidence_unit"), ("kg N/ha",)
UNIT_BY_ENDING = {
    "_kg_ha": "kg/ha",
    "_lb_ac": "lb/ac",
    "_pct": "%",
    "_mm": "mm",
    "_inch": "inch",
    "_kg": "kg",
    "_cm": "cm",
    "_bytes": "bytes",
    "_per_ac": "per acre",
    "_per_ha": "per hectare",
}


@dataclass(frozen=True)
class Told:
    unit: str = ""
    meaning: str = ""


def told_of(view: str, column: str, columns: Collection[str]) -> Told:
    """Unit and meaning of a column of a view that has these columns; empty where neither is declared."""
    told = next(_declarations(view, column), None) or next(_declarations(view, column.removesuffix("_kg_ha")), Told())
    unit = told.unit or next((unit for ending, unit in UNIT_BY_ENDING.items() if column.endswith(ending)), "")
    if not column.endswith(("_kg_ha", "_per_unit", "_per_n_unit")):
        if unit in YIELDS and "unit" in columns:
            unit = "see the row's unit"
        if unit in N_RATES and "n_unit" in columns:
            unit = "see the row's n_unit"
    return Told(unit, told.meaning)


def _declarations(view: str, column: str) -> Iterator[Told]:
    """What is declared of the column: for the view, then for what it reads, then for every view, then as delivered."""
    yield from _of_views(view, column)
    yield from _of_reads(view, column)
    yield from _of_views(EVERY_VIEW, column)
    yield from _of_deliveries(view, column)


@cache
def _needs() -> dict[str, tuple[str, ...]]:
    """What each report view reads."""
    return {name: step.needs for name, step in steps_of((REPORTS,)).items()}


def _of_reads(view: str, column: str) -> Iterator[Told]:
    for need in _needs().get(f"{REPORTS}.{view}", ()):
        layer, _, name = need.partition(".")
        declared = declared_results().get(name)
        if declared and declared.schema == layer:
            yield from (Told(c.unit, c.meaning) for c in declared.columns if c.name == column)
        elif layer == REPORTS:
            yield from _of_views(name, column)
            yield from _of_reads(name, column)


def _of_deliveries(view: str, column: str) -> Iterator[Told]:
    for table in DELIVERED.get(view, ()):
        yield from (Told("", c.meaning) for c in declared_tables()[table].columns if c.stored_name == column)


def _of_views(view: str, column: str) -> Iterator[Told]:
    yield from (Told(c.get("unit", ""), c["meaning"]) for c in view_columns().get(view, ()) if c["name"] == column)
