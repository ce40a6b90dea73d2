"""The warehouse: opened or refused in plain words, all or nothing, built in the order of needs, the same each time."""

from __future__ import annotations

import os
import subprocess
import sys
from collections.abc import Iterator
from contextlib import contextmanager, nullcontext

import duckdb
import numpy as np
import pandas as pd
import pytest

from pipeline import folders, warehouse_room
from pipeline import warehouse as warehouses
from pipeline.errors import UserError
from pipeline.verbs import run
from pipeline.warehouse import open_warehouse
from pipeline.warehouse_room import give_back_space
from tests.tiny_program import Stored, no_estimates


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


@contextmanager
def held_by_another(file) -> Iterator[subprocess.Popen]:
    hold = f"import duckdb; c = duckdb.connect({str(file)!r}); print('held', flush=True); input()"
    with subprocess.Popen(
        [sys.executable, "-c", hold], stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True
    ) as holder:
        assert holder.stdout.readline() == "held\n"
        yield holder
        holder.communicate("\n")


def test_a_warehouse_that_another_process_holds(file):
    with held_by_another(file) as holder:
        message = refusal(file)
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


def test_a_long_table_is_read_a_lot_at_a_time(file, monkeypatch):
    monkeypatch.setattr(warehouses, "ROWS_AT_A_TIME", 2_048)
    with open_warehouse(file) as warehouse:
        query = "select range as n, case when range % 2 = 0 then range / 4 end as half from range(5000)"
        batches = list(warehouse.batches(query))
        assert warehouse.read("select 1 as a")["a"].tolist() == [1]
    assert len(batches) > 1 and max(len(batch["n"]) for batch in batches) <= 2_048
    assert np.concatenate([batch["n"] for batch in batches]).tolist() == list(range(5000))
    halves = np.concatenate([batch["half"] for batch in batches])
    assert np.isnan(halves[1::2]).all() and halves[::2].tolist() == [n / 4 for n in range(0, 5000, 2)]


SORTED = "create table t as select hash(range) as h, repeat('x', 50) || range as text from range(900000) order by h"


def test_what_is_more_than_the_memory_allowed_is_put_beside_the_file_meanwhile(file, monkeypatch):
    monkeypatch.setattr(warehouse_room, "MOST_MEMORY", "60MiB")
    beside = file.with_name(file.name + warehouse_room.SPILLED)
    with open_warehouse(file) as warehouse:
        with warehouse.transaction():
            warehouse.execute(SORTED)
            warehouse.execute("create temp table kept as select * from t")
            assert sum(path.stat().st_size for path in beside.iterdir()) > 2**20
        assert warehouse.read("select count(*) as n, min(h) as first from t")["n"].tolist() == [900_000]
    assert list(file.parent.iterdir()) == [file]


def test_a_warehouse_lets_go_of_memory_and_keeps_its_rows(file, monkeypatch):
    monkeypatch.setattr(warehouse_room, "LITTLE_MEMORY", "20MiB")
    held = "select sum(memory_usage_bytes) / 1024 ** 2 as mib from duckdb_memory()"
    with open_warehouse(file) as warehouse:
        with warehouse.transaction():
            warehouse.execute(SORTED)
            warehouse.execute("create temp table kept as select * from t")
            before = warehouse.read(held)["mib"].item()
            warehouse.let_go()
            assert before > 40 and warehouse.read(held)["mib"].item() < 21  # the question itself takes a little of it
            warehouse.execute("create table again as select * from t order by text")  # takes more than it was left
        assert warehouse.read("select count(distinct text) as n from again")["n"].tolist() == [900_000]


def test_what_must_stay_in_memory_stays_and_the_transaction_goes_on(file, monkeypatch):
    """An index cannot go to the disk before it is committed."""
    monkeypatch.setattr(warehouse_room, "LITTLE_MEMORY", "4MiB")
    with open_warehouse(file) as warehouse:
        with warehouse.transaction():
            warehouse.execute("create table t (text varchar primary key)")
            warehouse.execute("insert into t select md5(range::text) from range(200_000)")
            limit = warehouse.read("select current_setting('memory_limit') as most")["most"].tolist()
            warehouse.let_go()
            warehouse.execute("insert into t values ('one more')")
            assert warehouse.read("select current_setting('memory_limit') as most")["most"].tolist() == limit
        assert warehouse.read("select count(*) as n from t")["n"].tolist() == [200_001]


def test_what_a_killed_run_had_put_beside_the_file_is_gone_after_the_next(file):
    code = f"""
import os, signal
from pathlib import Path
from pipeline import warehouse as warehouses, warehouse_room
warehouse_room.MOST_MEMORY = "60MiB"
with warehouses.open_warehouse(Path({str(file)!r})) as warehouse, warehouse.transaction():
    warehouse.execute({SORTED!r})
    warehouse.execute("create temp table kept as select * from t")
    os.kill(os.getpid(), signal.SIGKILL)
"""
    with open_warehouse(file) as warehouse:
        warehouse.execute("create table before as select 1 as a")
    assert subprocess.run([sys.executable, "-c", code], cwd=folders.SQL.parent).returncode == -9
    beside = file.with_name(file.name + warehouse_room.SPILLED)
    assert list(beside.glob("duckdb_temp_*"))
    with open_warehouse(file) as warehouse:
        assert warehouse.table("before")["a"].tolist() == [1]
        assert warehouse.read("select table_name from duckdb_tables()")["table_name"].tolist() == ["before"]
    assert not beside.exists()


def test_nothing_else_that_lies_beside_the_file_is_removed(file):
    beside = file.with_name(file.name + warehouse_room.SPILLED)
    beside.mkdir()
    (beside / "mine.txt").write_text("mine")
    (beside / "duckdb_temp_block-1.block").write_text("of a killed run")
    with open_warehouse(file):
        assert [path.name for path in beside.iterdir()] == ["mine.txt"]
    assert (beside / "mine.txt").read_text() == "mine"


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


def test_the_same_files_give_the_same_tables_whenever_they_are_built(loaded_tiny):
    file = loaded_tiny.folder / "warehouse.duckdb"
    first = dict(Stored(file))
    again = dict(loaded_tiny.load())
    file.unlink()
    anew = dict(loaded_tiny.load())
    assert len(first) > 50
    for name, frame in first.items():
        pd.testing.assert_frame_equal(frame, again[name])
        pd.testing.assert_frame_equal(frame, anew[name])


@pytest.fixture
def half_empty(file, monkeypatch):
    """A warehouse with tables, a view and a macro, in a file that is mostly empty, as after a large table has gone."""
    monkeypatch.setattr(warehouse_room, "WORTH_A_COPY", 2**20)
    with open_warehouse(file) as warehouse:
        warehouse.execute(
            "create schema s; create table s.large as select range as n, md5(range::text) as t from range(400_000)"
        )
        warehouse.execute("checkpoint; create macro twice(x) as 2 * x")
        warehouse.execute("create table s.small (n integer not null, words text[], day date)")
        warehouse.execute("insert into s.small values (1, ['a', null], '2091-05-01'), (2, null, null)")
        warehouse.execute("create view s.seen as select n, twice(n) as m from s.small")
        warehouse.execute("drop table s.large")
    return file


def holds(file) -> tuple:
    """All that a warehouse declares, and its rows."""
    with open_warehouse(file, read_only=True) as warehouse:
        declared = warehouse.read(
            "select sql from duckdb_tables() union all select sql from duckdb_views() where not internal"
            " union all select macro_definition from duckdb_functions() where not internal order by 1"
        )
        return declared["sql"].tolist(), *(warehouse.read(f"from s.{name}").to_string() for name in ("small", "seen"))


def test_a_file_that_is_mostly_empty_is_made_small_and_holds_the_same(half_empty):
    before, size = holds(half_empty), half_empty.stat().st_size
    assert len(before[0]) == 3
    half_empty.chmod(0o640)
    give_back_space(half_empty)
    assert half_empty.stat().st_size < size / 3 and holds(half_empty) == before
    assert half_empty.stat().st_mode & 0o777 == 0o640 and list(half_empty.parent.iterdir()) == [half_empty]
    small = half_empty.stat()
    give_back_space(half_empty)
    assert half_empty.stat().st_ino == small.st_ino


def test_a_link_to_the_file_stays_a_link(half_empty):
    link, size = half_empty.with_name("link.duckdb"), half_empty.stat().st_size
    link.symlink_to(half_empty)
    give_back_space(link)
    assert link.is_symlink() and half_empty.stat().st_size < size / 3


@pytest.mark.parametrize("problem", [OSError("disk full"), KeyboardInterrupt()], ids=["disk full", "Ctrl-C"])
def test_where_the_new_file_cannot_take_its_place_the_old_one_stays(half_empty, monkeypatch, problem):
    def fail(*words):
        raise problem

    before = half_empty.read_bytes()
    monkeypatch.setattr(warehouse_room.os, "replace", fail)
    with pytest.raises(KeyboardInterrupt) if isinstance(problem, KeyboardInterrupt) else nullcontext():
        give_back_space(half_empty)
    assert half_empty.read_bytes() == before and list(half_empty.parent.iterdir()) == [half_empty]


def test_what_a_killed_copy_left_is_no_hindrance(half_empty):
    size = half_empty.stat().st_size
    half_empty.with_name(f".{half_empty.name}.half").write_text("cut short")
    give_back_space(half_empty)
    assert half_empty.stat().st_size < size / 3 and list(half_empty.parent.iterdir()) == [half_empty]


def test_no_change_waits_beside_a_file_that_takes_its_place(half_empty, monkeypatch):
    """Of a run that could not close it; a process killed then would leave it beside a file that it is not of."""
    write = (
        "import duckdb, os, sys; file = duckdb.connect(sys.argv[1]);"
        "file.execute('pragma disable_checkpoint_on_shutdown; insert into s.small values (3, null, null)'); os._exit(0)"
    )
    subprocess.run([sys.executable, "-c", write, half_empty], check=True)
    waiting = half_empty.with_name(f"{half_empty.name}.wal")
    assert waiting.exists()
    beside, replace = [], os.replace
    monkeypatch.setattr(warehouse_room.os, "replace", lambda *paths: (replace(*paths), beside.append(waiting.exists())))
    give_back_space(half_empty)
    assert beside == [False]
    with open_warehouse(half_empty, read_only=True) as warehouse:
        assert warehouse.read("select max(n) as n from s.small")["n"].item() == 3


def test_a_file_that_another_process_holds_stays(half_empty):
    before = half_empty.read_bytes()
    with held_by_another(half_empty):
        give_back_space(half_empty)
    assert half_empty.read_bytes() == before


def test_a_run_gives_back_what_it_needed_beside(tiny, monkeypatch):
    monkeypatch.setattr(warehouse_room, "WORTH_A_COPY", 2**20)
    file, sizes = tiny.folder / "warehouse.duckdb", []
    for weight in ("31.0", "31.1", "31.2"):
        tiny.change("plots", 2, "harvest_weight_lb", weight)
        run.build_warehouse(tiny.folder, "report", lambda text: None, no_estimates)
        sizes.append(file.stat().st_size)
    assert max(sizes) <= 1.3 * sizes[0]


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
    assert "warehouse.duckdb cannot be opened: it may not be read or written here. Check who owns it and its" in message


def test_counts_reach_python_as_whole_numbers(estimated_program):
    """A sum of whole numbers is of a type that pandas takes for a number with decimals, so that 12 rows read 12.0."""
    with open_warehouse(estimated_program / "warehouse.duckdb", read_only=True) as warehouse:
        too_wide = warehouse.read(
            "select schema_name, table_name, column_name from duckdb_columns() where data_type like '%HUGEINT%'"
        )
    assert too_wide.to_dict("records") == []
