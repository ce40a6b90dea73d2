"""A sender's own words: headings.yml says what their sheets, headings and codes are called here.

    tables:   {Plot data: plots}                  their sheet or file name -> our table
    headings: {plots: {Wt (lbs): harvest_weight_lb}}
    words:    {treatments: {n_source: {50 % coated: coated blend}}}

It lies in the sender's folder and speaks for every file in it. raw keeps all as it came. Which table a
sheet holds and what its headings mean is decided here alone, for the reader and for staging; staging translates the words.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field, replace
from pathlib import Path

from pipeline.contract.tables import declared_tables
from pipeline.errors import one_of
from pipeline.incoming.sheet import Sheet, table_name, tidy_heading
from pipeline.settings.file import Section, read_settings

FILE_NAME = "headings.yml"


@dataclass(frozen=True)
class SendersWords:
    """tables: tidy name -> ours. headings: (our table, tidy heading) -> ours. words: (table, column, their word) -> ours."""

    tables: dict[str, str] = field(default_factory=dict)
    headings: dict[tuple[str, str], str] = field(default_factory=dict)
    words: dict[tuple[str, str, str], str] = field(default_factory=dict)

    def table(self, name: str) -> str:
        return self.tables.get(name, name)

    def heading(self, table: str, theirs: str) -> str:
        """Our heading for a tidy one in a sheet that holds a table of ours."""
        return self.headings.get((table, theirs), theirs)

    def has_words_for(self, table: str) -> bool:
        return any(of == table for of, _, _ in self.words)

    def any_headings(self, headings: list[str]) -> list[str]:
        """Tidy headings in our words, of whichever table; enough to tell a row of headings from others."""
        ours = {theirs: heading for (_, theirs), heading in self.headings.items()}
        return [ours.get(heading, heading) for heading in headings]

    def translate(self, sheet: Sheet) -> Sheet:
        """The sheet under our table name and our headings; its cells, rows and verbatim headings untouched."""
        table = self.table(sheet.table)
        ours = {heading: self.heading(table, heading) for heading in sheet.headings}
        notes = [replace(note, column=ours.get(note.column, note.column)) for note in sheet.notes]
        columns = {ours[heading]: cells for heading, cells in sheet.columns.items()}
        return replace(sheet, table=table, headings=[ours[h] for h in sheet.headings], columns=columns, notes=notes)


def read_senders_words(folder: Path, program_folder: Path) -> SendersWords:
    """The folder's headings.yml, empty where there is none; UserError names the line of a mistake."""
    path = folder / FILE_NAME
    if not path.is_file():
        return SendersWords()
    file = read_settings(path, name=path.relative_to(program_folder).as_posix())
    tables = dict(_tables(file.take_section("tables", None)))
    headings = dict(_headings(file.take_section("headings", None)))
    words = dict(_words(file.take_section("words", None)))
    file.done()
    return SendersWords(tables, headings, words)


def _tables(section: Section | None) -> Iterable[tuple[str, str]]:
    for theirs, _ in section.take_each() if section else ():
        yield table_name(theirs), section.take(theirs, _known_table)


def _headings(section: Section | None) -> Iterable[tuple[tuple[str, str], str]]:
    for table, part in _by_table(section):
        known = declared_tables()[table]
        for theirs, _ in part.take_each():
            ours = part.take(theirs, str)
            if not known.knows(ours):
                raise part.error(f'"{ours}" is no heading of {table}: {one_of(known.known_headings, ours)}')
            yield (table, tidy_heading(theirs)), ours


def _words(section: Section | None) -> Iterable[tuple[tuple[str, str, str], str]]:
    for table, part in _by_table(section):
        known = declared_tables()[table]
        for column, _ in part.take_each():
            if not known.knows(column):
                raise part.error(f'"{column}" is no heading of {table}: {one_of(known.known_headings, column)}')
            pairs = part.take_section(column)
            for theirs, _ in pairs.take_each():
                yield (table, column, theirs), pairs.take(theirs, str)


def _by_table(section: Section | None) -> Iterable[tuple[str, Section]]:
    for table, node in section.take_each() if section else ():
        if table not in declared_tables():
            raise section.error(f'"{table}" is no table of ours: {one_of(list(declared_tables()), table)}', node)
        yield table, section.take_section(table)


def _known_table(text: str) -> str:
    if text not in declared_tables():
        raise ValueError(one_of(list(declared_tables()), text))
    return text
