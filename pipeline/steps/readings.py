"""Which reading of a file's content counts. headings.yml decides which row holds the headings, which sheets hold a
table and which merged cells are filled: the same content, read by other words, may come to other rows.
"""

from __future__ import annotations

import hashlib
from collections.abc import Iterator
from pathlib import Path

import pandas as pd

from pipeline.incoming.accompanying import Accompanying
from pipeline.incoming.deliveries import DeliveredFile, folder_of
from pipeline.incoming.headings import SendersWords
from pipeline.incoming.sheet import Sheet
from pipeline.warehouse import Warehouse

ROWS = "case when sheet is not null then table_name end, sheet, row_number, cast(cells as varchar)"
NOTES = "sheet, row_number, column_name, found, what, sentence"


def words_sha256(words: SendersWords, file: str) -> str:
    """Of what headings.yml says of the reading of a file; empty where it says nothing of it."""
    read_as = words.read_as.get(Path(file).name, ())
    said = [sorted(part.items()) for part in (words.tables, words.headings, words.same_for_all, words.wide)]
    return hashlib.sha256(repr([*said, read_as]).encode()).hexdigest() if any(said) or read_as else ""


class Readings:
    """What raw holds of contents, by the words that they were read by; takes in what is read now."""

    def __init__(self, warehouse: Warehouse) -> None:
        self._warehouse = warehouse
        self._stored = warehouse.table("raw.sheets").groupby("sha256")
        self._by_content: dict[str, pd.DataFrame] = {}
        known = warehouse.table("raw.readings")
        self._known = dict(zip(zip(known["sha256"], known["words_sha256"], strict=True), known["content"], strict=True))
        self._of: dict[str, list[str]] = {}
        for (sha256, _), content in self._known.items():
            self._of.setdefault(sha256, []).append(content)
        # an earlier version kept one reading of a content, and not by which words: it is read once more to know
        noted = set(self._known.values())
        self._of |= {sha256: [sha256] for sha256 in self._stored.groups if sha256 not in noted}
        self._new: list[dict] = []

    def content(self, delivered: DeliveredFile, words: SendersWords) -> str | None:
        """What raw calls a file's reading by these words, None where it is to be read."""
        return self._known.get((delivered.sha256, words_sha256(words, delivered.file)))

    def sheets(self, content: str) -> pd.DataFrame:
        """Rows of raw.sheets, of a content that is stored."""
        if content not in self._by_content:
            self._by_content[content] = self._stored.get_group(content)
        return self._by_content[content]

    def take(self, delivered: DeliveredFile, words: SendersWords, sheets: list[Sheet]) -> None:
        """Stores a reading, but not again what another reading of the content came to."""
        sha256, said = delivered.sha256, words_sha256(words, delivered.file)
        content = f"{sha256}:{said}" if sha256 in self._of else sha256
        found = pd.DataFrame(_store(self._warehouse, content, sheets))
        for other in self._of.get(sha256, []):
            if self._is_same(content, found, other):
                for name in ("rows", "notes"):
                    self._warehouse.execute(f"delete from raw.{name} where sha256 = ?", [content])
                return self._note(sha256, said, other)
        self._by_content[content] = found
        self._warehouse.insert("raw.sheets", found)
        return self._note(sha256, said, content)

    def store_known(self) -> None:
        """Stores by which words each content was read."""
        self._warehouse.insert("raw.readings", pd.DataFrame(self._new))
        self._new = []

    def _note(self, sha256: str, said: str, content: str) -> None:
        self._known[sha256, said] = content
        self._of.setdefault(sha256, []).append(content)
        self._new.append({"sha256": sha256, "words_sha256": said, "content": content})

    def _is_same(self, content: str, found: pd.DataFrame, other: str) -> bool:
        if _described(found) != _described(self.sheets(other)):
            return False
        return all(
            self._told(name, columns, content) == self._told(name, columns, other)
            for name, columns in (("rows", ROWS), ("notes", NOTES))
        )

    def _told(self, name: str, columns: str, content: str) -> tuple:
        query = f"select count(*), sum(hash({columns})) from raw.{name} where sha256 = ?"
        return self._warehouse.execute(query, [content]).fetchall()[0]


def _described(sheets: pd.DataFrame) -> list[tuple]:
    """The sheets of a reading in order of name; a CSV file's table is told by the file's name. An earlier version
    did not know of decimal commas.
    """
    return sorted(
        (row.sheet or "", row.table_name if row.sheet else "", row.heading_row)
        + (list(row.headings), list(row.verbatim_headings), pd.notna(row.decimal_commas) and bool(row.decimal_commas))
        for row in sheets.itertuples()
    )


def _store(warehouse: Warehouse, content: str, sheets: list[Sheet]) -> Iterator[dict]:
    """Stores rows and notes of the sheets; gives what raw.sheets is to hold of them."""
    for sheet in sheets:
        where = {"sha256": content, "sheet": sheet.sheet, "table_name": sheet.table}
        warehouse.store_rows(content, sheet.sheet, sheet.table, sheet.row_numbers, sheet.columns)
        notes = [
            where
            | {
                "row_number": n.row,
                "column_name": n.column,
                "found": n.found,
                "what": n.what,
                "sentence": n.sentence,
            }
            for n in sheet.notes
        ]
        warehouse.insert("raw.notes", pd.DataFrame(notes))
        yield where | {
            "heading_row": sheet.heading_row,
            "headings": sheet.headings,
            "verbatim_headings": sheet.verbatim_headings,
            "decimal_commas": sheet.decimal_commas,
        }


def current_contents(warehouse: Warehouse, accompanying: Accompanying) -> pd.DataFrame:
    """The rows of staging.contents; a reading by words that were never read by is as what was read first."""
    files = warehouse.read("select file, sha256 from raw.current_files where held_because is null order by file")
    known = warehouse.table("raw.readings")
    contents = dict(zip(zip(known["sha256"], known["words_sha256"], strict=True), known["content"], strict=True))
    rows = [
        {
            "file": row.file,
            "content": contents.get(
                (row.sha256, words_sha256(accompanying.words_for(folder_of(row.file)), row.file)), row.sha256
            ),
        }
        for row in files.itertuples()
    ]
    return pd.DataFrame(rows, columns=["file", "content"])
