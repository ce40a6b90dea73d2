"""The printed reports: US Letter, marked and tagged as PDF/UA-1, every word inside the text block and none over
another.
"""

from __future__ import annotations

import re
import subprocess
from pathlib import Path

import pytest

from pipeline.publishing.by_pandoc import compile_pdf
from tests.pages.printed import NEEDS_POPPLER, printed_over, words_of

pytestmark = NEEDS_POPPLER
PRINTED = ("season", "site-year", "review", "methods")
LEFT, RIGHT, FOOT = (
    0.85 * 72.0,
    612.0 - 0.85 * 72.0,
    792.0 - 0.8 * 72.0,
)  # points: US Letter less the margins in reports/page.typ
DESCENT = 2.5  # points that descenders of the last line hang below its baseline, where the text block ends


@pytest.fixture
def pdf(page) -> Path:
    return page.with_suffix(".pdf")


def outside(words) -> list[str]:
    """Words that leave the text block, half a point being for rounding."""
    return [
        f"page {word.page}: {word.text}"
        for word in words
        if word.left < LEFT - 0.5 or word.right > RIGHT + 0.5 or word.top < FOOT < word.bottom - DESCENT
    ]


@pytest.mark.parametrize(
    ("source", "what"),
    [
        ("#place(dy: 100pt)[First] #place(dy: 104pt)[Second]", "over"),
        ("Unbreakable" * 9, "outside"),
        ("#place(dy: 656pt)[Low]", "outside"),
    ],
)
def test_a_faulty_page_would_be_found_out(source, what, tmp_path):
    page = '#set document(title: "t")\n#set page("us-letter", margin: 72pt)\n'
    compile_pdf(f'{page}#set text(font: "DejaVu Sans")\n{source}'.encode(), root=tmp_path, target=tmp_path / "t.pdf")
    words = words_of(tmp_path / "t.pdf")
    assert {"over": bool(printed_over(words)), "outside": bool(outside(words))}[what]


@pytest.mark.parametrize("kind", PRINTED)
def test_the_page_is_us_letter_and_says_what_an_accessible_pdf_says(pdf, kind):
    """ISO 14289-1 (PDF/UA-1): its identifier in the XMP metadata, marked content, a title and a language."""
    about = subprocess.run(["pdfinfo", pdf], capture_output=True, text=True, check=True).stdout
    xmp = subprocess.run(["pdfinfo", "-meta", pdf], capture_output=True, text=True, check=True).stdout
    said = dict(re.findall(r"^([\w ]+):\s+(.*)$", about, re.MULTILINE))
    assert (said["Page size"], said["Tagged"]) == ("612 x 792 pts (letter)", "yes")
    assert "<pdfuaid:part>1</pdfuaid:part>" in xmp
    assert "<dc:language><rdf:Bag><rdf:li>en</rdf:li>" in xmp and b"/Lang(en)" in pdf.read_bytes()
    title = re.search(r"<title>(.*?)</title>", pdf.with_suffix(".html").read_text(encoding="utf-8"))
    assert said["Title"] == title[1]


@pytest.mark.parametrize("kind", ["season"])
def test_the_season_report_prints_on_few_pages(pdf, kind):
    """Four pages and one to plan by; one more is left for programs with many comparisons."""
    assert max(word.page for word in words_of(pdf)) <= 6


@pytest.mark.parametrize("kind", PRINTED)
def test_headings_table_headings_and_figures_are_tagged(pdf, kind):
    tree = subprocess.run(["pdfinfo", "-struct", pdf], capture_output=True, text=True, check=True).stdout
    parts = re.findall(r"^ *(\w+)(?=[ :]|$)", tree, re.MULTILINE)
    assert parts.count("H1") >= 1 and parts.count("Table") >= 1
    assert parts.count("THead") == parts.count("Table") <= parts.count("TH")
    alternatives = re.findall(rb"/Alt ?[(<][^)>]{20}", pdf.read_bytes())
    shown = pdf.with_suffix(".html").read_text(encoding="utf-8").count("<img")
    assert len(alternatives) == parts.count("Figure") <= shown  # some figures stand on the screen only
    assert bool(alternatives) == bool(shown)


def test_every_word_stands_inside_the_text_block_and_over_no_other(published):
    words = {str(pdf.relative_to(published)): words_of(pdf) for pdf in published.rglob("*.pdf")}
    assert min(map(len, words.values())) > 100
    faults = {name: outside(of_page) + printed_over(of_page) for name, of_page in words.items()}
    assert {name: found for name, found in faults.items() if found} == {}
