"""Declarations to the queries that cast delivered text: one staging table per declared table.

A staging row keeps where it came from (file, sheet, row_number, delivery), its typed columns in stored units,
and `delivered`, the text as it came, for messages.
"""

from __future__ import annotations

from pipeline.contract.tables import Column, Table
from pipeline.contract.units import UNITS

NUMBER = r"[+-]?(\d+\.?\d*|\.\d+)([eE][+-]?\d+)?"
DATE = r"\d{4}-\d{2}-\d{2}"


def quoted(text: str) -> str:
    """A SQL string literal."""
    return "'" + text.replace("'", "''") + "'"


def text_of(heading: str) -> str:
    """The delivered text under a heading, null where blank."""
    return f"""nullif(trim(delivered."{heading}"), '')"""


def _number(heading: str) -> str:
    text = text_of(heading)
    return f"case when regexp_full_match({text}, '{NUMBER}') then cast({text} as double) end"


def _typed(column: Column) -> str:
    if column.type == "number":
        parts = []
        for heading, unit in column.unit_of_heading.items():
            factor, offset = (UNITS[unit].factor, UNITS[unit].offset) if unit else (1.0, 0.0)
            scaled = _number(heading) if factor == 1.0 else f"({_number(heading)}) * {factor!r}"
            parts.append(scaled if offset == 0.0 else f"{scaled} + {offset!r}")
        return parts[0] if len(parts) == 1 else f"coalesce({', '.join(parts)})"
    text = text_of(column.name)
    if column.type == "integer":
        return f"case when regexp_full_match({text}, '[+-]?\\d+') then try_cast({text} as integer) end"
    if column.type == "date":
        return f"case when regexp_full_match({text}, '{DATE}') then try_cast({text} as date) end"
    if column.type == "yes_no":
        return f"case lower({text}) when 'yes' then true when 'y' then true when 'no' then false when 'n' then false end"
    if column.words:
        known = " ".join(f"when {quoted(word.lower())} then {quoted(word)}" for word in column.words)
        folded = f"lower(regexp_replace({text}, '\\s+', ' ', 'g'))"
        return f"case {folded} {known} else {text} end"
    if column.words_from:
        return f"lower(regexp_replace({text}, '\\s+', ' ', 'g'))"
    return text


def _free_columns(table: Table) -> str:
    """Free factors (declared by a pattern) as one JSON object per row, null where there are none."""
    parts = [
        f"""(select to_json(map_from_entries(list((k, cells ->> k) order by k)))
             from (select unnest(json_keys(cells)) as k) where starts_with(k, {quoted(c.name)}) and nullif(trim(cells ->> k), '') is not null)
            as {c.name}columns"""
        for c in table.columns
        if c.pattern
    ]
    return "".join(",\n  " + part for part in parts)


def staging_query(table: Table) -> str:
    """SQL that makes staging.<table> from raw.rows."""
    shape = ", ".join(f'"{heading}": "VARCHAR"' for heading in table.known_headings)
    columns = ",\n  ".join(f"{_typed(column)} as {column.stored_name}" for column in table.plain_columns)
    free = _free_columns(table)
    cells = ", cells" if free else ""
    return f"""create or replace table staging.{table.name} as
with text_rows as (
  select file, delivery, sheet, row_number{cells},
    json_transform(cells, {quoted("{" + shape + "}")}) as delivered
  from raw.rows inner join raw.current_files using (sha256)
  where table_name = {quoted(table.name)}
)
select
  file, delivery, sheet, row_number,
  {columns}{free},
  delivered
from text_rows
order by file, sheet, row_number"""
