"""The warehouse as the last report left it, for every verb that answers from it."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from contextlib import contextmanager

from pipeline.errors import UserError
from pipeline.settings.program import Program
from pipeline.warehouse import Warehouse, open_warehouse


@contextmanager
def last_report(program: Program, needed: Iterable[str] = ()) -> Iterator[Warehouse]:
    """Opens it to be read; needed: tables and views that must be there, such as 'reports.claims'.

    Raises:
        UserError: no report was made yet, or by a version that did not have what is needed.
    """
    file = program.warehouse_file
    if not file.is_file():
        raise UserError(f"{file} is not there yet. Run make report first.")
    with open_warehouse(file, read_only=True) as warehouse:
        known = tables_of(warehouse)
        if "trials.trials" not in known:
            raise UserError(f"{file} holds no report yet: no run was finished. Run make report first.")
        if not set(needed) <= known:
            raise UserError(f"{file} was made by an older version. Run make report, then this again.")
        yield warehouse


def tables_of(warehouse: Warehouse) -> set[str]:
    """Every table and view, such as 'reports.claims'."""
    names = "select table_schema || '.' || table_name as name from information_schema.tables"
    return set(warehouse.read(names)["name"])
