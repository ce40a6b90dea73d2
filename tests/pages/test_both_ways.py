"""The tiny program drawn by Quarto and by pandoc and typst: the same files, saying and showing the same."""

from __future__ import annotations

import re
import subprocess
import zipfile
from html.parser import HTMLParser
from itertools import zip_longest
from pathlib import Path

import pytest

from tests.pages.printed import NEEDS_POPPLER

DRAWN_BY = re.compile(
    r"(Quarto [\d.]+; DOCX and PPTX by pandoc [\d.]+\d|pandoc [\d.]+ and typst [\d.]+ \(DRAW_BY=pandoc was set\))"
)

ALTERNATIVE = re.compile(rb"/Alt ?(\((?:\\.|[^\\)])*\)|<[^>]*>)", re.DOTALL)


class Document(HTMLParser):
    """Every tag of a page with its attributes, and its texts with single spaces, in order; void tags alike in HTML and
    XHTML.
    """

    def __init__(self, page: str) -> None:
        super().__init__()
        self.parts: list = []
        self.feed(page)

    def handle_starttag(self, tag: str, attributes: list) -> None:
        self.parts.append((tag, {name: " ".join((value or "").split()) for name, value in attributes}))

    def handle_endtag(self, tag: str) -> None:
        self.parts.append(f"/{tag}")

    def handle_startendtag(self, tag: str, attributes: list) -> None:
        self.handle_starttag(tag, attributes)

    def handle_data(self, text: str) -> None:
        if text.strip():
            self.parts.append(" ".join(text.split()))


def files(folder: Path, format: str) -> dict[str, Path]:
    return {str(path.relative_to(folder)): path for path in sorted(folder.rglob(f"*.{format}"))}


def same(text: str) -> str:
    """A text on one line, without what drew it."""
    return DRAWN_BY.sub("DRAWN BY", " ".join(text.split()))


def first_difference(one: list, other: list) -> tuple | None:
    return next((pair for pair in zip_longest(one, other) if pair[0] != pair[1]), None)


@pytest.fixture(params=["html", "pdf", "docx"])
def pairs(request, by_pandoc, by_quarto) -> list[tuple[str, Path, Path]]:
    """(name, drawn by pandoc, drawn by Quarto) of every file of a format."""
    ours, theirs = (files(folder, request.param) for folder in (by_pandoc, by_quarto))
    assert ours and list(ours) == list(theirs)
    return [(name, ours[name], theirs[name]) for name in ours if not name.startswith("editions")]


def test_each_way_says_what_drew_the_pages_where_a_reviewer_looks(by_pandoc, by_quarto):
    for folder in (by_pandoc, by_quarto):
        words = {
            path.stem: same(re.sub(r"<[^>]+>", " ", path.read_text(encoding="utf-8")))
            for path in folder.rglob("*.html")
        }
        telling = {name for name, text in words.items() if "drawn by DRAWN BY" in text}
        assert telling == {"methods", "review"} == {name for name, text in words.items() if "rawn by" in text}


@pytest.mark.parametrize("pairs", ["html"], indirect=True)
def test_html_pages_are_the_same_documents(pairs):
    """Tags, attributes (alternative texts, links, labels), words, pictures and style sheet."""
    for name, ours, theirs in pairs:
        one, other = (Document(same(path.read_text(encoding="utf-8"))).parts for path in (ours, theirs))
        assert first_difference(one, other) is None, name


@NEEDS_POPPLER
@pytest.mark.parametrize("pairs", ["pdf"], indirect=True)
@pytest.mark.parametrize(
    "about",
    [
        ["pdftotext", "-layout", "FILE", "-"],
        ["pdfinfo", "-struct", "FILE"],
        ["pdfinfo", "-url", "FILE"],
        ["pdfinfo", "-dests", "FILE"],
        ["pdffonts", "FILE"],
    ],
    ids=lambda command: " ".join(command[:2]),
)
def test_pdfs_have_the_same_text_structure_links_and_fonts(pairs, about):
    """The text's form feeds stand for pages; the structure has each table, caption, figure and heading."""
    for name, ours, theirs in pairs:
        one, other = (said(about, path) for path in (ours, theirs))
        assert one and first_difference(one, other) is None, name


@pytest.mark.parametrize("pairs", ["pdf"], indirect=True)
def test_pdfs_have_the_same_alternative_texts(pairs):
    texts = {name: [ALTERNATIVE.findall(path.read_bytes()) for path in paths] for name, *paths in pairs}
    assert any(ours for ours, _ in texts.values())
    assert all(ours == theirs for ours, theirs in texts.values())


def said(about: list[str], pdf: Path) -> list[str]:
    command = [str(pdf) if word == "FILE" else word for word in about]
    text = subprocess.run(command, capture_output=True, text=True, check=True).stdout
    text = re.sub(r"\b[A-Z]{6}\+", "", text)  # names of subsets of fonts
    return [same(page) for page in text.split("\f")]


@pytest.mark.parametrize("pairs", ["docx"], indirect=True)
def test_docx_files_have_the_same_parts(pairs):
    for name, ours, theirs in pairs:
        one, other = (parts(path) for path in (ours, theirs))
        assert one == other, name


def parts(docx: Path) -> dict[str, bytes]:
    with zipfile.ZipFile(docx) as drawn:
        return {part: drawn.read(part) for part in drawn.namelist() if not part.startswith("docProps/core")}
