"""A .qmd page as prose and Python cells, each line knowing the file and line it came from.

Only the part of Quarto's format that the reports use is read; anything else is refused with its place.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from pathlib import Path
from typing import Iterator

import yaml

from pipeline.errors import UserError

CELL_OPEN = re.compile(r"^```+\s*\{python\}\s*$")
OTHER_CELL = re.compile(r"^```+\s*\{(?P<language>[A-Za-z]\w*)\}\s*$")
FENCE = re.compile(r"^(?P<fence>`{3,}|~{3,})")
OPTION = re.compile(r"^#\|\s?(?P<text>.*)$")
KNOWN_OPTIONS = {"tags", "output", "echo", "label", "warning"}


@dataclass(frozen=True)
class Line:
    """One line of text with the file and line number it was read from."""

    text: str
    file: Path
    number: int


@dataclass(frozen=True)
class Prose:
    """Lines that are Markdown; `is_code` marks a fenced block, which is printed untouched."""

    lines: list[Line]
    is_code: bool = False


@dataclass(frozen=True)
class Cell:
    """One Python cell: its code lines, its `#|` options and its number on the page, from 1."""

    lines: list[Line]
    options: dict
    number: int
    opening: Line

    @property
    def is_parameters(self) -> bool:
        return "parameters" in self.options.get("tags", [])

    @property
    def prints_markdown(self) -> bool:
        return self.options.get("output") == "asis"


def read_page(qmd: Path) -> tuple[dict, list[Prose | Cell]]:
    """Read a page: its front matter (a dict) and its pieces in order."""
    lines = _read_lines(qmd)
    front_matter, body = _split_front_matter(lines)
    return front_matter, list(_pieces(body))


def _read_lines(path: Path) -> list[Line]:
    try:
        text = path.read_text(encoding="utf-8")
    except FileNotFoundError:
        raise UserError(f"{path}: there is no such page source.") from None
    except UnicodeDecodeError:
        raise UserError(f"{path}: the page is not UTF-8 text. Save it as UTF-8.") from None
    return [Line(line, path, number) for number, line in enumerate(text.splitlines(), start=1)]


def _split_front_matter(lines: list[Line]) -> tuple[dict, list[Line]]:
    if not lines or lines[0].text.strip() != "---":
        return {}, lines
    for end, line in enumerate(lines[1:], start=1):
        if line.text.strip() in ("---", "..."):
            return _parse_front_matter(lines[1:end]), lines[end + 1 :]
    raise UserError(f"{lines[0].file}, line 1: the front matter has no closing --- line.")


def _parse_front_matter(lines: list[Line]) -> dict:
    try:
        return yaml.safe_load("\n".join(line.text for line in lines)) or {}
    except yaml.YAMLError as error:
        raise UserError(f"{lines[0].file}, front matter: {error}") from None


def _pieces(lines: list[Line]) -> Iterator[Prose | Cell]:
    """Cut the lines at fences: cells, other fenced blocks, and the prose between them."""
    prose: list[Line] = []
    n_cells = 0
    position = 0
    while position < len(lines):
        line = lines[position]
        fence = FENCE.match(line.text)
        if not fence:
            prose.append(line)
            position += 1
            continue
        if prose:
            yield Prose(prose)
            prose = []
        end = _closing_fence(lines, position, fence["fence"])
        if CELL_OPEN.match(line.text):
            n_cells += 1
            yield _cell(line, lines[position + 1 : end], n_cells)
        else:
            _refuse_other_language(line)
            yield Prose(lines[position : end + 1], is_code=True)
        position = end + 1
    if prose:
        yield Prose(prose)


def _closing_fence(lines: list[Line], start: int, fence: str) -> int:
    closing = re.compile(rf"^{re.escape(fence[0])}{{{len(fence)},}}\s*$")
    for position in range(start + 1, len(lines)):
        if closing.match(lines[position].text):
            return position
    opening = lines[start]
    raise UserError(f"{opening.file}, line {opening.number}: this block is never closed with {fence}.")


def _refuse_other_language(line: Line) -> None:
    found = OTHER_CELL.match(line.text)
    if found:
        raise UserError(
            f"{line.file}, line {line.number}: a cell in {found['language']}; pages hold Python cells only."
        )


def _cell(opening: Line, lines: list[Line], number: int) -> Cell:
    n_options = 0
    while n_options < len(lines) and OPTION.match(lines[n_options].text):
        n_options += 1
    options = _options(opening, [OPTION.match(line.text)["text"] for line in lines[:n_options]])
    return Cell(lines=lines[n_options:], options=options, number=number, opening=opening)


def _options(opening: Line, texts: list[str]) -> dict:
    place = f"{opening.file}, line {opening.number}"
    try:
        options = yaml.safe_load("\n".join(texts)) or {}
    except yaml.YAMLError as error:
        raise UserError(f"{place}: the cell's #| options cannot be read: {error}") from None
    if not isinstance(options, dict):
        raise UserError(f"{place}: a cell option is written `#| name: value`.")
    unknown = sorted(set(options) - KNOWN_OPTIONS)
    if unknown:
        known = ", ".join(sorted(KNOWN_OPTIONS))
        raise UserError(f"{place}: unknown cell option {', '.join(unknown)}; known are {known}.")
    if options.get("echo", False) is not False:
        raise UserError(f"{place}: pages show no code; write `#| echo: false` or leave the option out.")
    return options
