"""Files as cooperators sent them before a column got its present heading."""

from __future__ import annotations

from pipeline.contract.tables import declared_tables
from tests.tiny_program import TinyProgram

EARLIER = {
    (table.name, column.name): column.formerly
    for table in declared_tables().values()
    for column in table.plain_columns
    if column.formerly
}


def with_earlier_headings(tiny: TinyProgram) -> None:
    """Heads every column of both seasons as an earlier version called it."""
    for season in (2091, 2092):
        for (table, now), earlier in EARLIER.items():
            if now in tiny.rows(table, season)[0]:
                tiny.rename(table, now, earlier, season)
