"""Staging tables that nobody delivers: made without a query, and the same as their queries would make them."""

from __future__ import annotations

from pipeline.contract.staging import empty_staging, staging_query
from pipeline.contract.tables import declared_tables


def test_an_empty_table_has_the_columns_that_its_query_gives_it(tiny):
    with tiny.staged() as warehouse:
        for table in declared_tables().values():
            made = []
            for query in (empty_staging(table), staging_query(table)):
                warehouse.execute(f"drop table staging.{table.name}")
                warehouse.execute(query)
                made.append(warehouse.execute(f"describe staging.{table.name}").fetchall())
            assert made[0] == made[1], table.name


def test_a_table_that_nobody_delivers_is_there_and_empty(tiny):
    with tiny.staged() as warehouse:
        tables = warehouse.read("select distinct table_name from staging.sheets")["table_name"]
        there = {name: len(warehouse.table(f"staging.{name}")) for name in declared_tables()}
    assert {name for name, n_rows in there.items() if n_rows == 0} == set(declared_tables()) - set(tables) != set()
