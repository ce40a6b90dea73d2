"""Tables as Markdown pipe tables, so that HTML, PDF and DOCX all get the same one."""

from __future__ import annotations

import html
import math
import re
from collections.abc import Iterable, Mapping, Sequence

import pandas as pd

# of two dashes or periods in a row pandoc makes one sign, and a file's name is none that is on the disk
MARKDOWN_CHARACTER = re.compile(r"([\\`*_{}\[\]<>#|~^@$&]|(?<=-)-|(?<=\.)\.)")
LIST_OPENING = re.compile(r"^(\(?(?:\d+|[A-Za-z]|[IVXLCDMivxlcdm]+))([.)])(?=\s|$)|^([-+:])(?=\s|$)")
SPAN = re.compile(r"(?<!\\)\[((?:[^\[\]\\]|\\.)*)\]\{[^{}]*\}")
SPACES = re.compile(r"[ \t\r\n]+")  # not the no-break space
WIDEST, NARROWEST = 44, 5
BLANK = "\u2013"  # an empty cell could be one that was forgotten
WIDEST_LETTER_POINTS, GAP_POINTS, PAGE_POINTS = 6.3, 6, 468


class Markdown(str):
    """Text that is Markdown already and must not be escaped."""

    def _repr_markdown_(self) -> str:
        return str(self)


def escaped(text: object) -> Markdown:
    """One line of text in which no character acts as Markdown, wherever it is printed."""
    if isinstance(text, Markdown):
        return text
    one_line = MARKDOWN_CHARACTER.sub(r"\\\1", SPACES.sub(" ", str(text)).strip(" "))
    return Markdown(LIST_OPENING.sub(lambda m: f"{m[1]}\\{m[2]}" if m[1] else f"\\{m[3]}", one_line))


def grey(text: object) -> Markdown:
    """Text in grey: a figure from which nothing is claimed, or an id that stands back."""
    return Markdown(f'[{escaped(text)}]{{.grey typst:text:fill="luma(105)"}}')


def linked_id(estimate_id: str) -> Markdown:
    """An estimate's id, standing back, that leads to where the review file traces it."""
    return Markdown(f"[{grey(estimate_id)}](review.html#id-{estimate_id})")


def anchored_id(estimate_id: str) -> Markdown:
    """An estimate's id where the review file traces it."""
    return Markdown(f"[{grey(estimate_id)}]{{#id-{estimate_id}}}")


def joined(parts: Iterable[object], by: str = "; ") -> Markdown:
    """Texts and Markdown as one cell."""
    return Markdown(by.join(escaped(part) for part in parts))


def listing(items: Iterable[object]) -> Markdown:
    """A bulleted list; what is empty is left out."""
    return Markdown("\n".join(f"- {escaped(item)}" for item in items if item))


def screen_listing(items: Iterable[str]) -> Markdown:
    """A bulleted list of texts where HTML alone is, in its own words: of the thousands behind an average pandoc would
    read each letter.
    """
    lines = [f"<li>{html.escape(SPACES.sub(' ', item).strip(' '), quote=False)}</li>" for item in items]
    return Markdown("\n".join(["```{=html}", "<ul>", *lines, "</ul>", "```"])) if lines else Markdown()


def paragraph(sentences: Iterable[str]) -> Markdown:
    """Sentences one after the other; what is empty is left out."""
    return joined(filter(None, sentences), by=" ")


def stacked(*parts: object) -> Markdown:
    """Parts of a page under each other; what is empty is left out."""
    return Markdown("\n\n".join(escaped(part).strip("\n") for part in parts if part))


def section(heading: str, *parts: object, level: int = 3) -> Markdown:
    """A heading with what stands under it; nothing where there is nothing."""
    told = stacked(*parts)
    return Markdown(f"{'#' * level} {heading}\n\n{told}\n") if told else told


def on_screen(*parts: object) -> Markdown:
    """Parts that HTML shows and paper does not; nothing where there is nothing."""
    told = stacked(*parts)
    return Markdown(f'::: {{.content-visible when-format="html"}}\n\n{told}\n\n:::\n') if told else told


def pipe_table(
    frame: pd.DataFrame, *, caption: str, label: str, right: Sequence[str] = (), widths: Mapping[str, int] | None = None
) -> Markdown:
    """A frame of texts as a numbered Markdown table.

    Args:
        frame: one row per table row; its column names are the headings. Cells are escaped unless Markdown; an
            empty one is printed as a dash.
        caption: printed above the table; escaped unless Markdown.
        label: the part of the id after `tbl-`.
        right: columns set at the right, numbers.
        widths: shares of the page's width by column, no less than the longest word of its heading needs; by default
            the longest cell of each decides.
    """
    given = widths or {}
    asked = {name: given.get(name, _width(name, frame[name])) for name in frame.columns}
    lines = ["| " + " | ".join(escaped(name) for name in frame.columns) + " |"]
    dashes = ["-" * (max(share, _least(name, sum(asked.values()))) - 1) for name, share in asked.items()]
    dashes = [f"{line}:" if name in right else f":{line}" for name, line in zip(frame.columns, dashes, strict=True)]
    lines.append("|" + "|".join(dashes) + "|")
    for row in frame.itertuples(index=False):
        lines.append("| " + " | ".join(escaped(BLANK if _is_blank(cell) else cell) for cell in row) + " |")
    return Markdown("\n".join(lines) + f"\n\n: {escaped(caption)} {{#tbl-{label}}}\n")


def _is_blank(cell: object) -> bool:
    return cell is None or (not cell.strip() if isinstance(cell, str) else bool(pd.isna(cell)))


def _least(heading: str, total: int) -> int:
    """The share of `total` in which no word of a heading breaks, in bold letters of a table's size on a page of 6.5
    inches.
    """
    longest = max(map(len, re.split(r"[\s-]", _visible(heading))))
    return math.ceil((longest * WIDEST_LETTER_POINTS + GAP_POINTS) / PAGE_POINTS * total)


def _visible(text: object) -> str:
    """A cell without the attributes of its spans, which nobody sees."""
    return SPAN.sub(r"\1", str(text))


def _width(name: str, column: pd.Series) -> int:
    cells = [len(_visible(cell)) for cell in column if not _is_blank(cell)]
    longest = max([*cells, max(map(len, _visible(name).split())), NARROWEST])
    return min(longest, WIDEST)
