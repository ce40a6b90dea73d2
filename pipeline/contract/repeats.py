"""Rows that say again what an earlier one said, and keys that stand in more than one row."""

from __future__ import annotations

from pipeline.contract.staging import quoted
from pipeline.contract.tables import Table

DOUBLED_KEYS = "staging.doubled_keys"


def row_says(table: Table) -> str:
    """All a row says: its declared cells, and its free factors where the table has them."""
    free = [f"{column.name}columns" for column in table.columns if column.pattern]
    return f"row({', '.join(['delivered', *free])})" if free else "delivered"


def doubled_keys_query(tables: list[Table]) -> str:
    """SQL that makes staging.doubled_keys: the tables in which a key stands twice, or rows without a whole key in two
    files. Few have one, and what asks about its rows is planned for nothing in the others.
    """
    twice = [(table, _keys_claimed_twice(table)) for table in tables]
    twice += [(table, _in_two_files_without_key(table)) for table in tables]
    parts = [f"(select {quoted(table.name)} as table_name from ({query}) limit 1)" for table, query in twice]
    return f"create table {DOUBLED_KEYS} as\n" + "\nunion\n".join(parts)


def _keys_claimed_twice(table: Table) -> str:
    key = ", ".join(table.key)
    filled = " and ".join(f"{name} is not null" for name in table.key)
    return f"select {key} from staging.{table.name} where {filled} group by {key} having count(*) > 1"


def _lacks_key(table: Table) -> str:
    return "(" + " or ".join(f"{name} is null" for name in table.key) + ")"


def _in_two_files_without_key(table: Table) -> str:
    return f"select 1 from staging.{table.name} where {_lacks_key(table)} having count(distinct file) > 1"


def claimed_twice(table: Table) -> str:
    """SQL source: the rows whose whole key is filled in and stands in another row too. Few, so that what follows is
    cheap.
    """
    return f"staging.{table.name} semi join ({_keys_claimed_twice(table)}) using ({', '.join(table.key)})"


def repeats_query(tables: list[Table]) -> str:
    """SQL that makes staging.repeats: rows that say again exactly what an earlier row with the same key said, or an
    earlier file in its rows without a whole key. They are set aside, and are no finding.
    """
    queries = [_repeats_query(table) for table in tables]
    queries += [_repeated_without_key(table) for table in tables]
    return "create or replace table staging.repeats as " + " union all ".join(f"({query})" for query in queries)


def empty_repeats() -> str:
    """SQL that makes it without rows."""
    names = ("file", "sheet", "row_number", "table_name", "reason", "first_file")
    columns = ", ".join(f"{name} {'bigint' if name == 'row_number' else 'varchar'}" for name in names)
    return f"create table staging.repeats ({columns})"


def _repeats_query(table: Table) -> str:
    key = ", ".join(table.key)
    return f"""select file, sheet, row_number, {quoted(table.name)} as table_name,
  'says the same as ' || first_place as reason, first_file
from (
  select file, sheet, row_number, {row_says(table)} as said, row_number() over earlier as turn,
    first_value({row_says(table)}) over earlier as first_said,
    first_value(file) over earlier as first_file,
    first_value(file || ' row ' || row_number) over earlier as first_place
  from {claimed_twice(table)}
  window earlier as (partition by {key} order by file, sheet, row_number)
)
where turn > 1 and said is not distinct from first_said"""


def _repeated_without_key(table: Table) -> str:
    """In one file like rows without a whole key are several, such as subsamples that nobody numbered. So are those of
    two files, but where all such rows of one file are those of the other: it came twice.
    """
    return f"""with lacking as (
  select file, sheet, row_number, {row_says(table)} as said from staging.{table.name} where {_lacks_key(table)}
),
of_files as (select file, list(said order by said) as all_said from lacking group by file)
select file, sheet, row_number, {quoted(table.name)} as table_name,
  'says the same as ' || first_place as reason, first_file
from (
  select file, sheet, row_number, row_number() over earlier as turn, first_value(file) over earlier as first_file,
    first_value(file || ' row ' || row_number) over earlier as first_place
  from (
    select l.*, o.all_said, row_number() over (partition by file order by said, sheet, row_number) as nth
    from lacking as l inner join of_files as o using (file)
  )
  window earlier as (partition by all_said, nth order by file)
)
where turn > 1"""
