"""What is other than in the last run, before anything is worked out: cells of changed files, and what lies beside
them.
"""

from __future__ import annotations

import json
from collections import Counter
from dataclasses import dataclass

import pandas as pd

from pipeline.incoming.deliveries import folder_of
from pipeline.warehouse import Warehouse


@dataclass(frozen=True)
class ChangedCell:
    """One cell of a delivered row; a text that is None was not there."""

    sheet: str | None
    row_number: int
    heading: str
    before: str | None
    after: str | None


@dataclass(frozen=True)
class ChangedFile:
    """How a file that was there before came again. Rows that only moved are not told."""

    file: str
    cells: tuple[ChangedCell, ...]
    n_rows_more: int
    n_rows_less: int
    new_headings: tuple[str, ...]
    lost_headings: tuple[str, ...]


@dataclass(frozen=True)
class Renamed:
    """A file, or all that is told of a folder, that came under another name with the same content. files: old path ->
    new path.
    """

    before: str
    after: str
    files: tuple[tuple[str, str], ...]
    n_rows: int


def renamed(warehouse: Warehouse, arrived: list[str], withdrawn: list[str]) -> list[Renamed]:
    """Files that are gone and came again with the same content elsewhere; together where a folder has no file left and
    they went to one other.
    """
    if not arrived or not withdrawn:
        return []
    last = warehouse.read("select file, arg_max(sha256, arrival) as sha256 from raw.files group by file").set_index(
        "file"
    )
    by_folder: dict[str, list[tuple[str, str]]] = {}
    for old, new in _pairs(withdrawn, arrived, last["sha256"]):
        by_folder.setdefault(folder_of(old), []).append((old, new))
    still_filled = set(warehouse.read("select file from raw.current_files")["file"].map(folder_of))
    counts = warehouse.read("select sha256, count(*) as n from raw.rows group by sha256").set_index("sha256")["n"]
    found = []
    for before, files in by_folder.items():
        n_rows = [int(counts.get(last["sha256"][old], 0)) for old, _ in files]
        after = {folder_of(new) for _, new in files}
        if before not in still_filled and len(after) == 1:
            found.append(Renamed(before, after.pop(), tuple(files), sum(n_rows)))
        else:
            found += [Renamed(old, new, ((old, new),), n) for (old, new), n in zip(files, n_rows, strict=True)]
    return found


def _pairs(gone: list[str], new: list[str], sha256: pd.Series) -> list[tuple[str, str]]:
    """Each gone file with the new one of its content, of its own season before others: a file that seasons share, such
    as a list of sites, went where its season's folder went. No new file stands for two.
    """
    found, free = {}, sorted(new)
    for is_of_season in (True, False):
        for old in sorted(set(gone) - set(found)):
            alike = (path for path in free if sha256[path] == sha256[old])
            if match := next((path for path in alike if not is_of_season or _season(path) == _season(old)), None):
                found[old] = match
                free.remove(match)
    return sorted(found.items())


def _season(path: str) -> str:
    return path.split("/")[1]


def changed_files(warehouse: Warehouse, arrived: list[str]) -> list[ChangedFile]:
    """Each arrived file that had come before, held against what came then, in order of path."""
    came_again = warehouse.read(
        "select file, list(sha256 order by arrival)[-2:] as last_two from raw.files group by file having count(*) > 1"
    )
    last_two = dict(zip(came_again["file"], came_again["last_two"], strict=True))
    return [_changed(f, _differing_rows(warehouse, *last_two[f])) for f in sorted(arrived) if f in last_two]


def _differing_rows(warehouse: Warehouse, before: str, after: str) -> pd.DataFrame:
    """Rows at whose number another text stands; columns sheet, row_number, before, after (JSON of the cells)."""
    return warehouse.read(
        """with old as (select coalesce(sheet, '') as sheet, row_number, cells from raw.rows where sha256 = ?),
        new as (select coalesce(sheet, '') as sheet, row_number, cells from raw.rows where sha256 = ?)
        select sheet, row_number, cast(old.cells as varchar) as before, cast(new.cells as varchar) as after
        from old full join new using (sheet, row_number)
        where cast(old.cells as varchar) is distinct from cast(new.cells as varchar) order by sheet, row_number""",
        [before, after],
    )


def _changed(file: str, rows: pd.DataFrame) -> ChangedFile:
    n_before, n_after = Counter(rows["before"].dropna()), Counter(rows["after"].dropna())
    moved = n_before & n_after  # the same row at another number
    is_old, is_new = _left(rows["before"], moved), _left(rows["after"], moved)
    pairs = rows[[a and b for a, b in zip(is_old, is_new, strict=True)]]
    cells, new_headings, lost_headings = [], {}, {}
    for row in pairs.itertuples():
        before, after = json.loads(row.before), json.loads(row.after)
        new_headings |= dict.fromkeys(set(after) - set(before))
        lost_headings |= dict.fromkeys(set(before) - set(after))
        cells += [
            ChangedCell(row.sheet or None, int(row.row_number), heading, before[heading], after[heading])
            for heading in before
            if heading in after and before[heading] != after[heading]
        ]
    return ChangedFile(
        file,
        tuple(cells),
        sum(is_new) - len(pairs),
        sum(is_old) - len(pairs),
        tuple(sorted(new_headings)),
        tuple(sorted(lost_headings)),
    )


def _left(texts: pd.Series, moved: Counter) -> list[bool]:
    """Which rows are there and did not only move."""
    to_go = Counter(moved)
    left = []
    for text in texts:
        left.append(pd.notna(text) and not to_go[text])
        to_go[text] -= bool(to_go[text])
    return left


def changed_beside(before: str, now: str) -> list[str]:
    """program.yml and the files beside the deliveries that are new, gone or other than in the last run.

    Args:
        before, now: the deciding texts of both runs; nothing is told where none are known of the last one.
    """
    old, new = json.loads(before), json.loads(now)
    if not old:
        return []
    told = [f"{name} is new" for name in sorted(set(new) - set(old))]
    told += [f"{name} is gone" for name in sorted(set(old) - set(new))]
    return told + [f"{name} is changed" for name in sorted(set(old) & set(new)) if old[name] != new[name]]
