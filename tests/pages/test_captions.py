"""Every caption carries its number, counted from 1 for tables and for figures, in HTML, PDF and DOCX."""

from __future__ import annotations

import re
import subprocess
import zipfile

from tests.pages.printed import NEEDS_POPPLER

NUMBERED = re.compile(r"(Table|Figure)\s(\d+)\. \S")
STYLED = re.compile(r'<w:pStyle w:val="(?:Table|Image)Caption" ?/>.*?</w:p>', re.DOTALL)


def counted(captions: list[str], name: str) -> int:
    """How many captions there are, once each was seen to carry the next number of its kind."""
    found = [NUMBERED.match(caption) for caption in captions]
    assert all(found), (name, [caption for caption, number in zip(captions, found) if not number])
    for kind in ("Table", "Figure"):
        numbers = [int(number[2]) for number in found if number[1] == kind]
        assert numbers == list(range(1, len(numbers) + 1)), name
    return len(found)


def words(markup: str) -> str:
    return " ".join(re.sub(r"<[^>]+>", "", markup).split())


def test_in_html(published):
    for path in published.rglob("*.html"):
        page = path.read_text(encoding="utf-8")
        captions = re.findall(r"<(?:fig)?caption[^>]*>(.*?)</(?:fig)?caption>", page, re.DOTALL)
        n_captions = counted([words(caption) for caption in captions], path.name)
        assert n_captions == page.count("<table") + page.count("<figure") > 0 or path.name == "index.html"


@NEEDS_POPPLER
def test_in_pdf(published):
    """Not in the two longest, of whose tables poppler is a minute in printing the text."""
    for path in (
        set(published.rglob("*.pdf")) - set(published.rglob("review.pdf")) - set(published.rglob("methods.pdf"))
    ):
        structure = subprocess.run(["pdfinfo", "-struct-text", path], capture_output=True, text=True, check=True).stdout
        assert (
            counted(captions_of(structure), path.name)
            == len(re.findall(r"^ *(?:Table \(|Figure:)", structure, re.M))
            > 0
        )


def captions_of(structure: str) -> list[str]:
    """The text of each Caption in poppler's indented print of a PDF's structure."""
    captions, depth = [], None
    for line in structure.splitlines():
        indent = len(line) - len(line.lstrip())
        if depth is not None and indent <= depth:
            depth = None
        if line.lstrip().startswith("Caption"):
            captions.append("")
            depth = indent
        elif depth is not None and line.lstrip().startswith('"'):
            captions[-1] += line.strip()[1:-1]
    return [" ".join(caption.split()) for caption in captions]


def test_in_docx(published):
    for path in published.rglob("*.docx"):
        with zipfile.ZipFile(path) as docx:
            document = docx.read("word/document.xml").decode("utf-8")
        n_captions = counted([words(caption) for caption in STYLED.findall(document)], path.name)
        assert n_captions == document.count("<w:tbl>") + document.count("<pic:pic") > 0
