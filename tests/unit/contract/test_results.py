"""Each result table is declared once, and what a run stores is what is declared."""

from __future__ import annotations

import duckdb
import pandas as pd
import pytest

from pipeline.contract.results import SQL_TYPES, NotAsDeclared, ddl, declared_results, frame_of
from pipeline.verbs import run
from tests.declared_shapes import check_shape

TABLES = declared_results()
ROW = {"comparison_id": "c", "target": "seasons tested", "component": "site-year", "variance": 4.0}
# filled by make calibrate, and by a run after another one
NOT_BY_A_RUN = {"calibration", "slope_calibration", "run_changes", "settings_changes"}


def test_a_run_gives_every_table_in_its_types_and_one_row_for_each_key(tiny):
    given = {}

    def spied(*asked):
        frames, card = run.estimate_all(*asked)
        given.update(frames)
        return frames, card

    tiny.load(spied)
    of_estimates = {table.name for table in TABLES.values() if table.schema == "estimates"}
    assert set(given) == {f"estimates.{name}" for name in of_estimates - NOT_BY_A_RUN}
    for name, frame in given.items():
        table = TABLES[name.removeprefix("estimates.")]
        check_shape(table.name, frame, stored=True)
        assert not frame.duplicated(list(table.key)).any(), name
    assert sum(len(frame) > 0 for frame in given.values()) > 20
    with duckdb.connect(tiny.folder / "warehouse.duckdb", read_only=True) as warehouse:
        made = warehouse.execute(
            "select schema_name, table_name, column_name, lower(data_type) from duckdb_columns()"
        ).fetchall()
    declared = {(t.schema, t.name, c.name, SQL_TYPES[c.type]) for t in TABLES.values() for c in t.columns}
    assert declared == {row for row in made if (row[0], row[1]) in {(t.schema, t.name) for t in TABLES.values()}}
    assert of_estimates == {table for schema, table, *_ in made if schema == "estimates"}


@pytest.mark.parametrize("name", TABLES)
def test_no_rows_give_the_typed_frame_which_the_table_takes(name):
    empty = frame_of([], name, stored=True)
    check_shape(name, empty, stored=True)
    with duckdb.connect() as warehouse:
        warehouse.execute(f"create schema {TABLES[name].schema}")
        warehouse.execute(ddl(TABLES[name]))
        warehouse.execute(f"insert into {TABLES[name].schema}.{name} by name select * from empty")


@pytest.mark.parametrize(
    ("changed", "says"),
    [
        ({"variance": ...}, "variance_components lacks variance"),
        ({"mean": 1.0, "sd": 2.0}, "variance_components has undeclared mean, sd"),
        ({"variance": "wide"}, "variance_components.variance is number"),
        ({"component": 7}, "variance_components.component is text"),
        ({"target": None}, "variance_components.target is required and is missing in 1 rows"),
    ],
    ids=["missing", "not declared", "text as number", "number as text", "empty"],
)
def test_what_is_not_as_declared_is_an_error_that_names_table_and_column(changed, says):
    row = {name: value for name, value in (ROW | changed).items() if value is not ...}
    for rows in ([ROW, row] if "variance" in row and len(row) == len(ROW) else [row], pd.DataFrame([row])):
        with pytest.raises(NotAsDeclared, match=says):
            frame_of(rows, "variance_components")


@pytest.mark.parametrize(
    ("column", "value"), [("n_plots", 2.5), ("is_pooled", "no"), ("is_pooled", 2)], ids=lambda value: str(value)
)
def test_no_value_is_bent_to_its_type(column, value):
    row = {c.name: {"integer": 1, "yes_no": True}.get(c.type) for c in TABLES["site_year_gains"].columns}
    row |= {"comparison_id": "c", "site_year_id": "s"}
    assert len(frame_of([row], "site_year_gains")) == 1
    with pytest.raises(NotAsDeclared, match=f"site_year_gains.{column}"):
        frame_of([row | {column: value}], "site_year_gains")


def test_a_missing_value_keeps_its_column_in_its_type():
    rows = [
        dict.fromkeys(TABLES["agreement"].names()) | {"comparison_id": "c", "target": target, "leads": "plain mean"}
        for target in ("a", "b")
    ]
    found = frame_of([rows[0], rows[1] | {"agrees": False, "headline": 2.0}], "agreement")
    check_shape("agreement", found)
    assert found["agrees"].isna().tolist() == [True, False] and found["sentence"].tolist() == [None, None]
