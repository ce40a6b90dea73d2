"""What lies beyond a column's hard range and is only noted is not known: DuckDB macros of the schema `known`.

`known.row_spacing_cm(x)` is x where it lies within the hard range of row_spacing, else null. A value whose row is set
aside or whose trial is held needs none.
"""

from __future__ import annotations

from pipeline.contract.tables import NOTED, Column, declared_tables

SCHEMA = "known"


def range_macros() -> list[str]:
    """Statements that make the schema and every macro anew; columns of one name have one range."""
    tables = declared_tables().values()
    columns = [column for table in tables for column in table.plain_columns if column.hard and column.severity == NOTED]
    return [f"create schema if not exists {SCHEMA}", *dict.fromkeys(map(_macro, columns))]


def _macro(column: Column) -> str:
    # from text, since DuckDB reads a bare number as a decimal
    low, high = (f"cast('{column.in_stored_unit(limit)!r}' as double)" for limit in column.hard)
    within = f"case when x between {low} and {high} then x end"
    return f"create or replace macro {SCHEMA}.{column.stored_name}(x) as ({within})"
