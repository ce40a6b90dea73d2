"""One look for all figures, and how a figure gets into a page."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from pathlib import Path

import matplotlib

matplotlib.use("Agg")

import matplotlib.pyplot as plt
import numpy as np
import plotnine as p9
from matplotlib import font_manager
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.figure import Figure
from PIL import Image
from plotnine.mapping import Environment

from pipeline import faces
from pipeline.display.words.numbers import MINUS
from pipeline.display.words.tables import Markdown, escaped
from pipeline.kept import kept

# Told apart by lightness alone, so that they survive grey print and color-blind eyes.
INK = "#1c1c1c"
QUIET = "#5a5a5a"
HAIRLINE = "#d9d9d9"
RANGE = "#9a9a9a"
AVERAGE = "#1f4e79"
BAND = "#dbe6f0"

WIDTH_INCH = 6.5
DPI = 200
PALETTE = 64  # colors of a saved picture; figures use six and their blends at edges
PNG_EFFORT = 8  # of 9, which takes more than twice as long and saves a twentieth of the size
TEXT_SIZE = 9.5
LABEL_SIZE = 9.0  # of words written beside what they name
FONT = faces.PLAIN
HEADING = {"ha": "left", "fontweight": "bold", "size": TEXT_SIZE, "family": FONT, "color": INK}  # of rows in a figure

SVG_SALT = "manyfields"  # else the names inside an SVG are drawn by lot
SVG_SIZE = re.compile(r'width="[\d.]+pt" height="[\d.]+pt"')


@dataclass(frozen=True)
class Sheet:
    """What a figure is drawn on, in inches; letters have the same size on all, so a narrower one is read from farther
    away.

    height: where not each figure has its own. shown: the width at which it is shown, for a picture that stands by
    itself; such a one is kept as SVG too.
    """

    width: float
    dpi: float
    height: float | None = None
    shown: float | None = None


PAGE = Sheet(WIDTH_INCH, DPI)
SITE_YEAR = Sheet(5.2, DPI)  # narrow enough that its letters read on a telephone too
PHONE = Sheet(3.6, DPI)  # shown at 90 to 100 percent on a telephone
# Under a question, on a slide of 13.33 by 7.5 inches: 1920 pixels wide, letters of 20 points.
SLIDE = Sheet(5.8, 1920 / 5.8, height=2.34, shown=12.5)


class Picture(Markdown):
    """The Markdown that shows a figure, with what it says."""

    caption: str
    alt: str


for face in faces.FACES:
    if face.family == FONT:
        font_manager.fontManager.addfont(face.path)


def page_theme(height_inch: float, sheet: Sheet = PAGE) -> p9.theme:
    """The theme of every figure; height_inch: on a sheet that has none of its own."""
    return p9.theme_minimal(base_size=TEXT_SIZE, base_family=FONT) + p9.theme(
        figure_size=(sheet.width, sheet.height or height_inch),
        dpi=sheet.dpi,
        text=p9.element_text(color=INK),
        axis_text=p9.element_text(color=INK, size=TEXT_SIZE),
        axis_title=p9.element_text(color=INK, size=TEXT_SIZE),
        panel_grid_minor=p9.element_blank(),
        panel_grid_major_y=p9.element_blank(),
        panel_grid_major_x=p9.element_line(color=HAIRLINE, size=0.4),
        axis_title_y=p9.element_blank(),
        legend_position="none",
        strip_text=p9.element_text(ha="left", weight="bold", size=TEXT_SIZE),
        plot_margin=0.01,
    )


def amounts(values: Iterable[float]) -> list[str]:
    """An axis' numbers, with a true minus sign and no more decimals than they need."""
    return [f"{value:,g}".replace("-", MINUS) for value in values]


def named_lines(lines: Iterable[tuple[float, str, str]], *, y: float) -> list:
    """Upright lines with their names beside them at height `y`, on the outer sides where there are two.

    Args:
        lines: where each stands, its name and its line type; one or two.
    """
    layers: list = []
    for (x, says, line), outer in zip(sorted(lines), ("right", "left"), strict=False):
        words = f"{says} " if outer == "right" else f" {says}"
        layers += [
            p9.geom_vline(xintercept=x, color=INK, size=0.6, linetype=line),
            p9.annotate("text", x=x, y=y, label=words, ha=outer, size=LABEL_SIZE, family=FONT, color=INK),
        ]
    return layers


def _save_png(drawn: Figure, png: Path, sheet: Sheet) -> None:
    """With a palette: a quarter of the size, so that a page that carries many stays small. Drawn once, where savefig
    draws twice and encodes all colors.
    """
    canvas = FigureCanvasAgg(drawn)
    drawn.set_dpi(sheet.dpi)
    canvas.draw()
    picture = Image.fromarray(np.asarray(canvas.buffer_rgba())).convert("RGB")
    few = picture.quantize(PALETTE, method=Image.Quantize.FASTOCTREE, dither=Image.Dither.NONE)
    few.putpalette([255 if channel == 254 else channel for channel in few.getpalette()])  # paper stays white
    dpi = sheet.dpi * sheet.width / (sheet.shown or sheet.width)
    few.save(png, dpi=(dpi, dpi), compress_level=PNG_EFFORT)


def files_of(file: Path, sheet: Sheet) -> list[Path]:
    """What `save` writes."""
    kinds = ("png",) if sheet.shown is None else ("png", "svg")
    return [file.with_name(f"{file.name}.{kind}") for kind in kinds]


def save(drawn: Figure, file: Path, sheet: Sheet) -> None:
    """Saves a figure as <file>.png, and as <file>.svg where it is to stand by itself: the same bytes on every run."""
    _save_png(drawn, file.with_name(f"{file.name}.png"), sheet)
    if sheet.shown is None:
        return
    svg = file.with_name(f"{file.name}.svg")
    with plt.rc_context({"svg.hashsalt": SVG_SALT}):
        drawn.savefig(svg, metadata={"Date": None, "Creator": None})
    width, height = drawn.get_size_inches()
    size = f'width="{sheet.shown:g}in" height="{sheet.shown * height / width:.3f}in"'
    svg.write_text(SVG_SIZE.sub(size, svg.read_text(encoding="utf-8"), count=1), encoding="utf-8")


def _of_its_data_alone(plot: p9.ggplot) -> p9.ggplot:
    """The plot without the variables of the functions that made it, which the words of an `aes` could name."""
    nothing = Environment([])
    for part in (plot, plot.facet, *(part for layer in plot.layers for part in (layer.geom, layer.stat))):
        part.environment = nothing
    return plot


def figure(
    plot: Callable[[], p9.ggplot], *, folder: Path, name: str, caption: str, alt: str, sheet: Sheet = PAGE
) -> Picture:
    """Saves a plot as <name>.png in `folder` and returns the Markdown that shows it as @fig-<name>.

    Args:
        plot: makes the plot; called only where the figure is not kept. It is known by the variables of the function
            around it that it uses: hold there what is drawn and no more.
        alt: what the picture says, for readers who do not see it.
    """

    def draw() -> None:
        drawn = _of_its_data_alone(plot()).draw()
        try:
            save(drawn, folder / name, sheet)
        finally:
            plt.close(drawn)

    kept().made(lambda: (plot, sheet), files_of(folder / name, sheet), draw)
    return shown(name, caption=caption, alt=alt, width=sheet.width)


def on_both(draw: Callable[..., Picture], *, name: str) -> Picture:
    """A figure of a page, and beside it the same drawn for a telephone, which HTML shows on a narrow screen instead.

    draw: one of the figures' functions, which takes name and sheet.
    """
    wide = draw(name=name, sheet=PAGE)
    narrow = f"{name}-narrow"
    draw(name=narrow, sheet=PHONE)
    return shown(name, caption=wide.caption, alt=wide.alt, width=PAGE.width, more=f" narrow={narrow}.png")


def shown(name: str, *, caption: str, alt: str, width: float, below: str = "", more: str = "") -> Picture:
    """The Markdown of a picture that was saved; width in inches, below: its folder, as 'figures/', more: attributes."""
    quoted = alt.replace("\\", "").replace('"', "'")
    picture = Picture(
        f'![{escaped(caption)}]({below}{name}.png){{#fig-{name} fig-alt="{quoted}" width={width}in{more}}}\n'
    )
    picture.caption, picture.alt = caption, alt
    return picture
