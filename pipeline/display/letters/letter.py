"""A letter to each sender: which rows of theirs need something, and what to do. Plain text, and the same as HTML."""

from __future__ import annotations

import html
import re
import textwrap
from dataclasses import dataclass
from datetime import date

import pandas as pd

from pipeline.contract.checks import EXPECTED_OF_TYPE
from pipeline.contract.tables import HOLDS_TRIAL, NOTED, SETS_ASIDE
from pipeline.display.words.numbers import capital, count, day, listed, row_numbers

HEADINGS = {
    HOLDS_TRIAL: "Please answer these first. Until then the trial is in no average.",
    SETS_ASIDE: "We could not use these rows.",
    NOTED: "Please look at these. We use the rows as they are.",
}
HOW_TO_ANSWER = (
    "Correct the file and send the whole file again, under the same name. If a value is right as it is, write and tell"
    " us. Please don't change a yield because it looks odd: tell us what happened in the field."
)
NOTHING_OPEN = "We read all of it. There is nothing for you to do."
MOST_FOUND, MOST_ROWS = 3, 60  # examples of what was found; letters of a list of rows
MOST_MENDS = 3  # cells of a column to write otherwise that are told one by one: of more the first tells how
A_HUNDRED_TIMES = "A hundred times too"
A_DATE, _ = EXPECTED_OF_TYPE["date"]
WIDTH = 78
# what is for the analyst, who keeps headings.yml and the season's folder
_FOR_THE_ANALYST = re.compile(r"[;,]? ?\bor put into [^:]*headings\.yml: .*$|; if one file as a whole corrects .*$")


@dataclass(frozen=True)
class Letter:
    """What one sender gets. sender: their folder below the season's, or the season's own where files lie in it."""

    season: int
    sender: str
    n_open: int
    text: str
    html: str

    @property
    def name(self) -> str:
        """Of its files, without suffix."""
        return f"{self.season}-{self.sender}" if self.sender else str(self.season)


@dataclass(frozen=True)
class _Item:
    place: str
    lines: tuple[str, ...]


def letters(asked: pd.DataFrame, files: pd.DataFrame, *, program: str, today: date) -> list[Letter]:
    """One letter per folder that files lie in, by season and name.

    Args:
        asked: rows of reports.findings that senders are asked about.
        files: every delivered file: file (its path in the program), season, n_rows.
    """
    asked = asked.assign(sender=asked["file"].map(_sender))
    files = files.assign(sender=files["file"].map(_sender))
    made = []
    for (season, sender), of_sender in files.groupby(["season", "sender"]):
        mine = asked[asked["file"].isin(of_sender["file"])]
        title = f"{program}: your files for season {season}"
        parts = [(HEADINGS[severity], _items(mine[mine["severity"] == severity])) for severity in HEADINGS]
        parts = [(heading, items) for heading, items in parts if items]
        opening = _opening(sender or f"whoever sent the files of season {season}", of_sender, today)
        made.append(
            Letter(int(season), sender, len(mine), _as_text(title, opening, parts), _as_html(title, opening, parts))
        )
    return made


def _sender(file: str) -> str:
    """'coop-01' of seasons/2094/coop-01/plots.csv, '' of what lies in the season's folder itself."""
    return "/".join(file.split("/")[2:-1])


def _opening(sender: str, files: pd.DataFrame, today: date) -> list[str]:
    counted = [f"{row.file.rsplit('/', 1)[1]} ({count(row.n_rows, 'row')})" for row in files.itertuples()]
    return [f"To {sender}, {day(today)}.", f"Thank you for {listed(counted)}."]


def _items(findings: pd.DataFrame) -> list[_Item]:
    """Findings that say the same of several rows are one item."""
    alike = ["check_name", "file", "sheet", "column_name", "expected"]
    items = []
    for _, rows in findings.groupby(alike, sort=False, dropna=False):
        # a file that is not read begins its sentence with its path, which the place says already
        rows = rows.assign(mend=[row.mend.removeprefix(f"{row.file}: ") for row in rows.itertuples()])
        mends = rows["mend"].map(_mend)
        is_told_once = rows["expected"].iloc[0] == A_DATE or mends.iloc[0].startswith(A_HUNDRED_TIMES)
        if is_told_once and mends.nunique() > MOST_MENDS:
            items.append(_item(rows, f"{mends.iloc[0]}, and the others in the same way"))
        else:
            items += [_item(of_mend, _mend(mend)) for mend, of_mend in rows.groupby("mend", sort=False, dropna=False)]
    return items


def _item(rows: pd.DataFrame, mend: str) -> _Item:
    first = rows.iloc[0]
    trials = listed(sorted(rows["trial_id"].dropna().unique()))
    told = [
        "" if pd.notna(first["expected"]) else mend,  # a note is a sentence of its own
        f"We found: {_examples(rows['found'])}" if rows["found"].notna().any() else "",
        f"We expected: {first['expected']}" if pd.notna(first["expected"]) else "",
        f"What to do: {mend}" if pd.notna(first["expected"]) else "",
        f"Trial: {trials}" if trials else "",
    ]
    return _Item(_place(first, rows["row_number"].dropna().astype(int)), tuple(filter(None, told)))


def _place(first: pd.Series, numbers: pd.Series) -> str:
    rows = row_numbers(numbers) if len(numbers) else ""
    rows = rows if len(rows) <= MOST_ROWS else f"{count(len(numbers), 'row')}, the first row {numbers.min()}"
    sheet = f'sheet "{first["sheet"]}"' if first["sheet"] else ""
    column = f'column "{first["headed"]}"' if pd.notna(first["headed"]) else first["column_name"] or ""
    return ", ".join(filter(None, [first["file"].rsplit("/", 1)[1], sheet, rows, column]))


def _examples(found: pd.Series) -> str:
    kinds = list(dict.fromkeys(found.dropna().astype(str)))
    more = f" and {len(kinds) - MOST_FOUND} more" if len(kinds) > MOST_FOUND else ""
    return "; ".join(kinds[:MOST_FOUND]) + more


def _mend(mend: str) -> str:
    return capital(_FOR_THE_ANALYST.sub("", mend))


def _as_text(title: str, opening: list[str], parts: list[tuple[str, list[_Item]]]) -> str:
    lines = [title, "", *map(_wrapped, opening), ""]
    number = 0
    for heading, items in parts:
        lines += [_wrapped(heading.upper()), ""]
        for item in items:
            number += 1
            lines += [
                _wrapped(f"{number}. {item.place}", "   "),
                *(_wrapped(f"   {line}", "     ") for line in item.lines),
                "",
            ]
    lines += [_wrapped(HOW_TO_ANSWER if parts else NOTHING_OPEN), ""]
    return "\n".join(lines)


def _wrapped(text: str, further: str = "") -> str:
    return textwrap.fill(text, WIDTH, subsequent_indent=further, break_long_words=False, break_on_hyphens=False)


def _as_html(title: str, opening: list[str], parts: list[tuple[str, list[_Item]]]) -> str:
    body = [f"<h1>{_escaped(title)}</h1>", *(f"<p>{_escaped(line)}</p>" for line in opening)]
    number = 1
    for heading, items in parts:
        body += [f"<h2>{_escaped(heading)}</h2>", f'<ol start="{number}">']
        for item in items:
            told = "<br>".join([f"<strong>{_escaped(item.place)}</strong>", *map(_escaped, item.lines)])
            body.append(f"<li><p>{told}</p></li>")
        body.append("</ol>")
        number += len(items)
    body.append(f"<p>{_escaped(HOW_TO_ANSWER if parts else NOTHING_OPEN)}</p>")
    return (
        f'<!DOCTYPE html>\n<html lang="en-US"><head><meta charset="utf-8"><title>{_escaped(title)}</title>'
        '<meta name="viewport" content="width=device-width, initial-scale=1">'
        "<style>body{font:1rem/1.5 sans-serif;max-width:42rem;margin:2rem auto;padding:0 1rem;overflow-wrap:anywhere}"
        "h1{font-size:1.4rem}h2{font-size:1.1rem}</style></head><body>\n" + "\n".join(body) + "\n</body></html>\n"
    )


def _escaped(text: str) -> str:
    return html.escape(text)
