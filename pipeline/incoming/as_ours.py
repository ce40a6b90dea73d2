"""A delivered sheet under our table and headings, as the sender's words say: for the reader's checks and for staging.

A wide sheet has a part for each plot that a row of it holds; any other sheet has one part. A part's name is the
sheet's with the columns it takes, so that file, sheet and row of a plot lead to its cell.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass

from pipeline.contract.tables import Table, declared_tables
from pipeline.incoming.headings import SendersWords, WideColumn
from pipeline.incoming.sheet import table_name, tidy_heading

# the first letter of a piece of text that is put together from cells: a text, a cell of the row, or the row's number
TEXT, CELL, ROW = "=", "@", "#"
_IN_BRACES = re.compile(r"\{([^{}]+)\}")


@dataclass(frozen=True)
class HeadingHere:
    """Our heading and what stands under it: the cells of a delivered column, or pieces put together (then delivered is
    None).
    """

    heading: str
    delivered: str | None = None
    verbatim: str | None = None
    pieces: tuple[str, ...] | None = None


@dataclass(frozen=True)
class Part:
    """A sheet, or a part of a wide one. problems: what is said of it that cannot be."""

    sheet: str | None
    table: str
    headings: tuple[HeadingHere, ...]
    problems: tuple[str, ...] = ()


def parts_of(
    words: SendersWords, *, file: str, sheet: str | None, table: str, headings: list[str], verbatim: list[str]
) -> list[Part]:
    """The parts of a sheet. table: ours; headings: as raw has them, tidied; verbatim: as typed."""
    columns = list(zip(headings, verbatim, strict=True))
    wide = {h: words.wide.get((table, tidy_heading(h))) for h in headings}
    spread = [(h, typed, wide[h]) for h, typed in columns if wide[h]]
    kept = [HeadingHere(words.heading(table, h), h, typed) for h, typed in columns if not wide[h]]
    named = {"file": file.rsplit("/", 1)[-1].rsplit(".", 1)[0], "sheet": sheet or ""}
    given = words.given_for_all(table, table_name(sheet or named["file"]))
    if not spread:
        here, problems = _with_given(kept, given, table, named, headings)
        return [Part(sheet, table, tuple(here), tuple(problems))]
    parts = []
    declared = declared_tables()[table]
    for group in _groups(spread):
        titles = [typed for _, typed, _ in group]
        own = [HeadingHere(column.holds, h, typed) for h, typed, column in group]
        same = {heading: text for _, _, column in group for heading, text in column.same}
        # an unknown column is told once
        rest = [each for each in kept if not parts or declared.knows(each.heading)]
        here, problems = _with_given(rest + own, same | given, table, named, headings)
        if not any(each.heading == "plot" for each in here):
            here.append(HeadingHere("plot", pieces=(f"{TEXT}{' and '.join(titles)}, row ", ROW)))
        name = f"{'column' if len(titles) == 1 else 'columns'} {' and '.join(titles)}"
        parts.append(Part(f"{sheet}, {name}" if sheet else name, table, tuple(here), tuple(problems)))
    return parts


def _groups(spread: list[tuple[str, str, WideColumn]]) -> list[list[tuple[str, str, WideColumn]]]:
    """Columns that tell of the same plots of their rows, such as yield and moisture of block 1."""
    groups: dict[tuple, list] = {}
    for each in spread:
        groups.setdefault(tuple(sorted(each[2].same)), []).append(each)
    return list(groups.values())


def _with_given(
    here: list[HeadingHere], given: dict[str, str], table: str, named: dict[str, str], headings: list[str]
) -> tuple[list[HeadingHere], list[str]]:
    """The headings with what is given for all rows, for columns that the sheet does not have itself."""
    declared = declared_tables().get(table)
    found, problems = list(here), []
    delivered = {tidy_heading(heading): heading for heading in headings}
    for heading, text in given.items():
        if _has(declared, found, heading):
            continue
        missing = [name for name in _names(text) if name not in (*named, "row") and tidy_heading(name) not in delivered]
        if missing:
            problems.append(
                f'same_for_all says {heading} is "{text}", and there is no heading "{missing[0]}"; '
                "in braces stand sheet, file, row or a heading of the sheet"
            )
        found.append(HeadingHere(heading, pieces=tuple(_pieces(text, named, delivered))))
    return found, problems


def _has(table: Table, here: list[HeadingHere], heading: str) -> bool:
    column = table.column_under(heading)
    return any(
        table.column_under(each.heading) is column and each.heading.startswith(column.name)
        for each in here
        if table.knows(each.heading)
    )


def _names(text: str) -> list[str]:
    return [name.strip() for name in _IN_BRACES.findall(text)]


def _pieces(text: str, named: dict[str, str], delivered: dict[str, str]) -> Iterator[str]:
    """A text with names in braces, as pieces: '2095-{sheet}-{Crop}' is ('=2095-', '=Alder', '=-', '@crop')."""
    for i, piece in enumerate(_IN_BRACES.split(text)):
        name = piece.strip()
        if i % 2 == 0:
            yield from [TEXT + piece] if piece else []
        elif name in named:
            yield TEXT + named[name]
        else:
            yield ROW if name == "row" else CELL + delivered.get(tidy_heading(name), tidy_heading(name))
