"""Staging tables and columns that nobody delivers: there and empty, as the whole queries would make them."""

from __future__ import annotations

import pytest

from pipeline.contract.staging import empty_staging, staging_query
from pipeline.contract.tables import declared_tables

WRITES = """\
- table: plots
  where: {trial_id: 2091-A-corn, plot: 102}
  {CHANGE}
  cause: a slip
  who: analyst 2
  date: 2091-12-01
  treatment_known: no
"""


def test_an_empty_table_has_the_columns_that_its_query_gives_it(tiny):
    with tiny.staged() as warehouse:
        for table in declared_tables().values():
            made = []
            for query in (empty_staging(table), staging_query(table, ())):
                warehouse.execute(f"drop table staging.{table.name}")
                warehouse.execute(query)
                made.append(warehouse.execute(f"describe staging.{table.name}").fetchall())
            assert made[0] == made[1], table.name


def test_a_table_that_nobody_delivers_is_there_and_empty(tiny):
    with tiny.staged() as warehouse:
        tables = warehouse.read("select distinct table_name from staging.sheets")["table_name"]
        there = {name: len(warehouse.table(f"staging.{name}")) for name in declared_tables()}
    assert {name for name, n_rows in there.items() if n_rows == 0} == set(declared_tables()) - set(tables) != set()


def test_a_column_that_nobody_told_is_there_and_empty(tiny):
    with tiny.staged() as warehouse:
        assert {"test_weight_kg_hl", "yield_kg_ha"} <= set(warehouse.table("staging.plots"))
        assert warehouse.execute("select count(test_weight_kg_hl) from staging.plots").fetchone() == (0,)


@pytest.mark.parametrize(
    ("change", "column", "value"),
    [
        ('change: {test_weight_kg_hl: {old: "", new: "71.5"}}', "test_weight_kg_hl", 71.5),
        ("move: {moisture_pct: yield_moisture_pct}", "yield_moisture_pct", 18.2),
    ],
)
def test_what_a_correction_writes_under_a_heading_of_no_file_is_read(tiny, change, column, value):
    (tiny.folder / "seasons/2091/corrections.yml").write_text(WRITES.replace("{CHANGE}", change), encoding="utf-8")
    with tiny.staged() as warehouse:
        assert warehouse.execute(f"select {column} from staging.plots where {column} is not null").fetchall() == [
            (value,)
        ]
