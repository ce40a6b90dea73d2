"""Where a page leads: the row of links at its head, and names of files in several formats."""

from __future__ import annotations

from collections.abc import Iterable

import pandas as pd

from pipeline.display.words.numbers import capital
from pipeline.display.words.tables import Markdown, escaped

SHARED = (("Methods", "methods"), ("Review file", "review"), ("Data dictionary", "data_dictionary"))
HANDOUT = "-handout"  # added to the path of a crop's full report


def around(pages: pd.DataFrame, *, own: str, up: str = "") -> Markdown:
    """Links to the home page, to each crop's sheet and report, and to what all share.

    Args:
        pages: the list of pages.
        own: path of the page they stand on, which is named and not linked.
        up: what leads from its folder to the home page's.
    """
    places = [("Home", "index")]
    for crop in pages[pages["kind"] == "season"].itertuples():
        name = capital(crop.crop)
        places += [(f"{name} handout", f"{crop.path}{HANDOUT}"), (f"{name} report", crop.path)]
    return Markdown(" | ".join(_place(name, path, own, up) for name, path in (*places, *SHARED)))


def _place(name: str, path: str, own: str, up: str) -> Markdown:
    return Markdown(f"**{escaped(name)}**" if path == own else f"[{escaped(name)}]({up}{path}.html)")


def in_formats(name: str, path: str, formats: Iterable[str]) -> list[Markdown]:
    """A link for each format of a page; each says what it leads to."""
    named = {each: name if each == "html" else f"{name} ({each.upper()})" for each in formats}
    return [Markdown(f"[{escaped(words)}]({path}.{each})") for each, words in named.items()]
