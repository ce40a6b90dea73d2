"""What keeps a delivered sheet from being a table of ours, and the lines of headings.yml that would mend it."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from difflib import get_close_matches

from pipeline.contract.tables import Column, Table, declared_tables
from pipeline.errors import MOST_LISTED, one_of
from pipeline.incoming.as_ours import Part, parts_of
from pipeline.incoming.heading_rows import MOISTURE_STATED, STATES_MOISTURE
from pipeline.incoming.headings import NO_TABLE, SendersWords
from pipeline.incoming.proposals import Proposal, quoted
from pipeline.incoming.sheet import NotRead, Sheet, shorten
from pipeline.incoming.usual_headings import (
    ALSO_HEADED,
    APPLIED_BY_UNIT,
    BLOCK,
    MEASURED_BY_UNIT,
    PICK,
    bare_heading,
)
from pipeline.incoming.wide_sheets import is_unit_untold, layout_said, wide_entries

_FEWEST_MEANT = 2
_OF_EVERY_ROW = ("trial_id", "season", "site_id", "crop", "outcome", "design", "place", "counts_toward", "passes")
MOISTURE_HEADING = "yield_moisture_pct"
_USUAL = {"outcome": "harvested", "counts_toward": "treatment"}


_MEND_BEGINS = "To fix it there, put into"


def mended_once(told: Sequence[str]) -> list[str]:
    """What is told of several files, with the lines for the headings.yml of a folder only after its last file."""
    parts = [text.partition(f"\n  {_MEND_BEGINS}") for text in told]
    later = [[mend for _, _, mend in parts[position + 1 :]] for position in range(len(parts))]
    return [
        problems if mend in after else f"{problems}{begins}{mend}"
        for (problems, begins, mend), after in zip(parts, later, strict=True)
    ]


class Misfits(NotRead):
    """A file that is no table of ours as it stands: each problem, what headings.yml could say, and its rows as far as
    they can be counted.
    """

    def __init__(self, file: str, folder: str, problems: list[str], proposal: Proposal, n_rows: int) -> None:
        self.file, self.folder, self.problems, self.proposal = file, folder, problems, proposal
        super().__init__(self.told(proposal), n_rows)

    def told(self, proposal: Proposal) -> str:
        """All of it, with what headings.yml could say of this file, or of all files of its folder."""
        lines = "\n    ".join(proposal.lines())
        mend = f"{_MEND_BEGINS} {self.folder}/headings.yml, after a look at each line:\n    {lines}"
        return f"{self.file}: " + "\n  ".join([*self.problems, *([mend] if lines else [])])


def check_fit(sheets: list[Sheet], words: SendersWords, *, file: str, folder: str, season: int) -> None:
    """Raises Misfits where a sheet is no table of ours, or lacks a column; names every problem of every sheet."""
    problems, proposal = [], Proposal()
    names = [_table_of(sheet, words) for sheet in sheets]
    for sheet, name in zip(sheets, names, strict=True):
        problems += _of_sheet(sheet, words, file, folder, season, proposal, name, names.count(name) > 1)
    if problems:
        raise Misfits(file, folder, problems, proposal, sum(sheet.n_filled_rows for sheet in sheets))


def _table_of(sheet: Sheet, words: SendersWords) -> str | None:
    """The table that a sheet is named for, or else the one that its headings speak for."""
    name = words.table(sheet.table)
    return name if name == NO_TABLE or name in declared_tables() else _table_guess(sheet, words)


def _of_sheet(
    sheet: Sheet,
    words: SendersWords,
    file: str,
    folder: str,
    season: int,
    proposal: Proposal,
    name: str | None,
    several: bool,
) -> Iterable[str]:
    if name == NO_TABLE:
        return
    where = f'sheet "{sheet.sheet}": ' if sheet.sheet else ""
    if words.table(sheet.table) not in declared_tables():
        kind = "sheet" if sheet.sheet else "file"
        theirs = sheet.sheet or sheet.table
        proposal.add("tables", "", theirs, name or _none_or_untold(sheet, words))
        looks = f"; by its headings it may be {name}" if name else ""
        yield (
            f'{where}"{sheet.table}" is no table of ours ({one_of(list(declared_tables()), sheet.table)}{looks}); name'
            f" the {kind} for what it holds, or put into {folder}/headings.yml: tables: {{{quoted(theirs)}: <our"
            " table>}, or none where it holds no table"
        )
        if name is None:
            return
    for part in _parts(sheet, words, file, name):
        for problem in part.problems:
            yield f"{where}{problem}"
        for doubled in _doubled(part):
            yield f"{where}{doubled} Delete one column, or change what {folder}/headings.yml says of it."
    yield from _moisture_untold(sheet, words, where, name, folder, proposal)
    yield from _lacking(sheet, words, where, name, folder, season, proposal, several)


def _moisture_untold(
    sheet: Sheet, words: SendersWords, where: str, name: str, folder: str, proposal: Proposal
) -> Iterable[str]:
    """A heading or unit may state the moisture of a yield ("bu/ac @ 13%"); unread, the yield would be taken at the
    standard.
    """
    stated = [note.found for note in sheet.notes if note.what == STATES_MOISTURE]
    stated += [found[1] for typed in sheet.verbatim_headings if typed and (found := MOISTURE_STATED.search(typed))]
    if name != "plots" or not stated or MOISTURE_HEADING in words.ours(name, sheet.headings, sheet.table):
        return
    proposal.add("same_for_all", name, MOISTURE_HEADING, stated[0])
    yield (
        f"{where}a heading says that the yield is stated at {stated[0]}% moisture, and no column does; put into "
        f"{folder}/headings.yml: same_for_all: {{{name}: {{{MOISTURE_HEADING}: {stated[0]}}}}}"
    )


def _parts(sheet: Sheet, words: SendersWords, file: str, name: str) -> list[Part]:
    return parts_of(
        words, file=file, sheet=sheet.sheet, table=name, headings=sheet.headings, verbatim=sheet.verbatim_headings
    )


def _doubled(part: Part) -> Iterable[str]:
    """Where two columns have one heading here only one of them would be read."""
    typed: dict[str, list[str]] = {}
    for each in part.headings:
        typed.setdefault(each.heading, []).append(f'"{each.verbatim}"')
    for heading, names in typed.items():
        if heading and len(names) > 1:
            yield f"the columns {' and '.join(names)} {'both' if len(names) == 2 else 'all'} mean {heading}."


def _lacking(
    sheet: Sheet,
    words: SendersWords,
    where: str,
    name: str,
    folder: str,
    season: int,
    proposal: Proposal,
    several: bool,
) -> Iterable[str]:
    table = declared_tables()[name]
    lacks = table.lacking(words.ours(name, sheet.headings, sheet.table))
    if not lacks:
        return
    unknown = _unknown(sheet, words, table)
    in_ours = Sheet(**{**sheet.__dict__, "table": name})
    entries = wide_entries(in_ours, unknown, {column.name for column in lacks})
    given = {heading for entry in entries.values() for heading in entry}
    if entries:
        unit = " (or another heading of ours, if the cells are not bushels per acre)" if is_unit_untold(entries) else ""
        yield f"{where}{layout_said(entries)}. A wide entry in {folder}/headings.yml reads each cell as a plot{unit}."
        for typed, entry in entries.items():
            proposal.add("wide", name, typed, f"{{{', '.join(f'{k}: {quoted(v)}' for k, v in entry.items())}}}")
        unknown = [(tidy, typed) for tidy, typed in unknown if typed not in entries]
    for ours, typed in _measured(table, unknown):
        if len(typed) == 1 and not PICK.search(typed[0]):
            proposal.add("headings", name, typed[0], ours)
        else:
            yield f"{where}{_in_doubt(ours, typed, folder, name)}"
    for column in lacks:
        if column.name in given or (entries and column.name == "plot"):
            continue
        wanted = " or ".join(column.unit_of_heading)
        yield (
            f"{where}lacks the column {wanted}"
            f" ({column.meaning}){_near(table, sheet, column, unknown, folder, season, proposal, several)}"
        )


def _unknown(sheet: Sheet, words: SendersWords, table: Table) -> list[tuple[str, str]]:
    return [
        (tidy, verbatim)
        for tidy, verbatim in zip(sheet.headings, sheet.verbatim_headings, strict=True)
        if tidy and (table.name, tidy) not in words.wide and not table.knows(words.heading(table.name, tidy))
    ]


def _near(
    table: Table,
    sheet: Sheet,
    column: Column,
    unknown: list[tuple[str, str]],
    folder: str,
    season: int,
    proposal: Proposal,
    several: bool,
) -> str:
    """How to mend it, with the line to paste; the line is added to the proposal too."""
    first = next(iter(column.unit_of_heading))
    meant = _meant(column, unknown)
    if meant is None and column.name in _OF_EVERY_ROW:
        text = _constant(column, sheet, season, several)
        proposal.add("same_for_all", table.name, first, text)
        also = f" (or rename the heading if one of these is it: {_listed(unknown)})" if unknown else ""
        return (
            f"; if it is the same in every row, put into {folder}/headings.yml: same_for_all: {{{table.name}:"
            f" {{{first}: {text}}}}}{also}"
        )
    if meant is None and column.name == "plot":
        proposal.add("same_for_all", table.name, first, '"row {row}"')
        return (
            f'; if plots have no number, put into {folder}/headings.yml: same_for_all: {{{table.name}: {{plot: "row'
            ' {row}"}}, and each is called by its row'
        )
    if not unknown:
        return ""
    near = meant or "<their heading>"
    if meant:
        proposal.add("headings", table.name, near, first)
    return (
        f"; rename the heading if one of these is it: {_listed(unknown)}; or put into {folder}/headings.yml: "
        f"headings: {{{table.name}: {{{quoted(near)}: {first}}}}}"
    )


def _listed(unknown: list[tuple[str, str]]) -> str:
    named = ", ".join(shorten(typed) for _, typed in unknown[:MOST_LISTED])
    return named if len(unknown) <= MOST_LISTED else f"{named} and {len(unknown) - MOST_LISTED} more"


def _meant(column: Column, unknown: list[tuple[str, str]]) -> str | None:
    """The unknown heading that may stand for a column, by the words of the trade or by likeness."""
    bare = {bare_heading(tidy): typed for tidy, typed in unknown}
    for word in (column.name, *ALSO_HEADED.get(column.name, ())):
        if word in bare:
            return bare[word]
    near = get_close_matches(column.name, list(bare), n=1, cutoff=0.6)
    return bare[near[0]] if near else None


def _constant(column: Column, sheet: Sheet, season: int, several: bool) -> str:
    if column.name == "trial_id" and several and sheet.sheet:
        return '"{sheet}"'
    crop = next(
        (typed for tidy, typed in zip(sheet.headings, sheet.verbatim_headings, strict=True) if tidy == "crop"), None
    )
    if column.name == "trial_id" and crop and len(set(sheet.columns["crop"]) - {None}) > 1:
        return f'"<trial>-{{{crop}}}"'
    if column.name == "season":
        return str(season)
    return _USUAL.get(column.name, f"<{column.name}>")


def _measured(table: Table, unknown: list[tuple[str, str]]) -> Iterable[tuple[str, list[str]]]:
    """Ours for what a table has beside its required columns, with their headings that may hold it, told by the unit."""
    shapes = (
        MEASURED_BY_UNIT if table.name == "plots" else APPLIED_BY_UNIT if table.name == "nitrogen_applications" else ()
    )
    for ours, shape in shapes:
        found = [typed for _, typed in unknown if shape.search(typed)]
        if found:
            yield ours, found


def _in_doubt(ours: str, typed: list[str], folder: str, name: str) -> str:
    """Of several weights, or the weight of one pick, none is proposed: taken as the plot's it would be wrong unseen."""
    named = " or ".join(f'"{shorten(each)}"' for each in typed)
    picks = ""
    if any(PICK.search(each) for each in typed):
        picks = " Deliver picks in the table harvests, a row per plot and pick, or add them up in one column."
    return (
        f"{named} may be {ours}: if one holds it for the whole plot, put into {folder}/headings.yml:"
        f" headings: {{{name}: {{<their heading>: {ours}}}}}.{picks}"
    )


def _none_or_untold(sheet: Sheet, words: SendersWords) -> str:
    return "<our table>" if any(_scores(sheet, words).values()) else NO_TABLE


def _table_guess(sheet: Sheet, words: SendersWords) -> str | None:
    """The table that most of a strange sheet's headings may belong to; None where fewer than two do."""
    scores = _scores(sheet, words)
    best = max(scores, key=lambda name: scores[name])
    return best if scores[best] >= _FEWEST_MEANT and list(scores.values()).count(scores[best]) == 1 else None


def _scores(sheet: Sheet, words: SendersWords) -> dict[str, int]:
    """How many required columns of each table the headings may stand for; plots side by side are a block's."""
    unknown = [(tidy, tidy) for tidy in sheet.headings]
    scores = {
        name: sum(
            _stands_for(column, unknown, words.ours(name, sheet.headings, sheet.table))
            for column in table.plain_columns
            if column.required
        )
        for name, table in declared_tables().items()
    }
    side_by_side = sum(BLOCK.search(typed) is not None for typed in sheet.verbatim_headings if typed)
    return scores | {"plots": scores["plots"] + min(side_by_side, 2)}


def _stands_for(column: Column, unknown: list[tuple[str, str]], ours: list[str]) -> bool:
    return _meant(column, unknown) is not None or bool(set(column.unit_of_heading) & set(ours))
