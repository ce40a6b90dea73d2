"""A woven page on its way to its files."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from pipeline.errors import UserError


@dataclass(frozen=True)
class Page:
    """A page's Markdown and where it is published, as <folder>/<name>.html, .pdf and .docx."""

    markdown: Path
    folder: Path
    name: str


@dataclass(frozen=True)
class Drawn:
    """One published file, with the page it belongs to. is_standing: as an earlier run made it."""

    page: Page
    format: str
    path: Path
    is_standing: bool = False


class PageNotMade(UserError):
    """One page cannot be written or drawn; the others can. markdown: where its Markdown is or should be."""

    def __init__(self, markdown: Path, said: str) -> None:
        super().__init__(said)
        self.markdown = markdown
