"""The words a cell or a setting may hold: listed in a declaration, or kept by hand beside the reference tables."""

from __future__ import annotations

import csv
import re
from functools import cache

from pipeline import folders
from pipeline.contract.tables import declared_tables

# A spreadsheet program may run a text that begins so; it takes the full-width characters for the plain ones.
FORMULA_OPENINGS = ("=", "+", "-", "@", "\uff1d", "\uff0b", "\uff0d", "\uff20", "\t", "\r", "\n")
REFERENCE_FOLDER = folders.SQL / "reference"


def source_said(text: str) -> str:
    """An N source or product as people write it: the word that is typed is in lower case throughout."""
    return re.sub(r"\buan\b", "UAN", text)


@cache
def reference_words(name: str) -> tuple[str, ...]:
    """The words of one hand-kept list, such as crops or n_sources."""
    with (REFERENCE_FOLDER / f"{name}.csv").open(encoding="utf-8", newline="") as file:
        return tuple(row["word"] for row in csv.DictReader(file))


@cache
def reference_column(name: str, column: str) -> dict[str, str]:
    """One column of a hand-kept list, by word."""
    with (REFERENCE_FOLDER / f"{name}.csv").open(encoding="utf-8", newline="") as file:
        return {row["word"]: row[column] for row in csv.DictReader(file)}


def column_words(table: str, name: str) -> tuple[str, ...]:
    """The words a declared column may hold; empty where it takes any text."""
    column = next(column for column in declared_tables()[table].columns if column.name == name)
    return reference_words(column.words_from.removeprefix("reference.")) if column.words_from else column.words
