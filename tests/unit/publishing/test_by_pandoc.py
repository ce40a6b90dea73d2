"""The page that uses everything, drawn without Quarto, and read back from what was drawn."""

from __future__ import annotations

import json
import re
import time
import zipfile
from html.parser import HTMLParser
from pathlib import Path

import pytest
import typst
from docx import Document

from pipeline import faces
from pipeline.errors import UserError
from pipeline.publishing import by_pandoc
from pipeline.publishing.draw import draw
from pipeline.publishing.page import Page

ALT = 'Two dots, both "right" of zero.'


class Outline(HTMLParser):
    """The tags of a page with their attributes, in order, and its visible text with single spaces."""

    def __init__(self, page: str) -> None:
        super().__init__()
        self.tags: list[tuple[str, dict]] = []
        self.words: list[str] = []
        self.feed(re.sub(r"<style[^>]*>.*?</style>", "", page, flags=re.DOTALL))
        self.text = " ".join(" ".join(self.words).split())

    def handle_starttag(self, tag: str, attrs: list) -> None:
        self.tags.append((tag, dict(attrs)))

    def handle_data(self, data: str) -> None:
        self.words.append(data)

    def all(self, tag: str) -> list[dict]:
        return [attributes for name, attributes in self.tags if name == tag]


@pytest.fixture
def html(woven: Path, tmp_path: Path) -> Outline:
    (drawn,) = draw([Page(woven, tmp_path / "published", "full")], formats=("html",))
    return Outline(drawn.path.read_text(encoding="utf-8"))


def test_html_carries_everything_and_asks_the_network_for_nothing(html):
    addresses = [a.get(key, "") for _, a in html.tags for key in ("src", "href") if a.get(key)]
    assert addresses and all(address.startswith(("data:", "#")) for address in addresses)
    assert not html.all("script") and not html.all("link")


def test_html_has_landmarks_language_and_headings_in_order(html):
    for landmark in ("header", "main"):
        assert len(html.all(landmark)) == 1
    assert html.all("html")[0]["lang"] == "en-US"
    assert [tag for tag, _ in html.tags if re.fullmatch(r"h\d", tag)] == ["h1", "h2", "h3"]
    assert [image["alt"] for image in html.all("img")] == [ALT]


def test_html_shows_the_masthead(html):
    assert "Orrenvale nitrogen trials Coated blend on corn, season 2094 Two places" in html.text
    assert "Provisional. 2 trials are held." in html.text


def test_prices_and_odd_names_stay_what_they_are(html):
    assert (
        "costs $12/ac (0.40 US$/lb) more. The place is A_b*c* <x> $5$ @fig-q [z](y) 1~2^ `d` {e} \\f #g |h|"
        in html.text
    )


def test_references_are_numbered_and_lead_somewhere(html):
    assert "( Figure 1 , Table 1 , Table 2 )" in html.text
    assert "Figure 1. Gain by site-year ." in html.text and "Table 2. Plots." in html.text
    identifiers = {attributes["id"] for _, attributes in html.tags if "id" in attributes}
    assert {a["href"][1:] for a in html.all("a")} <= identifiers


def test_html_gets_its_own_conditional_content(html):
    assert "Only on the screen." in html.text and "Hidden on paper." in html.text and "Raw HTML." in html.text
    assert "Only on paper." not in html.text and "Raw typst" not in html.text and "{{<" not in html.text


def test_callouts_have_their_title_and_role(html):
    notes = [attributes for attributes in html.all("div") if attributes.get("role") == "note"]
    assert [note["class"] for note in notes] == ["callout callout-note", "callout callout-warning"]
    assert "What we did not test Sandy soils. Warning Follow local codes." in html.text


def test_a_wide_table_scrolls_in_a_named_box_of_its_own(html):
    boxes = [attributes for attributes in html.all("div") if attributes.get("class") == "table-box"]
    assert [box["aria-label"] for box in boxes] == ["Table\u00a01. Gains.", "Table\u00a02. Plots."]
    assert all(box["tabindex"] == "0" and box["role"] == "region" for box in boxes)


# The PDF, by asking typst where things lie -----------------------------------------------------


def typst_of(woven: Path) -> str:
    return by_pandoc.typst_source(Page(woven, woven.parent, "full")).decode("utf-8")


def query(source: str, root: Path, selector: str) -> list:
    compiler = typst.Compiler(input=source.encode(), root=root, font_paths=by_pandoc._fonts())
    return json.loads(compiler.query(selector))


def row_places(source: str, root: Path) -> list[tuple[int, float]]:
    """Page and height of the first cell of every table row."""
    marks = "#show table.cell.where(x: 0): it => [#it #context [#metadata(here().position()) <row>]]\n"
    marked = source.replace("\n#show: page-look", f"\n{marks}#show: page-look")
    values = [found["value"] for found in query(marked, root, "<row>")]
    return [(value["page"], float(value["y"].removesuffix("pt"))) for value in values]


def rows_over_each_other(places: list[tuple[int, float]]) -> int:
    """Neighboring rows of one page that lie less than a line of print apart."""
    return sum(a[0] == b[0] and abs(a[1] - b[1]) < 9 for a, b in zip(places, places[1:]))


def test_a_long_table_runs_over_pages_without_rows_over_each_other(woven):
    source = typst_of(woven)
    places = row_places(source, woven.parent)
    assert len({page for page, _ in places}) >= 3
    assert rows_over_each_other(places) == 0
    unbroken = source.replace("set block(breakable: true)", "set block(breakable: false)")
    assert rows_over_each_other(row_places(unbroken, woven.parent)) > 10  # the fault this looks for


def test_the_heading_row_is_repeated_on_every_page(woven):
    places = row_places(typst_of(woven), woven.parent)
    # 2 data rows and a heading; 90 data rows with a heading on each of the table's pages
    n_pages = len({page for page, _ in places[3:]})
    assert len(places) == 2 + 1 + 90 + n_pages


def test_pdf_gets_its_own_conditional_content_and_alt_text(woven):
    source = typst_of(woven)
    assert "Only on paper." in source and "Raw typst" in source
    assert "Only on the screen" not in source and "Hidden on paper" not in source and "Raw HTML" not in source
    assert [found["alt"] for found in query(source, woven.parent, "image")] == [ALT]
    assert [found["level"] for found in query(source, woven.parent, "heading")] == [1, 2]


def test_the_pdf_is_tagged_and_says_it_is_accessible(woven, tmp_path):
    (drawn,) = draw([Page(woven, tmp_path / "published", "full")], formats=("pdf",))
    pdf = drawn.path.read_bytes()
    assert pdf.startswith(b"%PDF-1.7")
    assert b"<pdfuaid:part>1</pdfuaid:part>" in pdf  # PDF/UA-1, ISO 14289-1:2014 clause 5


def test_a_pdf_without_alternative_text_does_not_compile(woven, tmp_path):
    source = re.sub(r', alt: "(?:\\.|[^"])*"', "", typst_of(woven))
    with pytest.raises(UserError, match="full.pdf: typst could not make the PDF.*alt"):
        by_pandoc.compile_pdf(source.encode(), root=woven.parent, target=tmp_path / "full.pdf")


def test_only_the_faces_that_come_with_matplotlib_are_used(woven, tmp_path):
    assert {faces.TEXT, faces.PLAIN, "DejaVu Sans"} <= set(by_pandoc._fonts().families())
    _, warnings = typst.Compiler(
        input=typst_of(woven).encode(), root=woven.parent, font_paths=by_pandoc._fonts()
    ).compile_with_warnings(format="pdf")
    assert [str(warning) for warning in warnings] == []


def test_docx_has_the_masthead_and_the_alt_text(woven, tmp_path):
    (drawn,) = draw([Page(woven, tmp_path / "published", "full")], formats=("docx",))
    with zipfile.ZipFile(drawn.path) as parts:
        document = parts.read("word/document.xml").decode("utf-8")
    text = " ".join(re.sub(r"<[^>]+>", " ", document).split())
    assert text.startswith(
        "Orrenvale nitrogen trials Coated blend on corn, season 2094 Two places Provisional. 2 trials are held."
    )
    rows = document.count("<w:tr>")
    assert rows > 90 and document.count("<w:cantSplit/>") == rows
    with zipfile.ZipFile(drawn.path) as parts:
        assert "<dc:subject>Provisional</dc:subject>" in parts.read("docProps/core.xml").decode("utf-8")
        assert 'w:instr="SUBJECT"' in parts.read("word/footer1.xml").decode("utf-8")
    assert "What we did not test Sandy soils." in text
    assert "Two dots, both &quot;right&quot; of zero." in document


@pytest.mark.parametrize("format", ["docx", "pptx"])
def test_office_files_are_the_same_bytes_whenever_they_are_drawn(tmp_path, format):
    markdown, files = tmp_path / "page.md", []
    markdown.write_text("---\ntitle: T\n---\n\n# Q\n\n| a | b |\n|---|---|\n| 1 | 2 |\n", encoding="utf-8")
    for folder in ("now", "later"):
        started = int(time.time())
        (drawn,) = draw([Page(markdown, tmp_path / folder, "full")], formats=(format,))
        files.append(drawn.path.read_bytes())
        while int(time.time()) - started < 2:  # a zip file tells two seconds apart
            time.sleep(0.1)
    assert files[0] == files[1]


def test_an_empty_provisional_mark_prints_nothing(tmp_path):
    markdown = tmp_path / "page.md"
    markdown.write_text('---\ntitle: T\nprovisional: ""\n---\n\nText.\n', encoding="utf-8")
    page = Page(markdown, tmp_path / "published", "plain")
    for drawn in draw([page], formats=("html", "docx")):
        if drawn.format == "docx":
            with zipfile.ZipFile(drawn.path) as parts:
                text = parts.read("word/document.xml").decode("utf-8")
        else:
            text = Outline(drawn.path.read_text(encoding="utf-8")).text
        assert "Text." in text and "Provisional" not in text
    assert "provisional: [" not in typst_of(markdown)


@pytest.mark.parametrize(("asked", "points"), [("", 11.0), ('dense: "yes"\n', 9.0)])
def test_a_page_that_asks_for_it_has_small_letters_in_docx(tmp_path, asked, points):
    markdown = tmp_path / "woven" / "page.md"
    markdown.parent.mkdir()
    markdown.write_text(f"---\ntitle: Sheet\nprogram: Trials\n{asked}---\n\nText: a --- b.\n", encoding="utf-8")
    by_pandoc._draw_docx(Page(markdown, tmp_path, "sheet"), tmp_path / "sheet.docx")
    styles = Document(tmp_path / "sheet.docx").styles
    assert styles["Body Text"].font.size.pt == points  # Word keeps half points
