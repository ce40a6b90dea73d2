"""The declarations themselves: whole, and with examples and ranges that make sense."""

from __future__ import annotations

import pytest

from pipeline.contract.tables import SEVERITIES, declared_tables
from pipeline.contract.units import UNITS

TABLES = declared_tables()
COLUMNS = [(table, column) for table in TABLES.values() for column in table.columns]
IDS = [f"{table.name}.{column.name}" for table, column in COLUMNS]


def test_the_tables_a_delivery_may_hold():
    assert set(TABLES) == {
        "sites",
        "trials",
        "treatments",
        "nitrogen_applications",
        "plots",
        "harvests",
        "measurements",
        "printed_means",
        "weather_daily",
        "rain_history",
        "irrigations",
        "prices",
    }


@pytest.mark.parametrize(("table", "column"), COLUMNS, ids=IDS)
def test_a_column_is_declared_in_full(table, column):
    assert column.meaning and column.severity in SEVERITIES
    assert set(column.units) <= set(UNITS)
    for limits in (column.hard, column.typical, *(r for by in column.by_crop.values() for r in by.values())):
        assert limits is None or limits[0] < limits[1]
    if column.hard and column.typical:
        assert column.hard[0] <= column.typical[0] and column.typical[1] <= column.hard[1]


@pytest.mark.parametrize("table", TABLES.values(), ids=TABLES)
def test_a_key_is_made_of_required_columns(table):
    required = {column.name for column in table.columns if column.required}
    # rows that leave these empty are several readings, not one key claimed twice
    may_be_empty = {"measurements": {"date", "subsample"}, "prices": {"source"}}.get(table.name, set())
    assert set(table.key) - may_be_empty <= required


@pytest.mark.parametrize("table", TABLES.values(), ids=TABLES)
def test_no_heading_means_two_columns_and_every_unit_stands_in_its_heading(table):
    headings = table.known_headings
    assert len(headings) == len(set(headings))
    for column in table.plain_columns:
        if len(column.units) > 1:
            assert column.name not in column.unit_of_heading, "a heading without its unit would have to be guessed"


def test_a_free_factor_is_known_by_the_beginning_of_its_heading():
    assert TABLES["treatments"].knows("factor_variety")
    assert not TABLES["treatments"].knows("variety")
    assert not TABLES["plots"].knows("factor_variety")


@pytest.mark.parametrize(
    ("table", "column", "limit", "stored"),
    [("weather_daily", "temp_max", 50, 10), ("plots", "harvest_length", 10, 3.048), ("trials", "season", 2090, 2090)],
)
def test_a_limit_of_a_range_is_stored_in_the_unit_of_its_column(table, column, limit, stored):
    (declared,) = (each for each in TABLES[table].columns if each.name == column)
    assert declared.in_stored_unit(limit) == pytest.approx(stored)


@pytest.mark.parametrize(
    ("headings", "lacks"),
    [
        (["trial_id", "treatment_code"], ["n_source", "n_rate", "timing", "passes"]),
        (["trial_id", "factor_variety"], ["treatment_code"]),
        (["trial_id", "treatment_code", "factor_variety", "n_source"], ["n_rate", "timing", "passes"]),
    ],
)
def test_nitrogen_may_be_left_out_as_a_whole_where_a_factor_tells_the_treatments(headings, lacks):
    assert [column.name for column in TABLES["treatments"].lacking(headings)] == lacks


@pytest.mark.parametrize(
    ("told", "lacks"), [(["product_rate_lb_ac", "product_n_pct"], []), (["product_n_pct"], ["n_rate"])]
)
def test_the_n_rate_may_be_left_out_where_the_product_tells_it(told, lacks):
    headings = ["trial_id", "treatment_code", "application", "product", "counts_toward", *told]
    assert [column.name for column in TABLES["nitrogen_applications"].lacking(headings)] == lacks
