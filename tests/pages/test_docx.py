"""The season report as DOCX: named styles to edit, marked table headings, a text for every picture, US Letter."""

from __future__ import annotations

import re
import xml.etree.ElementTree as ET
import zipfile
from pathlib import Path

import pytest

W = "{http://schemas.openxmlformats.org/wordprocessingml/2006/main}"
PICTURE = "{http://schemas.openxmlformats.org/drawingml/2006/wordprocessingDrawing}docPr"


@pytest.fixture(scope="module")
def parts(published: Path) -> dict[str, ET.Element]:
    """The XML parts of the first season report by name."""
    with zipfile.ZipFile(min(path for path in published.glob("*.docx") if "handout" not in path.name)) as docx:
        return {name: ET.fromstring(docx.read(name)) for name in docx.namelist() if name.endswith((".xml", ".rels"))}


@pytest.fixture(scope="module")
def document(parts) -> ET.Element:
    return parts["word/document.xml"]


def styles_by_id(parts) -> dict[str, ET.Element]:
    return {style.get(f"{W}styleId"): style for style in parts["word/styles.xml"].iter(f"{W}style")}


def used(element: ET.Element, kind: str = "pStyle") -> list[str]:
    return [style.get(f"{W}val") for style in element.iter(f"{W}{kind}")]


def test_every_style_used_is_defined_and_the_usual_ones_are_used(parts, document):
    paragraphs = set(used(document))
    assert {
        "Title",
        "Subtitle",
        "Heading1",
        "BodyText",
        "TableCaption",
        "ImageCaption",
        "TableText",
        "TableHeading",
    } <= paragraphs
    assert paragraphs | set(used(document, "rStyle")) | set(used(document, "tblStyle")) <= set(styles_by_id(parts))
    assert set(used(document, "tblStyle")) == {"Table"}


def test_a_style_decides_the_look_and_no_paragraph_sets_faces_of_its_own(parts, document):
    assert not list(document.iter(f"{W}rFonts"))
    look = {name: style.find(f"{W}rPr") for name, style in styles_by_id(parts).items()}
    assert look["Heading1"].find(f"{W}rFonts").get(f"{W}ascii") == "Calibri"
    assert look["BodyText"].find(f"{W}rFonts").get(f"{W}ascii") == "Cambria"
    assert look["TableText"].find(f"{W}sz").get(f"{W}val") == "18"  # half points


def test_the_children_of_a_style_stand_in_the_order_of_the_standard(parts):
    """ECMA-376 part 1, 17.7.4.17: a word processor may refuse a file whose elements stand in another order."""
    order = [
        "name",
        "aliases",
        "basedOn",
        "next",
        "link",
        "uiPriority",
        "semiHidden",
        "unhideWhenUsed",
        "qFormat",
        "rsid",
    ]
    order += ["pPr", "rPr", "tblPr", "trPr", "tcPr", "tblStylePr"]
    for style in styles_by_id(parts).values():
        places = [order.index(child.tag.removeprefix(W)) for child in style]
        assert places == sorted(places), style.get(f"{W}styleId")


def test_the_first_row_of_every_table_is_marked_as_its_heading(document):
    tables = list(document.iter(f"{W}tbl"))
    assert len(tables) >= 3
    for table in tables:
        heading, *rows = table.iter(f"{W}tr")
        assert heading.find(f"{W}trPr/{W}tblHeader") is not None
        assert set(used(heading)) == {"TableHeading"}
        styles = [set(used(row)) for row in rows]
        is_kept = {"TableTextKept"} if len(rows) <= 12 else {"TableText"}
        assert rows and styles == [is_kept] * (len(rows) - 1) + [{"TableText"}]
        assert all(row.find(f"{W}trPr/{W}cantSplit") is not None for row in (heading, *rows))


def test_every_picture_has_its_alternative_text(document):
    alternatives = [picture.get("descr") for picture in document.iter(PICTURE)]
    assert alternatives and all(len(text) > 20 for text in alternatives)


def test_the_paper_is_us_letter_and_its_foot_counts_the_pages(parts, document):
    size = document.find(f".//{W}sectPr/{W}pgSz")
    assert (size.get(f"{W}w"), size.get(f"{W}h")) == ("12240", "15840")
    links = {link.get("Id"): link.get("Target") for link in parts["word/_rels/document.xml.rels"]}
    footer = document.find(f".//{W}sectPr/{W}footerReference")
    (target,) = [links[value] for name, value in footer.attrib.items() if name.endswith("}id")]
    assert [field.get(f"{W}instr") for field in parts[f"word/{target}"].iter(f"{W}fldSimple")] == [
        "TITLE",
        "SUBJECT",
        "PAGE",
        "NUMPAGES",
    ]


def test_headings_go_down_one_level_at_a_time_from_the_title(document):
    levels = [int(found[1]) for style in used(document) if (found := re.fullmatch(r"Heading(\d)", style))]
    assert levels[0] == 1 and all(below - above <= 1 for above, below in zip(levels, levels[1:]))
