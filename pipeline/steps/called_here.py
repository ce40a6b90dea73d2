"""What a sheet's table and headings are called here, for staging: as the senders' words say that the reader goes by."""

from __future__ import annotations

from collections.abc import Callable

import pandas as pd

from pipeline.errors import UserError
from pipeline.incoming.accompanying import Accompanying
from pipeline.warehouse import Warehouse

SHEETS = """select f.file, regexp_replace(f.file, '/[^/]*$', '') as folder, f.delivery, f.season, f.sha256,
  s.sheet, s.table_name, s.heading_row, s.headings, s.verbatim_headings
from raw.current_files as f inner join raw.sheets as s using (sha256)
order by f.file, s.sheet"""


def called_here(accompanying: Accompanying) -> dict[str, Callable[[Warehouse], pd.DataFrame]]:
    """What fills staging.sheets (one row per sheet) and staging.headings (one row per heading of a sheet)."""
    return {
        "staging.sheets": lambda built: pd.DataFrame(_sheet(row, accompanying) for row in _sheets(built)),
        "staging.headings": lambda built: pd.DataFrame(
            heading for row in _sheets(built) for heading in _headings(row, accompanying)
        ),
    }


def _sheets(warehouse: Warehouse) -> list[dict]:
    return warehouse.table(f"({SHEETS})").to_dict("records")


def _sheet(row: dict, accompanying: Accompanying) -> dict:
    words = accompanying.words_for(row["folder"])
    table = words.table(row["table_name"])
    as_here = not words.has_words_for(table) and all(words.heading(table, h) == h for h in row["headings"])
    kept = ("file", "folder", "delivery", "season", "sha256", "sheet")
    return {name: row[name] for name in kept} | {"table_name": table, "is_called_as_here": as_here}


def _headings(row: dict, accompanying: Accompanying) -> list[dict]:
    words = accompanying.words_for(row["folder"])
    table = words.table(row["table_name"])
    kept = {name: row[name] for name in ("file", "folder", "sheet", "heading_row")} | {"table_name": table}
    _refuse_two_for_one(row, [words.heading(table, delivered) for delivered in row["headings"]])
    return [
        kept | {"delivered": delivered, "verbatim": verbatim, "heading": words.heading(table, delivered)}
        for delivered, verbatim in zip(row["headings"], row["verbatim_headings"], strict=True)
    ]


def _refuse_two_for_one(row: dict, ours: list[str]) -> None:
    """UserError where two columns of a sheet have one heading here: only one of them would be read."""
    verbatim: dict[str, list[str]] = {}
    for heading, typed in zip(ours, row["verbatim_headings"], strict=True):
        verbatim.setdefault(heading, []).append(f'"{typed}"')
    for heading, typed in verbatim.items():
        if heading and len(typed) > 1:
            sheet = f' sheet "{row["sheet"]}"' if row["sheet"] else ""
            raise UserError(
                f"{row['file']}{sheet}, row {row['heading_row']}: the columns {' and '.join(typed)} {'both' if len(typed) == 2 else 'all'} mean {heading}. "
                f"Delete one column, or change what {row['folder']}/headings.yml says of it."
            )
