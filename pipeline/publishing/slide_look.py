"""The look of the slides: pandoc's own reference deck with faces, sizes and places changed, so that a slide is
a question, its answer, one picture or table, and where that comes from.

Places are in inches of the deck's 10 by 5.625, sizes in its points; on a screen of 13.33 by 7.5 inches both are a
third larger. Elements are those of ECMA-376, part 1 (PresentationML, DrawingML).
"""

from __future__ import annotations

import subprocess
import zipfile
from collections.abc import Mapping
from pathlib import Path

from pipeline import faces
from pipeline.publishing import engines
from pipeline.publishing.office_files import PROPERTIES, rewrite, without_times

A = "{http://schemas.openxmlformats.org/drawingml/2006/main}"
P = "{http://schemas.openxmlformats.org/presentationml/2006/main}"
EMU_PER_INCH = 914400
SANS_SERIF = "34"  # pitch and family: what stands in where the face is missing
INK, ACCENT = "141414", "1F4E79"
LEFT, WIDTH = 0.46, 9.08
TITLE, BODY, SOURCE, TABLE = 24, 16, 10, 13  # SOURCE as filter.lua has it
# Left, top, width and height of the places of a layout, and the size of their letters, by type and number of the place.
TITLE_PLACE = (LEFT, 0.16, WIDTH, 0.56), TITLE
MASTER = {("title", None): TITLE_PLACE, ("body", "1"): ((LEFT, 0.86, WIDTH, 4.5), BODY)}
TITLE_SLIDE = {("ctrTitle", None): ((LEFT, 1.2, WIDTH, 1.3), 32), ("subTitle", "1"): ((LEFT, 2.6, WIDTH, 1.6), 16)}
PICTURE_SLIDE = {  # its source stands as the caption at the foot of the picture's place
    ("title", None): TITLE_PLACE,
    (None, "1"): ((LEFT, 1.6, WIDTH, 3.9), SOURCE),
    ("body", "2"): ((LEFT, 0.72, WIDTH, 0.86), 14),
}


def write_reference(target: Path) -> None:
    """Writes the reference deck that pandoc takes the faces, the sizes and the places from."""
    default = subprocess.run(
        [*engines.pandoc(), "--print-default-data-file=reference.pptx"], capture_output=True, check=True
    )
    changes = {
        "ppt/theme/theme1.xml": _set_theme,
        "ppt/slideMasters/slideMaster1.xml": _set_master,
        "ppt/slideLayouts/slideLayout1.xml": lambda root: _set_places(root, TITLE_SLIDE),
        "ppt/slideLayouts/slideLayout8.xml": lambda root: _set_places(root, PICTURE_SLIDE),
    }
    rewrite(default.stdout, target, changes)


def finish(pptx: Path) -> None:
    """What pandoc's writer leaves out: alternative text by itself, numbers that differ, letters that fit a table."""
    with zipfile.ZipFile(pptx) as deck:
        slides = [name for name in deck.namelist() if name.startswith("ppt/slides/slide")]
    rewrite(pptx.read_bytes(), pptx, {PROPERTIES: without_times, **dict.fromkeys(slides, _finish_slide)})


def _set_theme(root) -> None:
    for font in ("majorFont", "minorFont"):
        latin = root.find(f".//{A}{font}/{A}latin")
        latin.attrib.clear()
        latin.attrib.update({"typeface": faces.PLAIN, "pitchFamily": SANS_SERIF, "charset": "0"})
    for name, color in (("dk1", INK), ("accent1", ACCENT)):
        slot = root.find(f".//{A}clrScheme/{A}{name}")
        slot[:] = [slot.makeelement(f"{A}srgbClr", {"val": color})]


def _set_master(root) -> None:
    _set_places(root, MASTER)
    for style, points in (("titleStyle", TITLE), ("bodyStyle", BODY)):
        level = root.find(f".//{P}{style}/{A}lvl1pPr")
        level.set("algn", "l")
        level.find(f"{A}defRPr").set("sz", str(100 * points))
    root.find(f".//{P}titleStyle/{A}lvl1pPr/{A}defRPr").set("b", "1")


def _set_places(root, places: Mapping[tuple, tuple]) -> None:
    for shape in root.iter(f"{P}sp"):
        place = shape.find(f".//{P}ph")
        if place is None or (place.get("type"), place.get("idx")) not in places:
            continue
        where, points = places[place.get("type"), place.get("idx")]
        left, top, width, height = (str(round(inches * EMU_PER_INCH)) for inches in where)
        box = shape.find(f"{P}spPr/{A}xfrm")
        box.find(f"{A}off").attrib.update({"x": left, "y": top})
        box.find(f"{A}ext").attrib.update({"cx": width, "cy": height})
        shape.find(f".//{A}bodyPr").set("anchor", "b" if place.get("type") in ("title", "ctrTitle") else "t")
        _set_level(shape.find(f".//{A}lstStyle"), points)


def _set_level(levels, points: float) -> None:
    level = levels.find(f"{A}lvl1pPr")
    if level is None:
        return
    level.set("algn", "l")
    letters = level.find(f"{A}defRPr")
    letters.set("sz", str(100 * points))
    letters[:] = []  # no grey of their own, which is too pale on white


def _finish_slide(root) -> None:
    for number, named in enumerate(root.iter(f"{P}cNvPr"), 1):
        named.set("id", str(number))
    for picture in root.iter(f"{P}pic"):
        named = picture.find(f".//{P}cNvPr")
        named.set("descr", named.get("descr").rsplit(None, 1)[0])  # pandoc puts the file's name behind it
    for letters in root.iterfind(f".//{A}tbl//{A}rPr"):
        letters.set("sz", str(100 * TABLE))
