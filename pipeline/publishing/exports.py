"""Everything behind the reports, beside them: each table as Parquet and as CSV, with a dictionary of their columns.

Parquet holds what the warehouse holds. In CSV a text that a spreadsheet would run as a formula gets an apostrophe in
front (it begins with = + - @, one of these in full width, a tab or a line break); numbers are untouched and written
with all their digits, so that reading a file back gives the printed numbers. Two runs on the same inputs give the same
bytes: what changes with each run (ids, times) stands in the folder of its own.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import asdict
from pathlib import Path

import pandas as pd

from pipeline.contract.words import FORMULA_OPENINGS
from pipeline.publishing.view_columns import told_of

OF_THE_RUN = ("program", "changes", "verdict_changes", "editions")
DICTIONARY = "dictionary"


def write_exports(views: Mapping[str, pd.DataFrame], folder: Path) -> None:
    """Writes <name>.parquet, csv/<name>.csv (run/<name>.csv for what changes with each run) and csv/dictionary.csv.

    Args:
        views: frames by name; views["columns"] says the grain of each.
        folder: new; made here.
    """
    for below in ("csv", "run"):
        (folder / below).mkdir(parents=True)
    for name, frame in views.items():
        frame.reset_index(drop=True).to_parquet(folder / f"{name}.parquet")
        write_csv(frame, folder / ("run" if name in OF_THE_RUN else "csv") / f"{name}.csv")
    write_csv(dictionary(views), folder / "csv" / f"{DICTIONARY}.csv")


def write_csv(frame: pd.DataFrame, path: Path) -> None:
    """A frame as UTF-8 CSV whose texts no spreadsheet runs as formulas."""
    safe = {name: column.map(_cell) if column.dtype == object else column for name, column in frame.items()}
    pd.DataFrame(safe, columns=frame.columns).to_csv(
        path, index=False, lineterminator="\r\n"
    )  # as RFC 4180; a lone \r is then quoted too


def _cell(value: object) -> object:
    """A list as one text; a text that opens like a formula behind an apostrophe; anything else as it is."""
    if not isinstance(value, str) and hasattr(value, "__iter__"):
        value = "; ".join(f"{item:.15g}" if isinstance(item, float) else str(item) for item in value)
    if isinstance(value, str) and value.startswith(FORMULA_OPENINGS):
        return f"'{value}"
    return value


def dictionary(views: Mapping[str, pd.DataFrame]) -> pd.DataFrame:
    """One row per table and column: what a row of the table is, the column's type, unit and meaning."""
    grains = dict(zip(views["columns"]["table_name"], views["columns"]["grain"], strict=True))
    rows = [
        {
            "table": name,
            "one_row": grains.get(name, ""),
            "column": column,
            "type": _type(frame[column]),
            **asdict(told_of(name, column, frame.columns)),
        }
        for name, frame in sorted(views.items())
        for column in frame.columns
    ]
    return pd.DataFrame(rows)


def _type(column: pd.Series) -> str:
    if pd.api.types.is_bool_dtype(column) or (column.dtype == object and _are_all_bool(column.dropna())):
        return "true or false"
    if pd.api.types.is_integer_dtype(column):
        return "whole number"
    if pd.api.types.is_numeric_dtype(column):
        return "number"
    if pd.api.types.is_datetime64_any_dtype(column):
        return "date or time"
    return "text"


def _are_all_bool(known: pd.Series) -> bool:
    return len(known) > 0 and all(isinstance(value, bool) for value in known)
