"""The warehouse: opens the file, runs sql/ in order, loads and reads tables.

A layer is a folder of sql/ and a schema of the database. A query states in its first lines what it `needs:`;
tables are dropped before they are made, so a line that forgets a need fails at once.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Collection, Iterable, Iterator, Mapping
from contextlib import contextmanager
from functools import cache
from pathlib import Path

import duckdb
import numpy as np
import pandas as pd
import pyarrow as pa

from pipeline import folders, warehouse_room
from pipeline.contract import results
from pipeline.contract.range_macros import range_macros
from pipeline.contract.unit_macros import unit_macros
from pipeline.errors import UserError, is_ctrl_c
from pipeline.sql_steps import Step, in_order, steps_of
from pipeline.warehouse_room import STORAGE_VERSION, forget_spilled, limits, quoted

ROWS_AT_A_TIME = 200_000  # of a long table, 10 MB of numbers

Fill = Mapping[str, "pd.DataFrame | Callable[[Warehouse], pd.DataFrame]"]


class Warehouse:
    """An open warehouse. Use `open_warehouse`, which closes it and rolls back what was not committed."""

    def __init__(self, connection: duckdb.DuckDBPyConnection, path: Path, *, may_spill: bool) -> None:
        self._connection, self._path = connection, path
        self._has_macros = False
        self._may_spill = may_spill

    @contextmanager
    def transaction(self) -> Iterator[None]:
        """All or nothing: a failure or a killed process leaves the file as it was. UserError where the disk is full."""
        self._connection.execute("begin transaction")
        try:
            yield
            self._connection.execute("commit")
        except BaseException as problem:
            self._roll_back()
            if isinstance(problem, duckdb.Error) and _is_damage(problem):
                raise
            if isinstance(problem, (duckdb.IOException, duckdb.TransactionException)):
                raise UserError(
                    "The warehouse could not be written. Check the free space of the disk and who may write there;"
                    " nothing was changed."
                ) from None
            if is_ctrl_c(problem):
                raise KeyboardInterrupt from None
            raise

    def _roll_back(self) -> None:
        self._has_macros = False
        try:
            self._connection.execute("rollback")
        except duckdb.Error:
            pass  # a commit that failed has rolled back already; closing the file does the rest

    @contextmanager
    def seeing(self, *, last_arrival: int | None, without_seasons: list[int]) -> Iterator[None]:
        """For a while raw.current_files shows the files up to an arrival, or leaves seasons out. Nothing is lost."""
        self._connection.execute("set variable last_arrival = ?", [last_arrival])
        self._connection.execute("set variable without_seasons = ?", [without_seasons])
        try:
            yield
        finally:
            self._see_all()

    def _see_all(self) -> None:
        self._connection.execute("set variable last_arrival = null::bigint")
        self._connection.execute("set variable without_seasons = []::integer[]")

    def execute(self, query: str, parameters: object = None) -> duckdb.DuckDBPyConnection:
        return self._connection.execute(query, parameters)

    def read(self, query: str, parameters: object = None, given: pd.DataFrame | None = None) -> pd.DataFrame:
        """A query's rows as a frame; the query finds the frame `given` by that name."""
        return self._connection.execute(query, parameters).df()

    def batches(self, query: str) -> Iterator[dict[str, np.ndarray]]:
        """A query's rows as arrays by column, a few at a time: numbers alone, the missing ones NaN. To be read to the
        end.
        """
        found = self._connection.sql(query).to_arrow_reader(ROWS_AT_A_TIME)
        for batch in found:
            yield {
                name: column.to_numpy(zero_copy_only=False)
                for name, column in zip(batch.schema.names, batch.columns, strict=True)
            }

    def table(self, name: str) -> pd.DataFrame:
        """A whole table or view, its missing texts as None."""
        frame = self.read(f"select * from {name}")
        if frame.empty:
            return frame
        texts = frame.select_dtypes("object").columns
        frame[texts] = frame[texts].astype(object).where(frame[texts].notna(), None)
        return frame

    def let_go(self) -> None:
        """Leaves the memory to large frames that come next; a warehouse in memory alone keeps what it has."""
        if self._may_spill:
            warehouse_room.let_go(self._connection)

    def insert(self, name: str, frame: pd.DataFrame | pa.Table) -> None:
        """Appends a frame to a table, columns matched by name; a result must have every column that is declared for
        it.
        """
        schema, _, table = name.partition(".")
        declared = results.declared_results().get(table)
        if declared and declared.schema == schema:
            frame = results.frame_of(frame, table, stored=True)
        if len(frame) == 0:
            return
        self._connection.register("incoming_frame", frame)
        self._connection.execute(f"insert into {name} by name select * from incoming_frame")
        self._connection.unregister("incoming_frame")

    def store_rows(
        self, sha256: str, sheet: str | None, table_name: str, row_numbers: list[int], columns: dict[str, list]
    ) -> None:
        """Appends one sheet's rows to raw.rows; each row becomes a JSON text of its cells."""
        if not row_numbers:
            return
        cells = pa.table({name: pa.array(values, pa.string()) for name, values in columns.items()})
        shape = ", ".join(f"{_identifier(name)} := {_identifier(name)}" for name in cells.column_names)
        # found by its name: a registered table would be held until the transaction ends
        incoming_cells = cells.append_column("manyfields row", pa.array(row_numbers, pa.int64()))  # noqa: F841
        self._connection.execute(
            f"""insert into raw.rows by name
            select ? as sha256, ? as sheet, "manyfields row" as row_number, ? as table_name,
            to_json(struct_pack({shape})) as cells
            from incoming_cells""",
            [sha256, sheet, table_name],
        )

    def build(
        self,
        layers: Iterable[str],
        fill: Fill | None = None,
        progress: Callable[[float], None] = lambda share: None,
        only: Collection[str] = (),
    ) -> None:
        """Drops and makes again every table of the layers, in the order of their needs.

        `fill` gives the rows of tables that are only declared: a frame, or a function of the warehouse
        that is called once the table's needs are met. `progress` is told the share of the steps that are done.
        `only` names the tables to make where not all of the layers can be made yet.
        """
        fill = fill or {}
        layers = tuple(layers)
        steps = steps_of(layers)
        if only:
            steps = {name: steps[name] for name in only}
        if not self._has_macros:
            self._connection.execute(";\n".join([*unit_macros(), *range_macros()]))
            self._has_macros = True
        kept = {step.name for step in steps.values() if step.keep}
        stood = {name for layer in layers for name in self._drop(layer, keep=kept)}
        idle = cache(lambda table: self._idle(steps, table))  # such a table is made once, before the first of its steps
        for done, name in enumerate(in_order(steps)):
            progress(done / len(steps))
            is_idle = name in idle(steps[name].rows_of)
            if query := steps[name].otherwise if is_idle else self._query(steps[name]):
                self._run(steps[name], query)
            if name in stood:
                self._add_what_it_lacks(steps[name])
            if name in fill:
                rows = fill[name]
                self.insert(name, rows(self) if callable(rows) else rows)

    def _query(self, step: Step) -> str:
        if not step.shaped:
            return step.query
        return step.shaped(frozenset(text for (text,) in self._connection.execute(step.told_by).fetchall()))

    def _idle(self, steps: Mapping[str, Step], table: str) -> set[str]:
        """The steps that can have no effect, as the table has no row that meets their condition; all are tried at
        once.
        """
        if not table:
            return set()
        asked = [step for step in steps.values() if step.rows_of == table]
        if not self._connection.execute(f"select 1 from {table} limit 1").fetchone():
            return {step.name for step in asked}
        # in a case, and nowhere else, a condition's second half is tried on those rows alone that meet its first
        tried = (f"bool_or(case when {step.only_where} then true end) is not null" for step in asked)
        answers = self._connection.execute(f"select {', '.join(tried)} from {table} as t").fetchone()
        return {step.name for step, may_have_one in zip(asked, answers, strict=True) if not may_have_one}

    def _run(self, step: Step, query: str) -> None:
        try:
            self._connection.execute(query)
        except duckdb.IOException:
            raise
        except duckdb.Error as problem:
            if _is_damage(problem):
                raise
            if step.keep:
                raise _of_another_kind(self._path) from problem
            raise RuntimeError(f"{step.name}: {problem}\n{query}") from problem

    def _add_what_it_lacks(self, step: Step) -> None:
        """Columns that an earlier version did not have yet, in a table that is kept; its older rows hold nothing there.

        Raises:
            UserError: a column is there in another type, so that the table is none of ours.
        """
        known = dict(_columns(self._connection, step.name))
        for name, kind in _declared_columns(step):
            if known.get(name, kind) != kind:
                raise _of_another_kind(self._path)
            if name not in known:
                self._connection.execute(f"alter table {step.name} add column {_identifier(name)} {kind}")

    def _drop(self, layer: str, keep: set[str]) -> set[str]:
        """Drops all of a layer but what is to be kept, and returns the names of that."""
        self._connection.execute(f"create schema if not exists {layer}")
        objects = self._connection.execute(
            "select table_name, table_type from information_schema.tables where table_schema = ?", [layer]
        ).fetchall()
        for name, kind in objects:
            if f"{layer}.{name}" not in keep:
                self._connection.execute(
                    f"drop {'view' if kind == 'VIEW' else 'table'} {layer}.{_identifier(name)} cascade"
                )
        return keep & {f"{layer}.{name}" for name, _ in objects}


def _columns(connection: duckdb.DuckDBPyConnection, table: str) -> list[tuple[str, str]]:
    """Name and type of each column of a table, in order."""
    query = (
        "select column_name, data_type from duckdb_columns() where schema_name = ? and table_name = ? order by"
        " column_index"
    )
    return connection.execute(query, table.split(".")).fetchall()


@cache
def _declared_columns(step: Step) -> list[tuple[str, str]]:
    """The columns of a table as its query makes it where there is none."""
    with duckdb.connect(config={"threads": 1}) as apart:
        apart.execute(f"create schema {step.name.split('.')[0]}; {step.query}")
        return _columns(apart, step.name)


def _identifier(name: str) -> str:
    return '"' + name.replace('"', '""') + '"'


@contextmanager
def open_warehouse(path: Path, *, read_only: bool = False) -> Iterator[Warehouse]:
    """Opens the warehouse file; UserError where another process holds it or it is no warehouse."""
    config = {"threads": 1}
    if not read_only:  # by one process at a time, so that what it puts on the disk is its own
        config |= {"storage_compatibility_version": STORAGE_VERSION} | limits(path)
    try:
        connection = duckdb.connect(str(path), read_only=read_only, config=config)
    except duckdb.Error as problem:
        raise _cannot_open(path, str(problem)) from None
    if not read_only:
        forget_spilled(path)
    with _opened(connection, path, may_spill=not read_only) as warehouse:
        yield warehouse


@contextmanager
def memory_of(path: Path) -> Iterator[Warehouse]:
    """A warehouse in memory that holds what was delivered and which runs there were; the file is only read, and need
    not be there.

    Raises:
        UserError: another process holds the file, or it is no warehouse.
    """
    with _opened(duckdb.connect(config={"threads": 1}), path, may_spill=False) as warehouse:
        warehouse.build(["raw"])
        if path.exists():
            try:
                _copy_kept(warehouse, path)
            except duckdb.Error as problem:
                raise _cannot_open(path, str(problem)) from None
        yield warehouse


def _copy_kept(warehouse: Warehouse, path: Path) -> None:
    """Copies what no run makes again of a stored warehouse, table by table as far as it has them."""
    warehouse.execute(f"attach {quoted(path)} as stored (read_only)")
    known = warehouse.read(
        "select schema_name || '.' || table_name as name from duckdb_tables() where database_name = 'stored'"
    )
    warehouse.execute("create schema estimates")
    for step in steps_of(("raw", "estimates")).values():
        if step.keep and step.name in set(known["name"]):
            warehouse.execute(step.query)
            warehouse.execute(f"insert into {step.name} by name from stored.{step.name}")
    warehouse.execute("detach stored")


@contextmanager
def _opened(connection: duckdb.DuckDBPyConnection, path: Path, *, may_spill: bool) -> Iterator[Warehouse]:
    try:
        connection.execute("set variable sql_folder = ?", [str(folders.SQL)])
        connection.execute("set enable_progress_bar = false")
        warehouse = Warehouse(connection, path, may_spill=may_spill)
        warehouse._see_all()
        yield warehouse
    except duckdb.Error as problem:
        if _is_damage(problem):
            raise _of_another_kind(path) from None
        raise
    finally:
        connection.close()


def _cannot_open(path: Path, problem: str) -> UserError:
    said = problem.replace(str(path), "").lower()
    if "could not set lock" in said or "conflicting lock" in said:
        held = re.search(r"held in (?:.*/)?(.+?) \(PID (\d+)\)", problem)
        who = f" ({held[1]}, process {held[2]})" if held else ""
        return UserError(
            f"{path} is open in another program{who}. Close it there and run this again; nothing was changed."
        )
    if "permission" in said or "read-only" in said:
        return UserError(
            f"{path} cannot be opened: it may not be read or written here. Check who owns it and its folder; nothing"
            " was changed."
        )
    return _of_another_kind(path)


def _of_another_kind(path: Path) -> UserError:
    what = "a folder" if path.is_dir() else "damaged, of another kind or made by a later version"
    return UserError(
        f"{path} cannot be read as a warehouse: it is {what}. "
        "Move it away and run this again: it is made again from the season folders. Nothing was changed."
    )


def _is_damage(problem: duckdb.Error) -> bool:
    """Whether what is stored is no longer what was written."""
    return "corrupt" in str(problem).lower() or isinstance(problem, (duckdb.FatalException, duckdb.InternalException))
