"""The look of the DOCX: a reference document of named styles, as the two page looks in reports/ have them.

It is pandoc's own reference document with its styles changed, so that whoever edits a report in a word processor
changes a style once and the whole report follows. What python-docx has no words for is written as elements of ECMA-376,
part 1 (WordprocessingML).
"""

from __future__ import annotations

import io
import subprocess
from dataclasses import dataclass, replace
from pathlib import Path

from docx import Document
from docx.enum.style import WD_STYLE_TYPE
from docx.enum.text import WD_TAB_ALIGNMENT
from docx.oxml import OxmlElement, parse_xml
from docx.oxml.ns import nsdecls, qn
from docx.section import Section
from docx.shared import Inches, Pt, RGBColor
from docx.styles.style import BaseStyle, ParagraphStyle
from docx.styles.styles import Styles
from docx.text.paragraph import Paragraph

from pipeline.publishing import engines
from pipeline.publishing.office_files import PROPERTIES, rewrite, without_times

TEXT_FACE, PLAIN_FACE = "Cambria", "Calibri"
INK, QUIET, LINK = "141414", "555555", "1F4E79"
RULE, HAIRLINE = "969696", "D6D6D6"
MARGIN_INCH, DENSE_MARGIN_INCH = 0.95, 0.75  # at the top and the foot
DENSE_LETTERS, DENSE_SPACES = 0.85, 0.5
BOX = ("top", "left", "bottom", "right")


@dataclass(frozen=True)
class Look:
    """A paragraph style; sizes and spaces in points, borders as sides of the paragraph."""

    face: str
    points: float
    bold: bool = False
    color: str = INK
    before: float = 0
    after: float = 0
    keep_next: bool = False
    keep_lines: bool = False
    borders: tuple[str, ...] = ()
    level: int | None = None  # of a heading


LOOKS = {
    "Body Text": Look(TEXT_FACE, 11, before=6, after=4),
    "Program": Look(PLAIN_FACE, 9, color=QUIET),
    "Title": Look(PLAIN_FACE, 18, bold=True, after=4),
    "Subtitle": Look(PLAIN_FACE, 11, color=QUIET, after=12, borders=("bottom",)),
    "Provisional": Look(PLAIN_FACE, 11, before=6, after=12, borders=BOX),
    "Heading 1": Look(PLAIN_FACE, 14, bold=True, before=18, after=6, keep_next=True, level=0),
    "Heading 2": Look(PLAIN_FACE, 12, bold=True, before=14, after=6, keep_next=True, level=1),
    "Heading 3": Look(PLAIN_FACE, 11, bold=True, before=12, after=4, keep_next=True, level=2),
    "Caption": Look(PLAIN_FACE, 9, after=6),
    "Table Caption": Look(PLAIN_FACE, 9, before=12, after=6, keep_next=True),
    "Table Text": Look(PLAIN_FACE, 9, before=2, after=2, keep_lines=True),
    "Table Text Kept": Look(PLAIN_FACE, 9, before=2, after=2, keep_lines=True, keep_next=True),
    "Table Heading": Look(PLAIN_FACE, 9, bold=True, before=2, after=2, keep_next=True),
    "Block Text": Look(TEXT_FACE, 11, before=4, after=4, keep_lines=True, borders=("left",)),
    "Block Text Kept": Look(TEXT_FACE, 11, before=4, after=4, keep_lines=True, keep_next=True, borders=("left",)),
    "Footnote Text": Look(TEXT_FACE, 9),
    "Footer": Look(PLAIN_FACE, 8, color=QUIET),
}
CHARACTERS = {"Grey": QUIET, "Hyperlink": LINK}
TABLE = f"""<w:style {nsdecls("w")} w:type="table" w:default="1" w:styleId="Table"><w:name w:val="Table"/><w:qFormat/>
<w:tblPr><w:tblBorders><w:bottom w:val="single" w:sz="4" w:color="{RULE}"/>
<w:insideH w:val="single" w:sz="4" w:color="{HAIRLINE}"/>
</w:tblBorders><w:tblCellMar><w:left w:w="0" w:type="dxa"/><w:right w:w="120" w:type="dxa"/></w:tblCellMar></w:tblPr>
<w:tblStylePr w:type="firstRow"><w:tcPr><w:tcBorders><w:bottom w:val="single" w:sz="8" w:color="{INK}"/></w:tcBorders>
<w:vAlign w:val="bottom"/></w:tcPr></w:tblStylePr></w:style>"""


def write_reference(target: Path, *, dense: bool = False) -> None:
    """Writes the reference document that pandoc takes the styles, the paper and the footer from; dense: for a sheet of
    two sides.
    """
    default = subprocess.run(
        [*engines.pandoc(), "--print-default-data-file=reference.docx"],
        capture_output=True,
        check=True,
    )
    document = Document(io.BytesIO(default.stdout))
    _set_styles(document.styles, {name: _denser(look) for name, look in LOOKS.items()} if dense else LOOKS)
    _set_paper(document.sections[0], DENSE_MARGIN_INCH if dense else MARGIN_INCH)
    _write_footer(document.sections[0].footer.paragraphs[0])
    document.save(target)


def finish(docx: Path) -> None:
    """What pandoc's writer leaves out: rows that are not torn over two pages; and without the time of drawing."""
    rewrite(docx.read_bytes(), docx, {"word/document.xml": _keep_rows_whole, PROPERTIES: without_times})


def _keep_rows_whole(root) -> None:
    for row in root.iter(qn("w:tr")):
        row.get_or_add_trPr().insert(0, OxmlElement("w:cantSplit"))


def _denser(look: Look) -> Look:
    return replace(
        look, points=look.points * DENSE_LETTERS, before=look.before * DENSE_SPACES, after=look.after * DENSE_SPACES
    )


def _set_styles(styles: Styles, looks: dict[str, Look]) -> None:
    by_name = {style.name: style for style in styles}
    for name, look in looks.items():
        _set_paragraph(by_name.get(name) or _added(styles, name, WD_STYLE_TYPE.PARAGRAPH), look)
    for name, color in CHARACTERS.items():
        style = by_name.get(name) or _added(styles, name, WD_STYLE_TYPE.CHARACTER)
        style.element.remove_all("w:rPr")
        style.font.color.rgb = RGBColor.from_string(color)
    by_name["Table"].delete()
    styles.element.append(parse_xml(TABLE))


def _added(styles: Styles, name: str, kind: WD_STYLE_TYPE) -> BaseStyle:
    style = styles.add_style(name, kind, builtin=True)
    style.element.styleId = name.replace(" ", "")  # as pandoc and the template name it
    if kind is WD_STYLE_TYPE.PARAGRAPH:
        style.base_style = styles["Normal"]
    style.quick_style = True
    return style


def _set_paragraph(style: ParagraphStyle, look: Look) -> None:
    style.element.remove_all("w:pPr", "w:rPr", "w:link", "w:semiHidden", "w:unhideWhenUsed")
    style.font.name, style.font.size, style.font.color.rgb = (
        look.face,
        Pt(look.points),
        RGBColor.from_string(look.color),
    )
    style.font.bold = look.bold or None
    paragraph = style.paragraph_format
    paragraph.space_before, paragraph.space_after = Pt(look.before), Pt(look.after)
    paragraph.keep_with_next, paragraph.keep_together = look.keep_next or None, look.keep_lines or None
    if look.borders:
        sides = [_element(f"w:{side}", val="single", sz="12", space="6", color=INK) for side in look.borders]
        style.element.pPr.insert_element_before(_element("w:pBdr", *sides), "w:spacing")
    if look.level is not None:
        style.element.pPr.append(_element("w:outlineLvl", val=str(look.level)))


def _set_paper(section: Section, margin_inch: float) -> None:
    """US Letter; the text is 6.5 inches wide."""
    section.page_width, section.page_height = Inches(8.5), Inches(11)
    section.top_margin = section.bottom_margin = Inches(margin_inch)
    section.left_margin, section.right_margin, section.gutter = Inches(1), Inches(1), Inches(0)
    section.header_distance, section.footer_distance = Inches(0.5), Inches(0.5)


def _write_footer(paragraph: Paragraph) -> None:
    """Title and program left, page of pages right."""
    paragraph.paragraph_format.tab_stops.add_tab_stop(Inches(6.5), WD_TAB_ALIGNMENT.RIGHT)
    for field, after in (("TITLE", "   "), ("SUBJECT", "\t"), ("PAGE", " / "), ("NUMPAGES", "")):
        paragraph._p.append(_element("w:fldSimple", instr=field))
        if after:
            paragraph.add_run(after)


def _element(tag: str, *children: object, **values: str) -> object:
    found = OxmlElement(tag)
    for name, value in values.items():
        found.set(qn(f"w:{name}"), value)
    found.extend(children)
    return found
