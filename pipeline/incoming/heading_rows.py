"""Which row of a sheet holds the headings: below a title, and perhaps above a row of units.

The first row that gives every required column of a table counts as headings; where none does, the one with most
headings that are known, or else the first filled row. Its misfits are told later, with their row number.
"""

from __future__ import annotations

import re
from dataclasses import dataclass, field
from itertools import pairwise, zip_longest

from pipeline.contract.tables import declared_tables
from pipeline.contract.units import UNITS
from pipeline.incoming.headings import SendersWords
from pipeline.incoming.rows_above import ROWS_COMPARED, Row, problems_above, title_note
from pipeline.incoming.sheet import Note, column_letter, tidy_heading
from pipeline.incoming.usual_headings import ALSO_HEADED, BLOCK, MEASURED, bare_heading

ROWS_SEARCHED = 20
STATES_MOISTURE = "states_moisture"
_FEWEST_KNOWN = 2
_KNOWN = {name for column, names in ALSO_HEADED.items() for name in (column, *names)} | set(MEASURED)
_SUFFIXES = sorted({*UNITS, "bu_ac"} - {"rain_in", "pct_to_fraction"}, key=len, reverse=True)
_OTHER_SPELLINGS = {
    "%": "pct", "percent": "pct", "lbs": "lb", "pounds": "lb", "inch": "in", "inches": "in", "feet": "ft",
    "lb_a": "lb_ac", "lbs_ac": "lb_ac", "lb_acre": "lb_ac", "lbs_acre": "lb_ac", "bu_a": "bu_ac", "bu_acre": "bu_ac",
    "lbs_bu": "lb_bu", "plants_acre": "plants_ac", "°f": "f", "deg_f": "f", "°c": "c", "deg_c": "c", "mg_ha": "t_ha",
}  # fmt: skip
# "bu/ac @ 13%": the moisture a yield is stated at
MOISTURE_STATED = re.compile(r"\s*(?:@|\bat\b)\s*(\d+(?:\.\d+)?)\s*(?:%|pct|percent)[^()\]]*", re.IGNORECASE)
_NOT_A_UNIT = {"-", "--", "n/a", "na", "none", "#", "no.", "code", "text", "word", "date", "yyyy-mm-dd", "yes/no"}


@dataclass(frozen=True)
class Headings:
    """The headings as typed, by position; `last_row` is the last row that is theirs (the units, if there are any)."""

    row: int
    last_row: int
    verbatim: list[str | None]
    notes: list[Note] = field(default_factory=list)
    problems: list[str] = field(default_factory=list)


def find_headings(rows: list[Row], words: SendersWords = SendersWords()) -> Headings:
    """The headings among a sheet's first filled rows (number and cells of each, at least one row); None where a cell
    shows nothing.
    """
    rows = [
        (number, [cell if cell and tidy_heading(cell) else None for cell in cells])
        for number, cells in rows[:ROWS_COMPARED]
    ]
    candidates = [_candidate(rows, i, words) for i in range(min(len(rows), ROWS_SEARCHED))]
    known = [_tidied(candidate.verbatim) for candidate in candidates]
    found = next((i for i, headings in enumerate(known) if words.fit(headings)), None)
    if found is None:
        pairs = [_in_two_rows(*pair) for pair in pairwise(rows[:ROWS_SEARCHED])]
        found = next((i for i, both in enumerate(pairs) if words.fit(_tidied(both.verbatim))), None)
        candidates = candidates if found is None else pairs
    if found is None:
        return _below_many_rows(rows, words) or _most_known(rows, candidates, known, words)
    headings = _below_titles(candidates[found], rows[:found])
    headings.problems.extend(_problems_above(rows, found, headings))
    return headings


def _below_titles(headings: Headings, titles: list[Row]) -> Headings:
    headings.notes[:0] = [title_note(row) for row in titles]
    return headings


def _problems_above(rows: list[Row], found: int, headings: Headings) -> list[str]:
    beneath = [row for row in rows[found:] if row[0] > headings.last_row]
    return problems_above(rows[:found], headings.row, headings.verbatim, beneath)


def _below_many_rows(rows: list[Row], words: SendersWords) -> Headings | None:
    """Headings further down than titles go, where rows above them may be data: as at the end of a sorted sheet."""
    for i in range(ROWS_SEARCHED, len(rows)):
        headings = Headings(rows[i][0], *rows[i])
        if words.fit(_tidied(headings.verbatim)):
            headings.problems.extend(_problems_above(rows, i, headings))
            return headings if headings.problems else None
    return None


def _most_known(rows: list[Row], candidates: list[Headings], known: list[list[str]], words: SendersWords) -> Headings:
    """Where no row fits a table: the row with most headings that are known, or else the first."""
    scores = [sum(_is_known(heading, words) for heading in headings) for headings in known]
    if max(scores) < _FEWEST_KNOWN:
        number, cells = rows[0]
        return Headings(number, number, cells)
    best = scores.index(max(scores))
    return _below_titles(candidates[best], rows[:best])


def _candidate(rows: list[Row], i: int, words: SendersWords) -> Headings:
    """Row i as headings, with the row beneath it where that holds units."""
    number, cells = rows[i]
    units = _units(rows[i + 1][1]) if i + 1 < len(rows) else None
    return Headings(number, number, cells) if units is None else _joined(number, cells, *rows[i + 1], units, words)


def _in_two_rows(upper: Row, lower: Row) -> Headings:
    """Headings of which some stand a row lower, as under a word for several columns."""
    (row, above), (last, below) = upper, lower
    cells = [b if b is not None else a for a, b in zip_longest(above, below)]
    found = " | ".join(cell for cell in above if cell is not None)
    sentence = "The headings stand in two rows; where both have one, the lower is read."
    return Headings(row, last, cells, [Note(row, None, found, "headings_in_two_rows", sentence)])


def _tidied(cells: list[str | None]) -> list[str]:
    return [tidy_heading(cell) for cell in cells if cell is not None]


def _is_known(heading: str, words: SendersWords) -> bool:
    bare = bare_heading(heading)
    if bare in _KNOWN or BLOCK.search(heading):
        return True
    return words.says_heading(heading) or any(t.knows(t.current(heading)) for t in declared_tables().values())


def _units(cells: list[str | None]) -> dict[int, str] | None:
    """Unit by position, as our headings end in it; None where the row holds anything but units."""
    units = {}
    for position, cell in enumerate(cells):
        text = (cell or "").strip().lower()
        bare = MOISTURE_STATED.sub("", text).strip("()[] ")
        word = re.sub(r"[\s/.]+", "_", bare).strip("_").removesuffix("-1")
        suffix = _OTHER_SPELLINGS.get(word, word)
        if suffix in _SUFFIXES:
            units[position] = suffix
        elif bare and bare not in _NOT_A_UNIT:
            return None
    return units or None


def _joined(
    row: int,
    cells: list[str | None],
    unit_row: int,
    unit_cells: list[str | None],
    units: dict[int, str],
    words: SendersWords,
) -> Headings:
    """Headings with the units beneath them, as headings.yml has them where it names them; a heading that states another
    unit is a problem.
    """
    verbatim, problems = list(cells), []
    for position, unit in units.items():
        heading = cells[position] if position < len(cells) else None
        if heading is None:
            continue
        stated = next((s for s in _SUFFIXES if tidy_heading(heading).endswith(f"_{s}")), None)
        said = next(
            (text for text in (heading, f"{heading} {unit_cells[position]}") if words.says_heading(tidy_heading(text))),
            None,
        )
        if said is not None:
            verbatim[position] = said
        elif stated is None:
            verbatim[position] = f"{heading} {unit}"
        elif stated != unit:
            problems.append(
                f"row {unit_row}, column {column_letter(position)}: '{unit_cells[position]}' stands under "
                f"'{heading}' (row {row}). Keep the unit that was meant, in the heading, and delete row {unit_row}."
            )
    stated = [found[1] for cell in unit_cells if cell and (found := MOISTURE_STATED.search(cell))]
    note = Note(
        row=unit_row,
        column=None,
        found=" | ".join(cell for cell in unit_cells if cell is not None),
        what="unit_row",
        sentence="The row beneath the headings holds their units; it is read with them and not as data.",
    )
    moisture = [
        Note(unit_row, None, each, STATES_MOISTURE, f"The unit states a moisture of {each}%.")
        for each in dict.fromkeys(stated)
    ]
    return Headings(row, unit_row, verbatim, [note, *moisture], problems)
