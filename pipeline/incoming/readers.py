"""Delivered files to text cells. Readers decide nothing about what the cells mean."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

from pipeline.incoming.csv_reader import read_csv
from pipeline.incoming.heading_rows import LooksLikeHeadings
from pipeline.incoming.invisible import invisible_notes
from pipeline.incoming.odd_rows import odd_row_notes
from pipeline.incoming.sheet import Sheet, refusal
from pipeline.incoming.xlsx_reader import read_xlsx


def read_file(
    path: Path,
    *,
    name: str,
    looks_like_headings: LooksLikeHeadings | None = None,
    progress: Callable[[float], None] = lambda share: None,
) -> list[Sheet]:
    """The tables of one delivered file: one for a .csv, one per used sheet for a .xlsx.

    `name` is what messages call the file; `looks_like_headings` says of a row's cells, tidied,
    whether they are a table's headings (by default: whether they fit a declared table);
    `progress` is told the share of a long .csv that was read. Raises UserError, naming file, row, column and the mend, for whatever cannot be read without guessing.
    """
    try:
        content = path.read_bytes()
    except OSError as error:
        raise refusal(name, [f"the file cannot be opened ({error.strerror}). Check its permissions."]) from error
    if path.suffix.lower() == ".csv":
        sheets = [
            read_csv(content, stem=path.stem, name=name, looks_like_headings=looks_like_headings, progress=progress)
        ]
    else:
        sheets = read_xlsx(content, name=name, looks_like_headings=looks_like_headings)
    for sheet in sheets:
        sheet.notes.extend([*odd_row_notes(sheet), *invisible_notes(sheet)])
    return sheets
