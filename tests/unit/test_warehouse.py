"""The warehouse: opened or refused in plain words, all or nothing, built in the order of needs, the same each time."""

from __future__ import annotations

import os
import subprocess
import sys

import duckdb
import pandas as pd
import pytest

from pipeline import folders
from pipeline.errors import UserError
from pipeline.warehouse import open_warehouse


@pytest.fixture
def file(tmp_path):
    return tmp_path / "warehouse.duckdb"


def refusal(path) -> str:
    with pytest.raises(UserError) as problem, open_warehouse(path):
        pass
    return str(problem.value)


def test_a_file_that_is_no_database(file):
    file.write_text("not a database")
    message = refusal(file)
    assert "it is damaged, of another kind" in message and "it is made again from the season folders" in message
    assert file.read_text() == "not a database"


def test_a_folder_in_its_place(tmp_path):
    assert "cannot be read as a warehouse: it is a folder. Move it away" in refusal(tmp_path)


def test_a_warehouse_that_another_process_holds(file):
    hold = f"import duckdb; c = duckdb.connect({str(file)!r}); print('held', flush=True); input()"
    with subprocess.Popen(
        [sys.executable, "-c", hold], stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True
    ) as holder:
        assert holder.stdout.readline() == "held\n"
        message = refusal(file)
        holder.communicate("\n")
    assert "is open in another program" in message and f"process {holder.pid}" in message
    assert "Close it there and run this again; nothing was changed." in message


def test_older_clients_can_open_the_file(file):
    with open_warehouse(file) as warehouse:
        warehouse.execute("create table t (a integer)")
        assert warehouse.read(
            "select tags['storage_version'] as v from duckdb_databases() where database_name = 'warehouse'"
        )["v"][0].startswith("v1.2")


def test_a_transaction_that_fails_leaves_nothing(file):
    with open_warehouse(file) as warehouse:
        warehouse.execute("create table t (a integer)")
        for failure in (UserError("x"), KeyboardInterrupt(), ValueError("y")):
            with pytest.raises(type(failure)), warehouse.transaction():
                warehouse.execute("insert into t values (1)")
                warehouse.execute("create table u (a integer)")
                raise failure
        with pytest.raises(duckdb.Error), warehouse.transaction():
            warehouse.execute("insert into t values (1)")
            warehouse.execute("select * from nowhere")
        assert warehouse.table("t").empty
        with warehouse.transaction():
            warehouse.execute("insert into t values (2)")
        assert warehouse.table("t")["a"].tolist() == [2]


def test_ctrl_c_during_a_query_is_ctrl_c(file):
    with open_warehouse(file) as warehouse, pytest.raises(KeyboardInterrupt), warehouse.transaction():
        raise RuntimeError("Query interrupted")


def test_a_frame_is_appended_by_name_and_missing_texts_come_back_as_none(file):
    with open_warehouse(file) as warehouse:
        warehouse.execute("create table t (a integer, b varchar)")
        warehouse.insert("t", pd.DataFrame({"b": ["x", None], "a": [1, 2]}))
        warehouse.insert("t", pd.DataFrame())
        assert warehouse.table("t").to_dict("list") == {"a": [1, 2], "b": ["x", None]}


def test_rows_are_stored_as_text_by_heading_and_blanks_as_null(file):
    cells = {"plot": ["101", "2E3"], 'weight "lb"': ["42.60", None], "it's": ["\u00e9", "a\nb"]}
    with open_warehouse(file) as warehouse:
        warehouse.build(["raw"])
        warehouse.store_rows("hash", None, "plots", [2, 5], cells)
        warehouse.store_rows("hash", None, "plots", [], {})
        stored = warehouse.read(
            "select row_number, cells ->> 'plot' as plot, cells->>'it''s' as it, json_type(cells, '$.\"weight"
            ' \\"lb\\""\') as w from raw.rows'
        )
    assert stored.to_dict("list") == {
        "row_number": [2, 5],
        "plot": ["101", "2E3"],
        "it": ["\u00e9", "a\nb"],
        "w": ["VARCHAR", "NULL"],
    }


@pytest.fixture
def own_sql(tmp_path, monkeypatch):
    """A warehouse of two layers of its own: write(name, text) adds a query."""
    monkeypatch.setattr(folders, "SQL", tmp_path / "sql")

    def write(name: str, text: str) -> None:
        layer, query = name.split(".")
        (tmp_path / "sql" / layer).mkdir(parents=True, exist_ok=True)
        (tmp_path / "sql" / layer / f"{query}.sql").write_text(text)

    return write


def test_queries_run_in_the_order_of_their_needs(file, own_sql):
    own_sql("reference.a", "-- needs: reference.z\ncreate table reference.a as select n + 1 as n from reference.z")
    own_sql("reference.z", "create table reference.z (n integer)")
    own_sql(
        "reports.v",
        "-- needs: reference.a, reports.w\ncreate view reports.v as select n + 1 as n from reference.a, reports.w",
    )
    own_sql("reports.w", "-- needs: reference.a\ncreate table reports.w (m integer)")
    fill = {"reference.z": pd.DataFrame({"n": [1]}), "reports.w": lambda w: w.read("select n as m from reference.a")}
    with open_warehouse(file) as warehouse:
        for _ in range(2):
            warehouse.build(["reference", "reports"], fill=fill)
        assert warehouse.table("reports.v")["n"].tolist() == [3]


def test_a_need_that_is_not_named_fails_at_once_even_if_it_was_built_before(file, own_sql):
    own_sql("reference.z", "create table reference.z as select 1 as n")
    own_sql("reference.a", "-- needs: reference.z\ncreate table reference.a as select n from reference.z")
    with open_warehouse(file) as warehouse:
        warehouse.build(["reference"])
        own_sql("reference.a", "create table reference.a as select n from reference.z")
        with pytest.raises(RuntimeError, match="reference.a: .*z"):
            warehouse.build(["reference"])


def test_a_table_that_is_kept_is_kept_and_one_without_a_query_goes(file, own_sql):
    own_sql("raw.kept", "-- keep\ncreate table if not exists raw.kept (n integer)")
    own_sql("raw.made", "create table raw.made (n integer)")
    with open_warehouse(file) as warehouse:
        warehouse.build(["raw"])
        warehouse.execute(
            "insert into raw.kept values (1); insert into raw.made values (1); create table raw.older (n integer)"
        )
        warehouse.build(["raw"])
        assert warehouse.table("raw.kept")["n"].tolist() == [1] and warehouse.table("raw.made").empty
        assert warehouse.read("select table_name from information_schema.tables order by 1")["table_name"].tolist() == [
            "kept",
            "made",
        ]


def test_a_kept_table_of_an_earlier_version_gets_the_columns_it_lacks(file, own_sql):
    own_sql("raw.kept", "-- keep\ncreate table if not exists raw.kept (n integer primary key)")
    with open_warehouse(file) as warehouse:
        warehouse.build(["raw"])
        warehouse.execute("insert into raw.kept values (1)")
    own_sql(
        "raw.kept", "-- keep\ncreate table if not exists raw.kept (n integer primary key, words varchar[] not null)"
    )
    with open_warehouse(file) as warehouse:
        warehouse.build(["raw"])
        warehouse.insert("raw.kept", pd.DataFrame({"n": [2], "words": [["a", "b"]]}))
        assert warehouse.read("select n, words from raw.kept where n = 2")["words"].iloc[0].tolist() == ["a", "b"]
        assert warehouse.read("select n from raw.kept where words is null")["n"].tolist() == [1]


def test_the_same_files_give_the_same_tables_whenever_they_are_built(tiny):
    first = dict(tiny.load())
    again = dict(tiny.load())
    (tiny.folder / "warehouse.duckdb").unlink()
    anew = dict(tiny.load())
    assert len(first) > 50
    for name, frame in first.items():
        pd.testing.assert_frame_equal(frame, again[name])
        pd.testing.assert_frame_equal(frame, anew[name])


@pytest.fixture
def nobody():
    """Becomes a user who owns nothing, if the tests run as root."""
    if os.geteuid() != 0:
        yield
        return
    os.seteuid(65534)
    yield
    os.seteuid(0)


@pytest.fixture
def locked_folder(tmp_path_factory):
    """A folder that can be entered and read and not written; its parents let anybody through."""
    folder = tmp_path_factory.mktemp("locked")
    modes = {path: path.stat().st_mode for path in (folder, *folder.parents[:2])}
    for path in modes:
        path.chmod(0o555 if path == folder else 0o755)
    yield folder
    for path, mode in modes.items():
        path.chmod(mode)


def test_a_folder_one_may_not_write(locked_folder, nobody):
    message = refusal(locked_folder / "warehouse.duckdb")
    assert "warehouse.duckdb may not be written here. Check who owns the folder; nothing was changed." in message
