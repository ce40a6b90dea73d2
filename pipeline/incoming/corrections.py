"""corrections.yml of a season folder: reviewed changes, each guarded by the value it expects to find.

    - table: plots
      where: {trial_id: 2094-SP-corn, plot: 104}
      change: {harvest_weight_lb: {old: 42.6, new: 46.2}}
      cause: scale print misread
      who: analyst 2
      date: 2094-12-01
      treatment_known: no

`where` names cells by their delivered text; it may pick many rows. `move: {harvest_weight_lb: harvest_weight_kg}` puts
what stands under one heading under another. Nothing is edited in raw: staging applies a change only while the old
value is still there.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace
from datetime import date
from pathlib import Path

import yaml

from pipeline.contract.checks import EXPECTED_OF_TYPE
from pipeline.contract.staging import is_readable
from pipeline.contract.tables import Column, declared_tables
from pipeline.errors import UserError
from pipeline.incoming.headings import known_heading
from pipeline.settings.file import Section, composed, day, word_of

FILE_NAME = "corrections.yml"


@dataclass(frozen=True)
class Correction:
    """One reviewed change. change: heading -> (old, new), '' for empty; move: heading -> heading."""

    file: str
    line: int
    season: int
    table: str
    where: dict[str, str]
    change: dict[str, tuple[str, str]]
    move: dict[str, str]
    cause: str
    who: str
    date: date
    treatment_known: bool


def read_corrections(season_folder: Path, program_folder: Path) -> list[Correction]:
    """A season's corrections, none where there is no file; UserError names the line of a mistake."""
    path = season_folder / FILE_NAME
    if not path.is_file():
        return []
    name = path.relative_to(program_folder).as_posix()
    node = composed(path, name=name)
    if node is None:
        return []
    if not isinstance(node, yaml.SequenceNode) or not all(isinstance(n, yaml.MappingNode) for n in node.value):
        raise UserError(f'{name}: must be a list of corrections, each beginning with "- table:"')
    sections = [Section(item, name, "a correction") for item in node.value]
    corrections = [_correction(section, int(season_folder.name)) for section in sections]
    _each_cell_once(sections, corrections)
    return corrections


def _each_cell_once(sections: list[Section], corrections: list[Correction]) -> None:
    """Two entries that find the same value in the same cell cannot both be meant."""
    seen: dict[tuple, int] = {}
    for section, each in zip(sections, corrections, strict=True):
        for heading, (old, _) in each.change.items():
            cell = (each.table, *sorted(each.where.items()), heading, old.strip())
            if cell in seen:
                of = ", ".join(f"{name} {text}" for name, text in each.where.items())
                raise section.error(f"{heading} of {of} is changed in line {seen[cell]} too; keep one")
            seen[cell] = each.line


def _correction(section: Section, season: int) -> Correction:
    table = section.take("table", word_of(*declared_tables()))
    known = declared_tables()[table]
    correction = Correction(
        file=section.file,
        line=section.line,
        season=season,
        table=table,
        where=dict(_texts(section.take_section("where"), known)),
        change=dict(_changes(section.take_section("change", None), known)),
        move=dict(_texts(section.take_section("move", None), known)),
        cause=section.take("cause", _filled),
        who=section.take("who", _filled),
        date=section.take("date", day),
        treatment_known=section.take("treatment_known", word_of("yes", "no")) == "yes",
    )
    section.done()
    _check_day(section, correction)
    if not correction.where:
        raise section.error('"where" is empty: it would change every row')
    if not correction.change and not correction.move:
        raise section.error("neither change nor move: say what becomes of which column")
    return replace(correction, move={old: known_heading(section, known, new) for old, new in correction.move.items()})


def _changes(section: Section | None, table) -> Iterable[tuple[str, tuple[str, str]]]:
    for heading, _ in section.take_each() if section else ():
        ours = known_heading(section, table, heading)
        pair = section.take_section(heading)
        old, new = pair.take("old", str), pair.take("new", str)
        pair.done()
        _check_change(pair, table.column_under(ours), heading, old, new)
        yield ours, (old, new)


def _check_change(pair: Section, column: Column, heading: str, old: str, new: str) -> None:
    if old.strip() == new.strip():
        raise pair.error(f'{heading} is "{old}" before and after: write what it should be, or remove the entry')
    if not is_readable(column, new):
        expected, mend = EXPECTED_OF_TYPE[column.type]
        raise pair.error(f'the new {heading} is "{new}"; expected {expected}: {mend}')


def _check_day(section: Section, correction: Correction) -> None:
    """Invented seasons lie in the future, so a correction may be made until the end of the year after its season."""
    latest = max(date.today(), date(correction.season + 1, 12, 31))
    if correction.date > latest:
        raise section.error(f'"date" is {correction.date}, which is still to come: write the day of the review')


def _texts(section: Section | None, table) -> Iterable[tuple[str, str]]:
    for heading, _ in section.take_each() if section else ():
        yield known_heading(section, table, heading), section.take(heading, str)


def _filled(text: str) -> str:
    if not text.strip():
        raise ValueError("some words")
    return text
