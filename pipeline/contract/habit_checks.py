"""Checks for what spreadsheet programs and people do to cells: read safely and noted, or found.

One finding stands for all cells of a file with the same habit; it names the first row and counts the rest.
"""

from __future__ import annotations

from collections.abc import Iterator

from pipeline.contract.checks import Check, is_unread
from pipeline.contract.staging import (
    CODE_COLUMNS,
    PERCENT,
    TRACE_OF_RAIN,
    WHOLE_CODE,
    is_missing_word,
    is_rain,
    missing_words,
    quoted,
    text_of,
)
from pipeline.contract.tables import HOLDS_TRIAL, NOTED, Column, Table, declared_tables

# As spreadsheet programs show or export a date: 2094-01-01, 1-Jan, Jan-94, 1/1/2094.
_MONTH = "(?i:jan|feb|mar|apr|may|jun|jul|aug|sep|oct|nov|dec)"
CODE_TURNED_DATE = (
    rf"\d{{4}}-\d{{2}}-\d{{2}}([T ].*)?|\d{{1,2}}-{_MONTH}(-\d{{2,4}})?|{_MONTH}-\d{{1,4}}"
    r"|\d{1,2}/\d{1,2}/(\d{4}|\d{2})"
)
# A program's own codes for levels of a factor (Jun-01, 1-Jan) look the same: there only a cell that is a date tells.
FACTOR_CODES = ("treatment_code", "compared_with")
DATE_CELL = r"\d{4}-\d{2}-\d{2}([T ].*)?"
SCIENTIFIC = r"\d+(\.\d+)?[eE]\+?\d+"
_TYPE_AGAIN = "in the spreadsheet program format the column as Text and type the codes again"


def lost_zeros_checks() -> list[Check]:
    """Codes whose leading zeros were lost somewhere, each over all tables that have it."""
    return [_zeros_lost(name) for name in CODE_COLUMNS]


def habit_checks(table: Table) -> Iterator[Check]:
    """Every other check of this kind, of one table."""
    for column in table.plain_columns:
        if missing_words(column):
            yield _holds_missing_words(table, column)
        if is_rain(column):
            yield _holds_traces(table, column)
        if any(unit in PERCENT for unit in column.units):
            yield _holds_percent_signs(table, column)
        if column.or_product:
            yield _worked_out(table, column)
        if column.name in CODE_COLUMNS:
            yield _whole_codes(table, column)
            yield _turned_into_date(table, column)
            yield _turned_scientific(table, column)


def _counted(table: Table, heading: str, where: str, expected: str, mend: str, *, by_text: bool = False) -> str:
    """One row per file, sheet (and text) with the first place and the number of cells."""
    text = text_of(heading, "t.")
    groups = f"t.file, t.sheet, lower({text})" if by_text else "t.file, t.sheet"
    others = f"""'"' || arg_min({text}, t.row_number) || '"'
      || case when count(*) > 1 then ' and ' || (count(*) - 1) || ' more' else '' end"""
    return f"""select t.file, t.sheet, min(t.row_number) as row_number, {quoted(table.name)} as table_name,
      {quoted(heading)} as column_name,
  null as trial_id, null as site_id, {others} as found, {quoted(expected)} as expected, {quoted(mend)} as mend
from staging.{table.name} as t
where {where}
group by {groups}"""


def _each_heading(table: Table, column: Column, where, expected: str, mend: str, *, by_text: bool = False) -> str:
    """The counted findings under each heading of a column; `where` makes the condition for a heading."""
    parts = [_counted(table, h, where(h), expected, mend, by_text=by_text) for h in column.unit_of_heading]
    return "\nunion all\n".join(parts)


def _holds_missing_words(table: Table, column: Column) -> Check:
    real = "a real code must be renamed" if column.name in CODE_COLUMNS else "right if nothing was measured"
    query = _each_heading(
        table,
        column,
        lambda heading: f"t.{column.stored_name} is null and {is_missing_word(column, heading, 't.')}",
        "an empty cell, where there is nothing",
        f"read as empty, never as a number or a name; {real}",
        by_text=True,
    )
    name, says = f"{table.name}.{column.name} holds words for missing", "words for missing are read as empty"
    return Check(name, NOTED, says, query, is_unread(column))


def _holds_traces(table: Table, column: Column) -> Check:

    def where(heading: str) -> str:
        return f"lower({text_of(heading, 't.')}) = '{TRACE_OF_RAIN}'"

    query = _each_heading(
        table,
        column,
        where,
        "rain as a number; T is a trace, too little to measure",
        "read as 0; right if T was the observer's trace",
    )
    only_where = " or ".join(map(where, column.unit_of_heading))
    return Check(
        f"{table.name}.{column.name} holds traces", NOTED, "T is a trace of rain and is read as 0", query, only_where
    )


def _holds_percent_signs(table: Table, column: Column) -> Check:

    def where(heading: str) -> str:
        return f"t.{column.stored_name} is not null and {text_of(heading, 't.')} like '%!%' escape '!'"

    expected, mend = (
        "a number without a percent sign",
        "the sign is read: 39.2% is 39.2 under a heading in percent, 0.392 under a fraction",
    )
    query = _each_heading(table, column, where, expected, mend)
    only_where = " or ".join(map(where, column.unit_of_heading))
    name = f"{table.name}.{column.name} holds percent signs"
    return Check(name, NOTED, "a percent sign is read by the unit of its heading", query, only_where)


def _worked_out(table: Table, column: Column) -> Check:
    weight, percent = (next(c for c in table.plain_columns if c.name == name) for name in column.or_product)
    given = ", ".join(text_of(heading, "t.") for heading in column.unit_of_heading)
    where = f"coalesce({given}) is null and t.{column.stored_name} is not null"
    first = "min_by(t, t.row_number)"
    said = [f"units.said_n_rate({first}.{c.stored_name}, any_value(p.display_units))" for c in (weight, column)]
    query = f"""select t.file, t.sheet, min(t.row_number) as row_number, {quoted(table.name)} as table_name,
      {quoted(column.name)} as column_name,
  null as trial_id, null as site_id,
  count(*) || case count(*) when 1 then ' row: ' else ' rows; the first: ' end ||
    replace({said[0]}, ' N', '') || ' of product at ' || {first}.{percent.stored_name} ||
    '% N is ' || {said[1]} as found,
  'the N that was spread' as expected,
    'worked out from the weight and the percent N of the product; right if that percent is on its label' as mend
from staging.{table.name} as t cross join reference.program as p
where {where}
group by t.file, t.sheet"""
    says = (
        "N is worked out from a product's weight and its percent N where the N itself is not delivered, and the first"
        " row is shown"
    )
    return Check(f"{table.name}.{column.name} worked out from the product", NOTED, says, query, where)


def _whole_codes(table: Table, column: Column) -> Check:
    text = text_of(column.name, "t.")
    where = f"{text} like '%.0%' and regexp_full_match({text}, '{WHOLE_CODE}')"
    query = _counted(
        table,
        column.name,
        where,
        "a code without decimals",
        "read without them (101.0 as 101), so that it matches other tables",
    )
    return Check(f"{table.name}.{column.name} ends in .0", NOTED, "a code like 101.0 is read as 101", query, where)


def _turned_into_date(table: Table, column: Column) -> Check:
    has_a_mark = f"(t.{column.name} like '%-%' or t.{column.name} like '%/%')"  # spares most codes the pattern
    where = f"{has_a_mark} and regexp_full_match(t.{column.name}, '{CODE_TURNED_DATE}')"
    if column.name in FACTOR_CODES:  # a workbook's rows have a sheet
        where = f"t.sheet is not null and regexp_full_match(t.{column.name}, '{DATE_CELL}')"
    query = _counted(
        table,
        column.name,
        where,
        "a code; a spreadsheet program turns codes like 1-1 into dates",
        f"read as it stands; if a code was typed, {_TYPE_AGAIN}",
    )
    return Check(f"{table.name}.{column.name} reads as a date", NOTED, "a code is not a date", query, where)


def _turned_scientific(table: Table, column: Column) -> Check:
    where = f"t.{column.name} ilike '%e%' and regexp_full_match(t.{column.name}, '{SCIENTIFIC}')"
    query = _counted(
        table,
        column.name,
        where,
        "a code; a spreadsheet program takes codes like 1E2 for numbers (100, shown as 1E+02)",
        f"read as it stands; if it is not the code that was meant, {_TYPE_AGAIN}",
    )
    return Check(
        f"{table.name}.{column.name} reads as a number in scientific form",
        NOTED,
        "a code is not a number in scientific form",
        query,
        where,
    )


def _zeros_lost(name: str) -> Check:
    """Codes that are the same but for leading zeros: within a trial, for the codes that belong to one."""
    of_a_trial = name not in ("trial_id", "site_id")
    scope = "trial_id" if of_a_trial else "null"
    tables = [t for t in declared_tables().values() if name in {c.name for c in t.plain_columns}]
    if of_a_trial:
        tables = [t for t in tables if "trial_id" in {c.name for c in t.plain_columns}]
    codes = "\n  union all\n".join(
        f"  select file, sheet, row_number, {quoted(t.name)} as table_name, {scope} as scope, {name} as code from"
        f" staging.{t.name}"
        for t in tables
    )
    query = f"""with codes as not materialized (
{codes}
),
padded as (
  select scope, regexp_replace(code, '^0+(\\d)', '\\1') as bare, code, min_by(codes, (file, row_number)) as place
  from codes where code like '0%' and regexp_full_match(code, '0+\\d+')
  group by scope, code
),
others as (
  select p.scope, p.code as padded, c.code, min_by(c, (c.file, c.row_number)) as place
  from padded as p inner join codes as c
    on c.scope is not distinct from p.scope and c.code <> p.code and regexp_replace(c.code, '^0+(\\d)', '\\1') = p.bare
  where c.code = p.bare or length(c.code) < length(p.code)
  group by p.scope, p.code, c.code
)
select p.place.file as file, p.place.sheet as sheet, p.place.row_number as row_number, p.place.table_name as table_name,
  {quoted(name)} as column_name, p.scope as trial_id, null as site_id,
  '"' || p.code || '" here, "' || o.code || '" in ' || o.place.file || ' row ' || o.place.row_number as found,
  'one code written one way' as expected,
  'a spreadsheet program drops leading zeros: {_TYPE_AGAIN}; if they are two things, rename one' as mend
from padded as p inner join others as o on o.scope is not distinct from p.scope and o.padded = p.code"""
    severity = HOLDS_TRIAL if of_a_trial else NOTED
    return Check(f"{name} with and without leading zeros", severity, "a code keeps its leading zeros everywhere", query)
