"""A sender's own words: headings.yml says what their sheets, headings and codes are called here.

    tables:       {Plot data: plots, Photos: none}    their sheet or file name -> our table, or none
    headings:     {plots: {Wt (lbs): harvest_weight_lb}}
    same_for_all: {plots: {trial_id: "{sheet}", outcome: harvested}}
    wide:         {plots: {Rep 1: {block: 1, holds: yield_bu_ac}}}
    words:        {treatments: {n_source: {50 % coated: coated blend}}}
    read_as:      {harvest.csv: [semicolons, decimal commas, month first]}

It lies in the sender's folder and speaks for every file in it. raw keeps all as it came. Which table a
sheet holds and what its headings mean is decided here alone, for the reader and for staging; staging translates the
words.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field
from pathlib import Path

from pipeline.contract.dates import DAY_FIRST, MONTH_FIRST
from pipeline.contract.tables import Table, declared_tables
from pipeline.errors import one_of
from pipeline.incoming.sheet import table_name, tidy_heading
from pipeline.settings.file import Section, filled, read_settings, word_of

FILE_NAME = "headings.yml"
NO_TABLE = "none"
HOLDS = "holds"
DECIMAL_COMMAS, WINDOWS, UTF16 = "decimal commas", "Windows-1252", "UTF-16"
READINGS = ("semicolons", "tabs", "vertical bars", DECIMAL_COMMAS, WINDOWS, UTF16)
DATE_ORDERS = (MONTH_FIRST, DAY_FIRST)


@dataclass(frozen=True)
class WideColumn:
    """A column whose cells are each of another plot. holds: our heading for the cells; same: our heading -> text, the
    same in all of them.
    """

    holds: str
    same: tuple[tuple[str, str], ...]


@dataclass(frozen=True)
class SendersWords:
    """What headings.yml says.

    tables: tidy name -> ours, or NO_TABLE. headings: (our table, tidy heading) -> ours.
    words: (table, column, their word) -> ours. same_for_all: (our table, or tidy name of a sheet or file, our heading)
    -> text, which may name other cells in braces. read_as: file name -> READINGS that were confirmed, and
    the DATE_ORDERS of its dates. wide: (our table, tidy heading) -> what its cells are.
    """

    tables: dict[str, str] = field(default_factory=dict)
    headings: dict[tuple[str, str], str] = field(default_factory=dict)
    words: dict[tuple[str, str, str], str] = field(default_factory=dict)
    same_for_all: dict[tuple[str, str], str] = field(default_factory=dict)
    wide: dict[tuple[str, str], WideColumn] = field(default_factory=dict)
    read_as: dict[str, tuple[str, ...]] = field(default_factory=dict)

    def table(self, name: str) -> str:
        return self.tables.get(name, name)

    def heading(self, table: str, theirs: str) -> str:
        """Our heading for one in a sheet that holds a table of ours; raw may have it as an earlier version tidied
        it.
        """
        tidy = tidy_heading(theirs)
        if (table, tidy) in self.headings or table not in declared_tables():
            return self.headings.get((table, tidy), tidy)
        return declared_tables()[table].current(tidy)

    def has_words_for(self, table: str) -> bool:
        return any(of == table for of, _, _ in self.words)

    def given_for_all(self, table: str, *names: str) -> dict[str, str]:
        """Our heading -> text, of what a table's sheets have beside their columns; what is said of a sheet or file by
        its tidy name goes first.
        """
        of_table, of_names = (
            {heading: text for (of, heading), text in self.same_for_all.items() if of in kept}
            for kept in ((table,), names)
        )
        return of_table | of_names

    def says_heading(self, tidy: str) -> bool:
        """Whether a heading of whichever table is named here."""
        return any(heading == tidy for _, heading in (*self.headings, *self.wide))

    def fit(self, headings: list[str]) -> bool:
        """Do these tidy headings, with what is said here of them, give every required column of some table?"""
        called = {name: [n for n, table in self.tables.items() if table == name] for name in declared_tables()}
        return any(not t.lacking(self.ours(name, headings, *called[name])) for name, t in declared_tables().items())

    def ours(self, table: str, headings: list[str], *names: str) -> list[str]:
        """All of our headings that a sheet or file of one of these tidy names, with these tidy headings, gives a
        table.
        """
        found = [self.heading(table, heading) for heading in headings if (table, heading) not in self.wide]
        spread = [self.wide[table, heading] for heading in headings if (table, heading) in self.wide]
        for column in spread:
            found += [column.holds, *(heading for heading, _ in column.same)]
        return found + list(self.given_for_all(table, *names)) + (["plot"] if spread else [])


def read_senders_words(folder: Path, program_folder: Path) -> SendersWords:
    """The folder's headings.yml, empty where there is none; UserError names the line of a mistake."""
    path = folder / FILE_NAME
    if not path.is_file():
        return SendersWords()
    file = read_settings(path, name=path.relative_to(program_folder).as_posix())
    tables = dict(_tables(file.take_section("tables", None)))
    found = SendersWords(
        tables=tables,
        headings=dict(_headings(file.take_section("headings", None))),
        words=dict(_words(file.take_section("words", None))),
        same_for_all=dict(_same_for_all(file.take_section("same_for_all", None), tables)),
        wide=dict(_wide(file.take_section("wide", None))),
        read_as=dict(_read_as(file.take_section("read_as", None))),
    )
    file.done()
    return found


def _tables(section: Section | None) -> Iterable[tuple[str, str]]:
    for theirs, _ in section.take_each() if section else ():
        yield table_name(theirs), section.take(theirs, _known_table)


def _headings(section: Section | None) -> Iterable[tuple[tuple[str, str], str]]:
    for table, part in _by_table(section):
        for theirs, _ in part.take_each():
            yield (table.name, tidy_heading(theirs)), known_heading(part, table, part.take(theirs, str))


def _same_for_all(section: Section | None, tables: dict[str, str]) -> Iterable[tuple[tuple[str, str], str]]:
    """Said of a table of ours, or of a sheet or file that `tables` names."""
    for name, node in section.take_each() if section else ():
        table = declared_tables().get(name) or declared_tables().get(tables.get(table_name(name), ""))
        if table is None:
            known = one_of([*declared_tables(), *tables], name)
            raise section.error(f'"{name}" is no table of ours, nor a sheet or file that "tables" names: {known}', node)
        part = section.take_section(name)
        for said, _ in part.take_each():
            ours = known_heading(part, table, said)
            yield (name if name in declared_tables() else table_name(name), ours), part.take(said, filled)


def _wide(section: Section | None) -> Iterable[tuple[tuple[str, str], WideColumn]]:
    for table, part in _by_table(section):
        for theirs, _ in part.take_each():
            entry = part.take_section(theirs)
            holds = known_heading(entry, table, entry.take(HOLDS, str))
            others = [said for said, _ in entry.take_each() if said != HOLDS]
            same = tuple((known_heading(entry, table, said), entry.take(said, filled)) for said in others)
            yield (table.name, tidy_heading(theirs)), WideColumn(holds, same)


def _read_as(section: Section | None) -> Iterable[tuple[str, tuple[str, ...]]]:
    for name, _ in section.take_each() if section else ():
        yield name, section.take_list(name, word_of(*READINGS, *DATE_ORDERS))


def _words(section: Section | None) -> Iterable[tuple[tuple[str, str, str], str]]:
    for table, part in _by_table(section):
        for said, _ in part.take_each():
            column = known_heading(part, table, said)
            pairs = part.take_section(said)
            for theirs, _ in pairs.take_each():
                yield (table.name, column, theirs), pairs.take(theirs, str)


def _by_table(section: Section | None) -> Iterable[tuple[Table, Section]]:
    for table, node in section.take_each() if section else ():
        if table not in declared_tables():
            raise section.error(f'"{table}" is no table of ours: {one_of(list(declared_tables()), table)}', node)
        yield declared_tables()[table], section.take_section(table)


def known_heading(section: Section, table: Table, said: str) -> str:
    """Our heading, as it is called today."""
    ours = table.current(said)
    if not table.knows(ours):
        raise section.error(f'"{said}" is no heading of {table.name}: {one_of(table.known_headings, said)}')
    return ours


def _known_table(text: str) -> str:
    known = [*declared_tables(), NO_TABLE]
    if text not in known:
        raise ValueError(one_of(known, text))
    return text
