"""The look of the DOCX: a reference document of named styles, as the two page looks in reports/ have them.

It is pandoc's own reference document with its styles changed, so that whoever edits a report in a word processor
changes a style once and the whole report follows. Element names and their order are those of ECMA-376, part 1
(WordprocessingML).
"""

from __future__ import annotations

import io
import subprocess
import xml.etree.ElementTree as ET
import zipfile
from dataclasses import dataclass
from pathlib import Path

from pipeline.publishing import engines

TEXT_FACE, PLAIN_FACE = "Cambria", "Calibri"
INK, QUIET, LINK = "141414", "555555", "1F4E79"
RULE, HAIRLINE = "969696", "D6D6D6"
MAIN = "http://schemas.openxmlformats.org/wordprocessingml/2006/main"
LINKS = "http://schemas.openxmlformats.org/officeDocument/2006/relationships"
W = f"{{{MAIN}}}"
BOX = ("top", "left", "bottom", "right")


@dataclass(frozen=True)
class Look:
    """A paragraph style; sizes and spaces in points, borders as sides of the paragraph."""

    face: str
    points: float
    bold: bool = False
    colour: str = INK
    before: float = 0
    after: float = 0
    keep_next: bool = False
    keep_lines: bool = False
    borders: tuple[str, ...] = ()
    level: int | None = None  # of a heading


LOOKS = {
    "Body Text": Look(TEXT_FACE, 11, before=6, after=4),
    "Program": Look(PLAIN_FACE, 9, colour=QUIET),
    "Title": Look(PLAIN_FACE, 18, bold=True, after=4),
    "Subtitle": Look(PLAIN_FACE, 11, colour=QUIET, after=12, borders=("bottom",)),
    "Provisional": Look(PLAIN_FACE, 11, before=6, after=12, borders=BOX),
    "heading 1": Look(PLAIN_FACE, 14, bold=True, before=18, after=6, keep_next=True, level=0),
    "heading 2": Look(PLAIN_FACE, 12, bold=True, before=14, after=6, keep_next=True, level=1),
    "heading 3": Look(PLAIN_FACE, 11, bold=True, before=12, after=4, keep_next=True, level=2),
    "Caption": Look(PLAIN_FACE, 9, after=6),
    "Table Caption": Look(PLAIN_FACE, 9, before=12, after=6, keep_next=True),
    "Table Text": Look(PLAIN_FACE, 9, before=2, after=2, keep_lines=True),
    "Table Text Kept": Look(PLAIN_FACE, 9, before=2, after=2, keep_lines=True, keep_next=True),
    "Table Heading": Look(PLAIN_FACE, 9, bold=True, before=2, after=2, keep_next=True),
    "Block Text": Look(TEXT_FACE, 11, before=4, after=4, keep_lines=True, borders=("left",)),
    "Block Text Kept": Look(TEXT_FACE, 11, before=4, after=4, keep_lines=True, keep_next=True, borders=("left",)),
    "Footnote Text": Look(TEXT_FACE, 9),
    "Footer": Look(PLAIN_FACE, 8, colour=QUIET),
}
CHARACTERS = {"Grey": QUIET, "Hyperlink": LINK}
TABLE = f"""<w:style xmlns:w="{MAIN}" w:type="table" w:default="1" w:styleId="Table"><w:name w:val="Table"/><w:qFormat/>
<w:tblPr><w:tblBorders><w:bottom w:val="single" w:sz="4" w:color="{RULE}"/><w:insideH w:val="single" w:sz="4" w:color="{HAIRLINE}"/>
</w:tblBorders><w:tblCellMar><w:left w:w="0" w:type="dxa"/><w:right w:w="120" w:type="dxa"/></w:tblCellMar></w:tblPr>
<w:tblStylePr w:type="firstRow"><w:tcPr><w:tcBorders><w:bottom w:val="single" w:sz="8" w:color="{INK}"/></w:tcBorders>
<w:vAlign w:val="bottom"/></w:tcPr></w:tblStylePr></w:style>"""
FOOTER = f"""<w:ftr xmlns:w="{MAIN}"><w:p><w:pPr><w:pStyle w:val="Footer"/><w:tabs><w:tab w:val="right" w:pos="9360"/></w:tabs></w:pPr>
<w:fldSimple w:instr="TITLE"/><w:r><w:t xml:space="preserve">   </w:t></w:r><w:fldSimple w:instr="SUBJECT"/><w:r><w:tab/></w:r><w:fldSimple w:instr="PAGE"/><w:r><w:t xml:space="preserve"> / </w:t></w:r>
<w:fldSimple w:instr="NUMPAGES"/></w:p></w:ftr>"""
DOCUMENT_PART = "word/document.xml"
FOOTER_PART = "footer1.xml"
FOOTER_TYPE = "application/vnd.openxmlformats-officedocument.wordprocessingml.footer+xml"
# US Letter, in twentieths of a point
PAPER = '<w:pgSz w:w="12240" w:h="15840"/><w:pgMar w:top="1296" w:right="1440" w:bottom="1368" w:left="1440" w:header="720" w:footer="720" w:gutter="0"/>'


def write_reference(target: Path) -> None:
    """Writes the reference document that pandoc takes the styles from."""
    default = subprocess.run(
        [*engines.pandoc(), "--print-default-data-file=reference.docx"],
        capture_output=True,
        check=True,
    )
    changes = {
        "word/styles.xml": _styles,
        DOCUMENT_PART: _with_paper_and_footer,
        "word/_rels/document.xml.rels": _with_link_to_footer,
        "[Content_Types].xml": _with_type_of_footer,
    }
    with (
        zipfile.ZipFile(io.BytesIO(default.stdout)) as old,
        zipfile.ZipFile(target, "w", zipfile.ZIP_DEFLATED) as new,
    ):
        for part in old.namelist():
            text = old.read(part)
            new.writestr(part, changes[part](text.decode("utf-8")) if part in changes else text)
        new.writestr(f"word/{FOOTER_PART}", FOOTER)


def keep_rows_whole(docx: Path) -> None:
    """Marks every table row of a drawn document so that it is not torn over two pages."""
    with zipfile.ZipFile(docx) as drawn:
        parts = {part: drawn.read(part) for part in drawn.namelist()}
    document = parts[DOCUMENT_PART].decode("utf-8")
    document = document.replace("<w:tr><w:tc>", "<w:tr><w:trPr></w:trPr><w:tc>")
    parts[DOCUMENT_PART] = document.replace("<w:tr><w:trPr>", "<w:tr><w:trPr><w:cantSplit />").encode("utf-8")
    with zipfile.ZipFile(docx, "w", zipfile.ZIP_DEFLATED) as whole:
        for part, content in parts.items():
            whole.writestr(part, content)


def _styles(xml: str) -> str:
    ET.register_namespace("w", MAIN)
    styles = ET.fromstring(xml)
    by_name = {style.find(f"{W}name").get(f"{W}val"): style for style in styles.findall(f"{W}style")}
    for name, look in LOOKS.items():
        _set_paragraph(by_name.get(name) or _added(styles, name, "paragraph"), look)
    for name, colour in CHARACTERS.items():
        style = by_name.get(name) or _added(styles, name, "character")
        _drop(style, "rPr")
        _add(_add(style, "rPr"), "color", val=colour)
    styles.remove(by_name["Table"])
    styles.append(ET.fromstring(TABLE))
    return ET.tostring(styles, encoding="unicode", xml_declaration=True)


def _added(styles: ET.Element, name: str, kind: str) -> ET.Element:
    style = _add(styles, "style", type=kind, styleId=name.replace(" ", ""))
    _add(style, "name", val=name)
    if kind == "paragraph":
        _add(style, "basedOn", val="Normal")
    _add(style, "qFormat")
    return style


def _set_paragraph(style: ET.Element, look: Look) -> None:
    _drop(style, "pPr", "rPr", "link", "semiHidden", "unhideWhenUsed")
    paragraph = _add(style, "pPr")
    if look.keep_next:
        _add(paragraph, "keepNext")
    if look.keep_lines:
        _add(paragraph, "keepLines")
    if look.borders:
        borders = _add(paragraph, "pBdr")
        for side in look.borders:
            _add(borders, side, val="single", sz="12", space="6", color=INK)
    _add(paragraph, "spacing", before=round(20 * look.before), after=round(20 * look.after))
    if look.level is not None:
        _add(paragraph, "outlineLvl", val=look.level)
    letters = _add(style, "rPr")
    _add(letters, "rFonts", ascii=look.face, hAnsi=look.face, cs=look.face)
    if look.bold:
        _add(letters, "b")
    _add(letters, "color", val=look.colour)
    _add(letters, "sz", val=round(2 * look.points))
    _add(letters, "szCs", val=round(2 * look.points))


def _drop(style: ET.Element, *names: str) -> None:
    for child in [child for child in style if child.tag.removeprefix(W) in names]:
        style.remove(child)


def _add(parent: ET.Element, name: str, **values: object) -> ET.Element:
    return ET.SubElement(parent, W + name, {W + key: str(value) for key, value in values.items()})


def _with_paper_and_footer(xml: str) -> str:
    footer = f'<w:sectPr><w:footerReference xmlns:r="{LINKS}" w:type="default" r:id="rIdFooter"/>'
    return xml.replace("<w:sectPr>", footer).replace("</w:sectPr>", f"{PAPER}</w:sectPr>")


def _with_link_to_footer(xml: str) -> str:
    link = f'<Relationship Id="rIdFooter" Type="{LINKS}/footer" Target="{FOOTER_PART}"/>'
    return xml.replace("</Relationships>", f"{link}</Relationships>")


def _with_type_of_footer(xml: str) -> str:
    part = f'<Override PartName="/word/{FOOTER_PART}" ContentType="{FOOTER_TYPE}"/>'
    return xml.replace("</Types>", f"{part}</Types>")
