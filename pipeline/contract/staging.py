"""Declarations to the queries that cast delivered text: one staging table per declared table.

A staging row keeps where it came from (file, sheet, row_number, delivery), its typed columns in stored units,
and `delivered`, the text as it came, for messages. A column that nobody told is there and empty.
"""

from __future__ import annotations

import re
from collections.abc import Collection

from pipeline.contract.dates import DATE, date_read
from pipeline.contract.range_macros import SCHEMA as KNOWN
from pipeline.contract.results import SQL_TYPES
from pipeline.contract.tables import Column, Table
from pipeline.contract.units import UNITS

NUMBER = r"[+-]?(\d+\.?\d*|\.\d+)([eE][+-]?\d+)?"
INTEGER = r"[+-]?\d+(\.0*)?"
PERCENT = ("pct", "pct_to_fraction", "fraction")  # units under which a percent sign is read
WHOLE_CODE = r"(\d+)\.0+"
# Names of plots, treatments and so on: text that must match from table to table.
CODE_COLUMNS = ("trial_id", "site_id", "block", "main_plot", "plot", "treatment_code", "compared_with")
# What people write where there is nothing (common practice, no source), in lower case.
MISSING_WORDS = (".", "-", "na", "n/a", "#n/a", "nan", "-9999", "-999", "-9999.0", "-999.0")
# Weather observers' letters: a trace of rain, too little to measure, and a missing value (US National Weather
# Service climate forms; from memory).
TRACE_OF_RAIN, MISSING_WEATHER = "t", "m"


def quoted(text: str) -> str:
    """A SQL string literal."""
    return "'" + text.replace("'", "''") + "'"


def text_of(heading: str, row: str = "") -> str:
    """The delivered text under a heading, null where blank; `row` is the alias of a staging row, as in "t."."""
    return f"""nullif(trim({row}delivered."{heading}"::varchar), '')"""


def is_rain(column: Column) -> bool:
    return "rain_in" in column.units


def missing_words(column: Column) -> tuple[str, ...]:
    """Texts that say a cell of this column is empty, in lower case; none for words and free text."""
    if column.type == "text" and column.name not in CODE_COLUMNS:
        return ()
    is_weather = is_rain(column) or "f" in column.units
    return (*MISSING_WORDS, MISSING_WEATHER) if is_weather else MISSING_WORDS


def is_readable(column: Column, text: str) -> bool:
    """Whether staging can read a text as the column's type: blank, a word for missing, or what the type asks for."""
    text = text.strip()
    if not text or column.type == "text" or text.lower() in missing_words(column):
        return True
    if is_rain(column) and text.lower() == TRACE_OF_RAIN:
        return True
    pattern = {"number": NUMBER, "integer": INTEGER, "date": DATE, "yes_no": "yes|y|no|n"}[column.type]
    return re.fullmatch(pattern, text, re.ASCII | re.IGNORECASE) is not None


def is_missing_word(column: Column, heading: str, row: str = "") -> str:
    """SQL condition: the cell holds a word for missing."""
    return _is_missing(column, text_of(heading, row))


def read_text(column: Column, heading: str, row: str = "") -> str:
    """The text that is cast: null for a word that means missing, 101 for a code that came as 101.0."""
    return _read(column, text_of(heading, row))


def _is_missing(column: Column, text: str) -> str:
    # none begins with a digit, which spares most cells the list
    return f"(({text} < '0' or {text} >= ':') and lower({text}) in ({', '.join(map(quoted, missing_words(column)))}))"


def _read(column: Column, text: str) -> str:
    if not missing_words(column):
        return text
    read = f"case when {_is_missing(column, text)} then null else {text} end"
    if column.name not in CODE_COLUMNS:
        return read
    whole = f"{text} like '%.0%' and regexp_full_match({text}, '{WHOLE_CODE}')"
    return f"case when {whole} then regexp_extract({text}, '{WHOLE_CODE}', 1) else {read} end"


def _number(column: Column, text: str, unit: str | None = None) -> str:
    if unit in PERCENT:  # 18.2% is 18.2 under percent, and 39.2% is 0.392 under a fraction
        share = " / 100" if unit == "fraction" else ""
        bare = f"rtrim(replace({text}, '%', ''))"
        percent = (
            f"when {text} like '%!%' escape '!' and regexp_full_match({bare}, '{NUMBER}') then cast({bare} as"
            f" double){share} "
        )
        return f"case {percent}when regexp_full_match({text}, '{NUMBER}') then cast({text} as double) end"
    trace = f"when lower({text}) = '{TRACE_OF_RAIN}' then 0.0 " if is_rain(column) else ""
    return f"case {trace}when regexp_full_match({text}, '{NUMBER}') then cast({text} as double) end"


def _typed(column: Column, told: Collection[str]) -> str:
    """A column's value, from the texts read under those of its headings that were told."""
    headings = {heading: unit for heading, unit in column.unit_of_heading.items() if heading in told}
    if not headings:
        return f"cast(null as {SQL_TYPES[column.type]})"
    if column.type == "number":
        parts = []
        for heading, unit in headings.items():
            factor, offset = (UNITS[unit].factor, UNITS[unit].offset) if unit else (1.0, 0.0)
            number = _number(column, _named(heading, "read"), unit)
            scaled = number if factor == 1.0 else f"({number}) * {factor!r}"
            parts.append(scaled if offset == 0.0 else f"{scaled} + {offset!r}")
        return parts[0] if len(parts) == 1 else f"coalesce({', '.join(parts)})"
    text = _named(column.name, "read")
    if column.type == "integer":
        return f"case when regexp_full_match({text}, '{INTEGER}') then try_cast({text} as integer) end"
    if column.type == "date":
        return date_read(text)
    if column.type == "yes_no":
        return (
            f"case lower({text}) when 'yes' then true when 'y' then true when 'no' then false when 'n' then false end"
        )
    if column.words:
        known = " ".join(f"when {quoted(word.lower())} then {quoted(word)}" for word in column.words)
        folded = f"lower(regexp_replace({text}, '\\s+', ' ', 'g'))"
        return f"case {folded} {known} else {text} end"
    if column.words_from:
        return f"lower(regexp_replace({text}, '\\s+', ' ', 'g'))"
    return text


def _value(table: Table, column: Column, told: Collection[str]) -> str:
    """A column's value; of one that may be worked out from a weight and its percent, where the cell is empty."""
    if not column.or_product:
        return _typed(column, told)
    weight, percent = (next(c for c in table.plain_columns if c.name == name) for name in column.or_product)
    product = f"({_typed(weight, told)}) * {KNOWN}.{percent.stored_name}({_typed(percent, told)}) / 100"
    given = ", ".join(_named(heading, "read") for heading in column.unit_of_heading if heading in told)
    if not given:
        return product
    return f"case when coalesce({given}) is null then {product} else {_typed(column, told)} end"


def _named(heading: str, step: str) -> str:
    """The name a heading's cell has while it is read: never that of another column."""
    return f'"{heading} {step}"'


def _free_columns(table: Table, told: Collection[str]) -> list[str]:
    """Free factors (declared by a pattern) as one JSON object per row, null where there are none."""
    parts = []
    for c in table.columns:
        if c.pattern and any(heading.startswith(c.name) for heading in told):
            parts.append(f"""(select to_json(map_from_entries(list((k, cells ->> k) order by k)))
             from (select unnest(json_keys(cells)) as k) where starts_with(k, {quoted(c.name)})
             and nullif(trim(cells ->> k), '') is not null)
            as {c.name}columns""")
        elif c.pattern:
            parts.append(f"cast(null as json) as {c.name}columns")
    return parts


def staging_query(table: Table, told: Collection[str]) -> str:
    """SQL that makes staging.<table> from raw.rows; told: the headings that any of its rows may have."""
    shape = ", ".join(f'"{heading}": "{kind}"' for heading, kind in _kinds(table, told).items())
    plain = [f"{_value(table, column, told)} as {column.stored_name}" for column in table.plain_columns]
    columns = ",\n  ".join([*plain, *_free_columns(table, told)])
    headings = [(column, heading) for column in table.plain_columns for heading in column.unit_of_heading]
    headings = [(column, heading) for column, heading in headings if heading in told]
    texts = "".join(f",\n    {text_of(heading)} as {_named(heading, 'text')}" for _, heading in headings)
    reads = "".join(
        f",\n    {_read(column, _named(heading, 'text'))} as {_named(heading, 'read')}" for column, heading in headings
    )
    return f"""create or replace table staging.{table.name} as
with text_rows as (
  select r.file, r.delivery, r.sheet, r.row_number, r.cells, o.date_order,
    json_transform(r.cells, {quoted("{" + shape + "}")}) as delivered
  from staging.delivered_rows as r
  left join reference.read_as as o on o.file = r.file
  anti join staging.rows_left_out as l
    on l.file = r.file and l.sheet is not distinct from r.sheet and l.row_number = r.row_number
  anti join staging.superseded as s
    on s.file = r.file and s.sheet is not distinct from r.sheet and s.row_number = r.row_number
  where r.table_name = {quoted(table.name)}
),
texts as (
  select *{texts}
  from text_rows
),
reads as (
  select *{reads}
  from texts
)
select
  file, delivery, sheet, row_number,
  {columns},
  delivered
from reads"""


def told_headings(table: Table) -> str:
    """SQL: the headings that any row of staging.<table> may have, with those that a correction writes under."""
    return f"""select heading from staging.headings where table_name = {quoted(table.name)}
union select heading from reference.correction_changes
union select moved_to from reference.correction_changes where moved_to is not null"""


def _kinds(table: Table, told: Collection[str]) -> dict[str, str]:
    """The type of the delivered text under each heading: where nobody told it, what is cheapest to store."""
    return {heading: "VARCHAR" if heading in told else "BOOLEAN" for heading in table.known_headings}


def empty_staging(table: Table) -> str:
    """SQL that makes staging.<table> without rows: where nobody delivers it, its query is planned for nothing."""
    place = {"file": "varchar", "delivery": "varchar", "sheet": "varchar", "row_number": "bigint"}
    plain = {column.stored_name: SQL_TYPES[column.type] for column in table.plain_columns}
    free = {f"{column.name}columns": "json" for column in table.columns if column.pattern}
    texts = ", ".join(f'"{heading}" {kind}' for heading, kind in _kinds(table, ()).items())
    columns = place | plain | free | {"delivered": f"struct({texts})"}
    return f"create table staging.{table.name} ({', '.join(f'{name} {kind}' for name, kind in columns.items())})"


def all_rows_query(tables: list[Table]) -> str:
    """SQL that makes staging.all_rows: the place, table and trial of every row that reached staging."""
    parts = [
        f"select file, sheet, row_number, {quoted(t.name)} as table_name, "
        f"{'trial_id' if 'trial_id' in {c.name for c in t.columns} else 'null'} as trial_id from staging.{t.name}"
        for t in tables
    ]
    return "create view staging.all_rows as\n" + "\nunion all\n".join(parts)
