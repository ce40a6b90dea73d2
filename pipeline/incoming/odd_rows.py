"""Rows that are no rows of the table: headings said again, totals and means, footnotes and other text under them.

They are delivered rows all the same: each gets a note, by which staging leaves it out and its fate is told.
"""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterable, Iterator

from pipeline.incoming.sheet import Note, Sheet, tidy_heading

HEADINGS = "repeats_headings"
TOTAL = "looks_like_total"
FOOTNOTE = "looks_like_footnote"

_SENTENCES = {
    HEADINGS: "The row repeats the headings.",
    TOTAL: "The row reads as a total, a mean or a statistic of the rows above, and lacks cells that they have.",
    FOOTNOTE: (
        "The row reads as a footnote or another remark under the table, and lacks cells that the table's rows have."
    ),
}
_TOTAL_WORDS = re.compile(
    r"((grand|sub|over-?all|general|trial|site|block|rep|treatment|column)[ -]?)?"
    r"(total|sum|mean|average|avg|median|minimum|maximum|std\.? ?dev|standard deviation|standard error"
    r"|l\.?s\.?d\.?(0?\.\d+)?|c\.?v|s\.?e\.?[dm]?|s\.?d|p[- ]?value|pr ?> ?f)s?\.?"
    r"( of .*| block.*| rep.*)?([ (,=:][\d.%=p (),]*)?:?",
    re.IGNORECASE,
)
_FOOTNOTE_START = re.compile(
    r"[*†‡§¶]|(foot)?notes?\b ?[:.-]|(source|legend|remarks?|comments?|n\.?b\.?)\s*:|\(?\d\) ", re.IGNORECASE
)
_FEWEST_HEADINGS = 2
_FEWEST_WORDS_OF_A_SENTENCE = 4
_WORDS_AMONG_FIRST = 3


def odd_row_notes(sheet: Sheet, texts: dict[str, set[str | None]]) -> list[Note]:
    """One note for each row that repeats the headings, or looks like a total or a footnote.

    texts: the sheet's distinct texts by heading.
    """
    columns = list(sheet.columns.values())
    n_rows = len(sheet.row_numbers)
    odd = dict.fromkeys(_repeating(sheet.columns, texts), HEADINGS)
    usual = [cells for h, cells in sheet.columns.items() if None not in texts[h] or cells.count(None) <= n_rows / 2]
    if len(usual) >= 2:
        odd = (
            dict.fromkeys(_under_the_table(usual, sheet.row_numbers), FOOTNOTE)
            | dict(_by_their_words(sheet.columns, texts, usual))
            | odd
        )
    return [_note(sheet.row_numbers[i], _first_cells(columns, i)[0], odd[i]) for i in sorted(odd)]


def _repeating(columns: dict[str, list[str | None]], texts: dict[str, set[str | None]]) -> list[int]:
    """Rows of which every filled cell, two at least, is its heading; the unit may stand in a row of its own."""
    same: Counter[int] = Counter()
    for heading, cells in columns.items():
        # most cells are spared by their first letter
        alike = (text for text in texts[heading] if text and text.lstrip()[:1].lower() == heading[:1])
        named = {text for text in alike if f"{heading}_".startswith(f"{tidy_heading(text)}_")}
        if named:
            same.update(i for i, text in enumerate(cells) if text in named)
    return [i for i, n in same.items() if n >= _FEWEST_HEADINGS and n == _n_filled(columns.values(), i)]


def _n_filled(columns: Iterable[list[str | None]], i: int) -> int:
    return sum(cells[i] is not None for cells in columns)


def _note(row: int, found: str, what: str) -> Note:
    return Note(row=row, column=None, found=found, what=what, sentence=_SENTENCES[what])


def _first_cells(columns: Iterable[list[str | None]], i: int) -> list[str]:
    """The row's first filled cells, from the left."""
    return [cells[i] for cells in columns if cells[i] is not None][:_WORDS_AMONG_FIRST]


def _by_their_words(
    columns: dict[str, list[str | None]], texts: dict[str, set[str | None]], usual: list[list[str | None]]
) -> Iterator[tuple[int, str]]:
    """Rows that say what they are, among those that lack a cell which most rows have."""
    first = {
        i: _first_cells(columns.values(), i)
        for i in sorted(_rows_with_telling_cells(columns, texts))
        if not _is_whole(usual, i)
    }
    totals = {text for cells in first.values() for text in cells if _TOTAL_WORDS.fullmatch(text.strip())}
    totals -= _in_whole_rows(totals, columns, texts, usual)
    for i, cells in first.items():
        if not totals.isdisjoint(cells):
            yield i, TOTAL
        elif _FOOTNOTE_START.match(cells[0].strip()) or (
            _n_filled(columns.values(), i) == 1 and _is_sentence(cells[0])
        ):
            yield i, FOOTNOTE


def _is_whole(usual: list[list[str | None]], i: int) -> bool:
    return all(cells[i] is not None for cells in usual)


def _in_whole_rows(
    totals: set[str],
    columns: dict[str, list[str | None]],
    texts: dict[str, set[str | None]],
    usual: list[list[str | None]],
) -> set[str]:
    """Those among the first cells of a row that lacks nothing too: codes of the table, such as SD for sidedressed."""
    return {
        total
        for total in totals
        if any(
            text == total and _is_whole(usual, i) and total in _first_cells(columns.values(), i)
            for heading, cells in columns.items()
            if total in texts[heading]
            for i, text in enumerate(cells)
        )
    }


def _is_sentence(text: str) -> bool:
    return len(text.split()) >= _FEWEST_WORDS_OF_A_SENTENCE


def _rows_with_telling_cells(columns: dict[str, list[str | None]], texts: dict[str, set[str | None]]) -> set[int]:
    """Rows with a telling text anywhere."""
    rows = set()
    for heading, cells in columns.items():
        telling = {text for text in texts[heading] if text and _is_telling(text.strip())}
        if telling:
            rows.update(i for i, text in enumerate(cells) if text in telling)
    return rows


def _is_telling(text: str) -> bool:
    if text[:1].isdigit() and " " not in text:
        return False
    return bool(_TOTAL_WORDS.fullmatch(text) or _FOOTNOTE_START.match(text)) or _is_sentence(text)


def _under_the_table(usual: list[list[str | None]], row_numbers: list[int]) -> list[int]:
    """Rows after an empty row, when they and all that follow fill less than half of what most rows fill."""
    start = len(row_numbers)
    while start and sum(cells[start - 1] is not None for cells in usual) < len(usual) / 2:
        start -= 1
    gap = next((i for i in range(max(start, 1), len(row_numbers)) if row_numbers[i] - row_numbers[i - 1] > 1), None)
    return [] if gap is None else list(range(gap, len(row_numbers)))
