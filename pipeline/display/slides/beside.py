"""The words that go with a figure wherever it is shown: where it comes from, and all of them as a plain text beside its
files.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from pathlib import Path

from pipeline.display.words.numbers import count, counts, day, seasons

SOURCE, PROVISIONAL = "Source: ", "Provisional. "

CAUTIONS = (
    "This sums up research plots. It is not a recommendation for your field. Follow your nutrient management plan, the "
    "product label, and federal, state and local rules. Ask a certified crop adviser or your county extension office."
)


def write_words(file: Path, *, title: str, caption: str, alt: str, source: str, provisional: str) -> None:
    """Writes title, caption, alternative text, source and cautions, a paragraph each.

    A byte order mark begins the file: browsers and editors then read it as UTF-8 wherever it comes from.
    """
    cautions = f"Provisional: {provisional} {CAUTIONS}" if provisional else CAUTIONS
    told = {
        "Title": title,
        "Caption": caption,
        "Alternative text": alt,
        "Source": source.removeprefix(PROVISIONAL).removeprefix(SOURCE),
        "Cautions": cautions,
        "Files": f"{file.stem}.svg, {file.stem}.png",
    }
    text = "\n\n".join(f"{what}: {words}" for what, words in told.items())
    file.write_text(f"{text}\n", encoding="utf-8-sig")


def source_line(
    program: Mapping,
    site_years: Iterable[int],
    years: Iterable[int],
    *,
    is_provisional: bool,
    n_seasons: Iterable[int] = (),
) -> str:
    """Program, site-years, seasons and edition in two short sentences.

    Args:
        program: the row of reports.program.
        site_years: how many stand behind each figure shown.
        years: of the seasons behind them.
        n_seasons: how many stand behind each figure, where these are not all of the years; then none is named.
    """
    years, n_seasons = sorted(set(years)), list(n_seasons)
    when = counts(n_seasons, "season") if n_seasons else count(len(years), "season")
    named = "" if n_seasons else f" ({seasons(', '.join(map(str, years)))})"
    behind = f"{counts(list(site_years), 'site-year')} in {when}{named}" if years else "no site-year yet"
    told = f"{SOURCE}{program['program']}, {behind}. Edition of {day(program['started'])}."
    return f"{PROVISIONAL}{told}" if is_provisional else told
