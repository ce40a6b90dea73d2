"""The declared results: what each table of estimates holds, and what follows from that.

A declaration in results/*.yml holds a table's grain, key and columns with their types, units and meanings. The table in
the warehouse, the typed frames that estimates hand over, and the dictionary beside the reports are all made from it.
results/shared.yml has the columns that several tables name; results/views.yml what a report view adds or states in
another unit.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, fields
from functools import cache
from pathlib import Path

import pandas as pd
from pandas.api.types import infer_dtype

from pipeline.contract.declared import read_declared

FOLDER = Path(__file__).parent / "results"
SCHEMA = "estimates"
SHARED, VIEWS, EVERY_VIEW = "shared.yml", "views.yml", "every view"
SQL_TYPES = {
    "text": "varchar",
    "number": "double",
    "integer": "integer",
    "yes_no": "boolean",
    "date": "date",
    "time": "timestamp",
    "numbers": "double[]",
}
# Where a number or a yes may be missing, its type can say so; a text, a date or a list that is missing is None.
ALWAYS_THERE = {"number": "float64", "integer": "int64", "yes_no": "bool", "time": "datetime64[us]"}
MAY_BE_MISSING = ALWAYS_THERE | {"integer": "Int64", "yes_no": "boolean"}


class NotAsDeclared(KeyError):
    """A frame whose columns or values are not those of its declaration: a fault in the program, never in the data."""

    def __str__(self) -> str:
        return str(self.args[0])


@dataclass(frozen=True)
class ResultColumn:
    """One column. unit is that of the stored numbers, empty where there is none.

    required: never missing. unique: names one row. by_run: written as the run stores the table, not by the estimator.
    """

    name: str
    type: str
    meaning: str
    unit: str = ""
    required: bool = False
    unique: bool = False
    by_run: bool = False

    @property
    def dtype(self) -> str:
        """The pandas type that holds it."""
        return (ALWAYS_THERE if self.required else MAY_BE_MISSING).get(self.type, "object")


@dataclass(frozen=True)
class ResultTable:
    """One table that the pipeline fills, mostly of the estimates layer. kept: a new run adds to its rows instead of
    making it again.

    needs: the tables that must stand before it can be filled, where it is filled while its layer is built.
    """

    name: str
    grain: str
    key: tuple[str, ...]
    columns: tuple[ResultColumn, ...]
    kept: bool = False
    schema: str = SCHEMA
    needs: tuple[str, ...] = ()

    def names(self, *, without: Collection[str] = ()) -> list[str]:
        """The columns that an estimator gives, in order, without those that a later step adds."""
        return [column.name for column in self.columns if not column.by_run and column.name not in without]


def _columns(entry: dict, shared: Mapping[str, dict]) -> tuple[ResultColumn, ...]:
    """The columns of a table: a name, or a list of names, stands for shared columns; an entry may change one."""
    known, found = {f.name for f in fields(ResultColumn)}, []
    for item in entry["columns"]:
        for column in item if isinstance(item, list) else [item]:
            own = {"name": column} if isinstance(column, str) else column
            told = shared.get(own["name"], {}) | own
            assert not set(told) - known, f"{entry['table']}.{own['name']}: {set(told) - known}"
            assert told["type"] in SQL_TYPES, f"{entry['table']}.{own['name']}: {told['type']}"
            found.append(ResultColumn(**{"required": own["name"] in entry["key"]} | told))
    return tuple(found)


def _read(name: str) -> list | dict:
    return read_declared(FOLDER / name)


@cache
def shared_columns() -> dict[str, dict]:
    """The columns that several tables or views name, as declared."""
    return {column["name"]: column for column in _read(SHARED)}


@cache
def view_columns() -> dict[str, list[dict]]:
    """Columns that a report view adds or states in another unit, by view; EVERY_VIEW for any view that has them."""
    named = shared_columns()
    return {
        view: [named[column] if isinstance(column, str) else column for column in columns]
        for view, columns in _read(VIEWS).items()
    }


@cache
def declared_results() -> dict[str, ResultTable]:
    """Every table of the estimates layer, by name."""
    found = {}
    for path in sorted(FOLDER.glob("*.yml")):
        for entry in _read(path.name) if path.name not in (SHARED, VIEWS) else []:
            columns = _columns(entry, shared_columns())
            assert set(entry["key"]) <= {column.name for column in columns}, entry["table"]
            table = ResultTable(
                entry["table"],
                entry["grain"],
                tuple(entry["key"]),
                columns,
                kept=entry.get("kept", False),
                schema=entry.get("schema", SCHEMA),
                needs=tuple(entry.get("needs", ())),
            )
            found[table.name] = table
    return found


def ddl(table: ResultTable) -> str:
    """The statements that make the table. A kept one may be older than a column, which its earlier rows then lack."""
    columns = ",\n  ".join(_sql_column(column, table) for column in table.columns)
    there = "if not exists " if table.kept else ""
    says = table.grain.capitalize().replace("'", "''")
    return f"""create table {there}{table.schema}.{table.name} (
  {columns}
);
comment on table {table.schema}.{table.name} is '{says}';"""


def _sql_column(column: ResultColumn, table: ResultTable) -> str:
    limit = " primary key" if column.unique else " not null" if column.required and not table.kept else ""
    return f'"{column.name}" {SQL_TYPES[column.type]}{limit}'


def frame_of(
    rows: Sequence[Mapping] | pd.DataFrame, table: str, *, without: Collection[str] = (), stored: bool = False
) -> pd.DataFrame:
    """Rows as a frame with exactly the declared columns, in their order and types; no rows give the empty frame.

    without: columns that a later step adds. stored: with the columns that the run writes. A column that is missing or
    not declared, a value of another type, and a missing value of a required column raise NotAsDeclared.
    """
    names = _names(table, frozenset(without), stored)
    if not len(rows):
        return _empty(table, frozenset(without), stored).copy()
    if isinstance(rows, pd.DataFrame):
        _hold_against(names, rows.columns, table)
        frame = rows[names].reset_index(drop=True)
    else:
        for row in rows:
            _hold_against(names, row, table)
        frame = pd.DataFrame(list(rows), columns=names)
    return _typed_frame(frame, table)


def _names(table: str, without: frozenset[str], stored: bool) -> list[str]:
    declared = declared_results()[table]
    return [column.name for column in declared.columns] if stored else declared.names(without=without)


@cache
def _empty(table: str, without: frozenset[str], stored: bool) -> pd.DataFrame:
    """The empty frame; most of a program's tables have no row for most of its comparisons."""
    return _typed_frame(pd.DataFrame(columns=_names(table, without, stored)), table)


def _typed_frame(frame: pd.DataFrame, table: str) -> pd.DataFrame:
    has_missing = frame.isna().any().to_dict()  # of all columns at once: most tables have many columns and few rows
    found = dict(frame.items())
    declared = [column for column in declared_results()[table].columns if column.name in found]
    typed = {c.name: _typed(found[c.name], c, table, has_missing=has_missing[c.name]) for c in declared}
    return pd.DataFrame(typed, index=frame.index)


def blank(table: str, *, without: Collection[str] = ()) -> dict[str, None]:
    """A row with every column empty, for one that says only why there is nothing."""
    return dict.fromkeys(declared_results()[table].names(without=without))


def narrowed(rows: Sequence[Mapping] | pd.DataFrame, table: str, *, without: Collection[str] = ()) -> pd.DataFrame:
    """As frame_of, of rows that may hold more than the table does."""
    names = declared_results()[table].names(without=without)
    if isinstance(rows, pd.DataFrame):
        return frame_of(rows[[name for name in names if name in rows]], table, without=without)
    return frame_of([{name: row[name] for name in names if name in row} for row in rows], table, without=without)


def _hold_against(names: list[str], found: Collection[str], table: str) -> None:
    lacking, more = [name for name in names if name not in found], [name for name in found if name not in names]
    if lacking or more:
        told = [f"lacks {', '.join(lacking)}"] * bool(lacking) + [f"has undeclared {', '.join(more)}"] * bool(more)
        raise NotAsDeclared(f"{table} {' and '.join(told)}")


def _typed(values: pd.Series, column: ResultColumn, table: str, *, has_missing: bool) -> pd.Series:
    """The values in the declared type."""
    if column.required and has_missing:
        raise NotAsDeclared(f"{table}.{column.name} is required and is missing in {values.isna().sum()} rows")
    if column.dtype == "object":
        if values.dtype != object:
            values = values.astype(object)
        if has_missing:
            values = values.where(values.notna(), None)
        if column.type == "text" and infer_dtype(values, skipna=True) not in ("string", "empty"):
            raise NotAsDeclared(f"{table}.{column.name} is text and holds {sorted({type(v).__name__ for v in values})}")
        return values
    if values.dtype == column.dtype:
        return values
    try:
        # the types that can miss a value refuse what they would have to change, 2.5 to a whole number or a text to yes
        return values.astype(MAY_BE_MISSING[column.type]).astype(column.dtype)
    except (TypeError, ValueError) as problem:
        raise NotAsDeclared(f"{table}.{column.name} is {column.type}: {problem}") from None
