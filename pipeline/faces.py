"""The type that pages and figures are set in: Source Serif for text, Source Sans for headings, tables and figures.
Their digits are all of one width, so that numbers stand under each other.

Both come as packages of their own, under the SIL Open Font License 1.1. PDF carries them; a page for the screen carries
the letters it needs as a subset, so that it looks alike everywhere and asks the network for nothing. What these faces
lack, such as the joiner of words, is taken from DejaVu, which comes with matplotlib.
"""

from __future__ import annotations

import base64
import io
from dataclasses import dataclass
from functools import cache
from importlib.util import find_spec
from pathlib import Path

from pipeline.kept import kept

TEXT, PLAIN = "Source Serif Pro", "Source Sans Pro"
# Latin letters, and the signs that pages print: dashes, quotes, bullets, daggers, minus, times, comparisons, Greek.
LETTERS = [
    *range(0x20, 0x7F),
    *range(0xA0, 0x180),
    *range(0x2010, 0x2027),
    0x2032,
    0x2033,
    0x20AC,
    0x2190,
    0x2192,
    0x2212,
    0x2248,
    0x2260,
    0x2264,
    0x2265,
    *range(0x391, 0x3CA),
]


@dataclass(frozen=True)
class Face:
    """One file of a family: its package, its name in it, and what it is for."""

    family: str
    package: str
    file: str
    weight: int = 400
    style: str = "normal"

    @property
    def path(self) -> Path:
        return folder_of(self.package) / self.file


FACES = (
    Face(TEXT, "font_source_serif_pro", "SourceSerifPro-Regular.ttf"),
    Face(TEXT, "font_source_serif_pro", "SourceSerifPro-It.ttf", style="italic"),
    Face(TEXT, "font_source_serif_pro", "SourceSerifPro-Bold.ttf", weight=700),
    Face(PLAIN, "font_source_sans_pro", "SourceSansPro-Regular.ttf"),
    Face(PLAIN, "font_source_sans_pro", "SourceSansPro-Bold.ttf", weight=700),
)


def folder_of(package: str) -> Path:
    """Where a package of type keeps its files."""
    return Path(find_spec(package).origin).parent / "files"


def folders() -> list[Path]:
    """All folders that the typesetter of PDFs needs, DejaVu's last."""
    import matplotlib

    own = dict.fromkeys(folder_of(face.package) for face in FACES)
    return [*own, Path(matplotlib.get_data_path()) / "fonts" / "ttf"]


def style_sheet() -> str:
    """@font-face rules that carry the faces, each cut down to LETTERS; as the last run made them where they are kept.

    To be asked for by the thread that knows what is kept: those that draw would each make it.
    """
    return kept().told(lambda: "faces", _rules)


@cache
def _rules() -> str:
    return "\n".join(_rule(face) for face in FACES) + "\n"


def _rule(face: Face) -> str:
    data = base64.b64encode(_subset(face.path)).decode("ascii")
    return (
        f'@font-face {{ font-family: "{face.family}"; font-weight: {face.weight}; font-style: {face.style}; '
        f'src: url("data:font/woff;base64,{data}") format("woff"); }}'
    )


def _subset(path: Path) -> bytes:
    from fontTools import subset

    options = subset.Options(layout_features=["kern", "liga"], flavor="woff", hinting=False)
    options.drop_tables += ["DSIG"]
    font = subset.load_font(str(path), options)
    font.recalcTimestamp = False  # the same bytes on every run
    cut = subset.Subsetter(options)
    cut.populate(unicodes=LETTERS)
    cut.subset(font)
    written = io.BytesIO()
    subset.save_font(font, written, options)
    return written.getvalue()
