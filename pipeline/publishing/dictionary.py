"""The data dictionary: the contract's declarations and checks as frames for a page."""

from __future__ import annotations

from dataclasses import asdict

import pandas as pd

from pipeline import folders
from pipeline.contract.checks import Check, declared_checks, range_said
from pipeline.contract.results import ResultColumn, ResultTable, declared_results
from pipeline.contract.tables import Column, Table, declared_tables
from pipeline.contract.units import US
from pipeline.settings.keys import named_keys
from pipeline.settings.program import Program
from pipeline.sql_steps import written_checks


def dictionary_tables(display_units: str = US) -> dict[str, pd.DataFrame]:
    """One row per delivered table, per column of these, per column of the results, per check, and per key of
    program.yml; ranges in the program's display units.
    """
    tables = list(declared_tables().values())
    named = pd.DataFrame(
        {"table_name": t.name, "grain": t.grain, "key": ", ".join(t.key), "meaning": t.meaning} for t in tables
    )
    columns = pd.DataFrame(_column_row(table, column, display_units) for table in tables for column in table.columns)
    checks = [_check_row(check, t.name) for t in tables for check in declared_checks(t)]
    checks += [_check_row(check, None) for check, _ in written_checks()]
    results = [_result_row(table, column) for table in declared_results().values() for column in table.columns]
    return {
        "dictionary_results": pd.DataFrame(results),
        "dictionary_tables": named,
        "dictionary_columns": columns,
        "dictionary_checks": pd.DataFrame(checks),
        "dictionary_keys": pd.DataFrame([asdict(key) for key in named_keys(Program)]),
    }


def _column_row(table: Table, column: Column, display_units: str) -> dict:
    return {
        "table_name": table.name,
        "heading": f"{column.name}..." if column.pattern else " or ".join(column.unit_of_heading),
        "type": column.type.replace("_", " or "),
        "is_required": column.required,
        "meaning": column.meaning,
        "formerly": column.formerly,
        "words": ", ".join(column.words or _reference_words(column)),
        "hard": _limits(column, "hard", display_units),
        "typical": _limits(column, "typical", display_units),
        "example": column.example,
        "severity": column.severity,
    }


def _result_row(table: ResultTable, column: ResultColumn) -> dict:
    return {
        "table_name": table.name,
        "grain": table.grain,
        "key": ", ".join(table.key),
        "column_name": column.name,
        "type": column.type.replace("_", " or "),
        "unit": column.unit,
        "is_required": column.required,
        "meaning": column.meaning,
    }


def _reference_words(column: Column) -> list[str]:
    """The words of the reference file a column points to; a program may declare more crops."""
    if not column.words_from:
        return []
    return list(pd.read_csv(folders.SQL / (column.words_from.replace(".", "/") + ".csv"))["word"])


def _limits(column: Column, kind: str, display_units: str) -> str:
    """The range as readers are told it, by crop where it differs."""
    by_crop = {crop: limits[kind] for crop, limits in column.by_crop.items() if kind in limits}
    own = getattr(column, kind)
    texts = [f"{range_said(column, limits, display_units)} ({crop})" for crop, limits in by_crop.items()]
    return "; ".join([*([range_said(column, own, display_units)] if own else []), *texts])


def _check_row(check: Check, table_name: str | None) -> dict:
    return {"table_name": table_name, "check_name": check.name, "severity": check.severity, "says": check.says}
