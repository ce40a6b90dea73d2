"""What a sheet's table and headings are called here, for staging: as the senders' words say that the reader goes by."""

from __future__ import annotations

from collections.abc import Callable, Iterator

import pandas as pd

from pipeline.contract.tables import declared_tables
from pipeline.incoming.accompanying import Accompanying
from pipeline.incoming.as_ours import Part, parts_of
from pipeline.incoming.deliveries import told_table
from pipeline.incoming.headings import NO_TABLE
from pipeline.steps.readings import current_contents
from pipeline.warehouse import Warehouse

SHEETS = """select f.file, regexp_replace(f.file, '/[^/]*$', '') as folder, f.delivery, f.season, c.content,
  s.sheet, s.table_name, s.heading_row, s.headings, s.verbatim_headings, s.decimal_commas
from raw.current_files as f inner join staging.contents as c on c.file = f.file
inner join raw.sheets as s on s.sha256 = c.content
order by f.file, s.sheet"""


def called_here(accompanying: Accompanying) -> dict[str, Callable[[Warehouse], pd.DataFrame]]:
    """What fills staging.contents (one row per file), staging.sheets (one row per sheet or part of a wide one) and
    staging.headings (one row per heading of it).
    """
    return {
        "staging.contents": lambda built: current_contents(built, accompanying),
        "staging.sheets": lambda built: pd.DataFrame(
            _sheet(*each, accompanying) for each in _parts(built, accompanying)
        ),
        "staging.headings": lambda built: pd.DataFrame(
            heading for row, part in _parts(built, accompanying) for heading in _headings(row, part)
        ),
    }


def _parts(warehouse: Warehouse, accompanying: Accompanying) -> Iterator[tuple[dict, Part]]:
    for row in warehouse.table(f"({SHEETS})").to_dict("records"):
        words = accompanying.words_for(row["folder"])
        table = words.table(told_table(row["file"], row["sheet"], row["table_name"]))
        if table != NO_TABLE:
            for part in parts_of(
                words,
                file=row["file"],
                sheet=row["sheet"],
                table=table,
                headings=list(row["headings"]),
                verbatim=list(row["verbatim_headings"]),
            ):
                yield row, part


def _sheet(row: dict, part: Part, accompanying: Accompanying) -> dict:
    words = accompanying.words_for(row["folder"])
    as_here = not words.has_words_for(part.table) and all(each.heading == each.delivered for each in part.headings)
    kept = ("file", "folder", "delivery", "season", "content")
    return {name: row[name] for name in kept} | {
        "sheet": part.sheet,
        "raw_sheet": row["sheet"],
        "table_name": part.table,
        "is_called_as_here": as_here and part.sheet == row["sheet"] and not row["decimal_commas"],
    }


def _headings(row: dict, part: Part) -> list[dict]:
    kept = {name: row[name] for name in ("file", "folder", "heading_row")}
    kept |= {"sheet": part.sheet, "table_name": part.table}
    return [
        kept
        | {"delivered": h.delivered, "verbatim": h.verbatim, "heading": h.heading, "pieces": h.pieces}
        | {"decimal_commas": bool(row["decimal_commas"]) and _is_number(part.table, h.heading)}
        for h in part.headings
    ]


def _is_number(table: str, heading: str) -> bool:
    column = declared_tables()[table].column_under(heading)
    return column is not None and column.type == "number"
