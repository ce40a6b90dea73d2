"""Does a sheet hold its plots side by side, and what would headings.yml have to say of it?"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping

from pipeline.contract.tables import declared_tables
from pipeline.incoming.sheet import Sheet
from pipeline.incoming.usual_headings import BLOCK, MEASURED_BY_UNIT

_NUMBER = re.compile(r"[+-]?\d+([.,]\d+)?")
UNTOLD = "yield_bu_ac"
_BUSHELS = dict(MEASURED_BY_UNIT)[UNTOLD]
_FEWEST_COLUMNS, _LEAST_SHARE = 2, 0.7


def wide_entries(sheet: Sheet, unknown: list[tuple[str, str]], lacks: set[str]) -> dict[str, dict[str, str]]:
    """Their heading -> what its cells would be by headings.yml; empty where the sheet is not wide.

    unknown: (tidy, typed) headings that no table knows; lacks: names of the required columns that are not there.
    """
    if sheet.table != "plots" or not lacks & {"block", "treatment_code"}:
        return {}
    numeric = [(tidy, typed) for tidy, typed in unknown if _is_numeric(sheet.columns[tidy])]
    by_block = dict(_by_block(numeric, lacks))
    if len(by_block) >= _FEWEST_COLUMNS:
        return by_block
    measures = [typed for _, typed in numeric if not any(shape.search(typed) for _, shape in MEASURED_BY_UNIT)]
    if "treatment_code" in lacks and "block" not in lacks and len(measures) >= _FEWEST_COLUMNS:
        return {typed: {"treatment_code": typed, "holds": UNTOLD} for typed in measures}
    return {}


def _by_block(numeric: list[tuple[str, str]], lacks: set[str]) -> Iterator[tuple[str, dict[str, str]]]:
    for _, typed in numeric:
        found = BLOCK.search(typed)
        if not found:
            continue
        rest = (typed[: found.start()] + typed[found.end() :]).strip(" _.,:/-()")
        holds = next((ours for ours, shape in MEASURED_BY_UNIT if shape.search(rest)), None)
        same = {"block": found[1]}
        if rest and holds is None and "treatment_code" in lacks:
            same = {"treatment_code": rest} | same
        yield typed, same | {"holds": holds or UNTOLD}


def _is_numeric(cells: list[str | None]) -> bool:
    filled = [text.strip() for text in cells if text]
    return bool(filled) and sum(bool(_NUMBER.fullmatch(text)) for text in filled) >= _LEAST_SHARE * len(filled)


def layout_said(entries: Mapping[str, Mapping[str, str]]) -> str:
    """Names the layout in words."""
    kinds = [
        word
        for word, ours in (("blocks", "block"), ("treatments", "treatment_code"))
        if any(ours in e for e in entries.values())
    ]
    n_each = len({tuple((k, v) for k, v in e.items() if k != "holds") for e in entries.values()})
    return (
        f"holds several plots in a row, {' and '.join(kinds)} side by side "
        f"({len(entries)} columns, {n_each} plots a row)"
    )


def is_unit_untold(entries: Mapping[str, Mapping[str, str]]) -> bool:
    return any(entry["holds"] == UNTOLD and not _BUSHELS.search(typed) for typed, entry in entries.items())


assert declared_tables()["plots"].knows(UNTOLD)
