"""In SQL a value is known exactly where the check on its hard range is silent."""

from __future__ import annotations

import math

import pytest

from pipeline.contract.range_macros import range_macros
from pipeline.contract.tables import NOTED, declared_tables
from pipeline.warehouse import open_warehouse

COLUMNS = {
    (table.name, column.name): column
    for table in declared_tables().values()
    for column in table.plain_columns
    if column.hard and column.severity == NOTED
}


@pytest.fixture(scope="module")
def warehouse(tmp_path_factory):
    with open_warehouse(tmp_path_factory.mktemp("ranges") / "warehouse.duckdb") as warehouse:
        warehouse.build([])
        yield warehouse


@pytest.mark.parametrize("column", COLUMNS.values(), ids=map(".".join, COLUMNS))
def test_both_limits_are_known_and_the_next_number_beyond_is_not(warehouse, column):
    def known(value: float):
        text = f"select known.{column.stored_name}(cast('{value!r}' as double))"
        return warehouse.execute(text).fetchone()[0]

    low, high = map(column.in_stored_unit, column.hard)
    assert [known(value) for value in (low, high)] == [low, high]
    beyond = (math.nextafter(low, -math.inf), math.nextafter(high, math.inf), -1e308, 1e308, math.inf)
    assert [known(value) for value in beyond] == [None] * len(beyond)
    assert warehouse.execute(f"select known.{column.stored_name}(null)").fetchone() == (None,)


def test_columns_of_one_name_have_one_range():
    made = [statement.split("(")[0] for statement in range_macros()]
    assert len(made) == len(set(made)) and len(made) == 1 + len({column.stored_name for column in COLUMNS.values()})
