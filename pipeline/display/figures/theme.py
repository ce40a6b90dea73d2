"""One look for all figures, and how a figure gets into a page."""

from __future__ import annotations

from collections.abc import Iterable
from pathlib import Path

import matplotlib

matplotlib.use("Agg")

import matplotlib.pyplot as plt
import plotnine as p9
from matplotlib import font_manager
from PIL import Image

from pipeline import faces
from pipeline.display.words.numbers import MINUS
from pipeline.display.words.tables import Markdown, escaped

# Told apart by lightness alone, so that they survive grey print and colour-blind eyes.
INK = "#1c1c1c"
QUIET = "#5a5a5a"
HAIRLINE = "#d9d9d9"
RANGE = "#9a9a9a"
AVERAGE = "#1f4e79"
BAND = "#dbe6f0"

WIDTH_INCH = 6.5
DPI = 200
PALETTE = 64  # colours of a saved picture; figures use six and their blends at edges
TEXT_SIZE = 9.5
LABEL_SIZE = 9.0  # of words written beside what they name
FONT = faces.PLAIN

for face in faces.FACES:
    if face.family == FONT:
        font_manager.fontManager.addfont(face.path)


def page_theme(height_inch: float) -> p9.theme:
    """The theme of every figure."""
    return p9.theme_minimal(base_size=TEXT_SIZE, base_family=FONT) + p9.theme(
        figure_size=(WIDTH_INCH, height_inch),
        dpi=DPI,
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


def _shrink(png: Path) -> None:
    """Rewrites a picture with a palette: a quarter of the size, so that a page that carries many stays small."""
    with Image.open(png) as picture:
        few = picture.convert("RGB").quantize(PALETTE, method=Image.Quantize.FASTOCTREE, dither=Image.Dither.NONE)
    few.putpalette([255 if channel == 254 else channel for channel in few.getpalette()])  # paper stays white
    few.save(png, dpi=(DPI, DPI), optimize=True)


def figure(plot: p9.ggplot, *, folder: Path, name: str, caption: str, alt: str) -> Markdown:
    """Saves a plot as <name>.png in `folder` and returns the Markdown that shows it as @fig-<name>.

    `alt` says what the picture says, for readers who do not see it.
    """
    drawn = plot.draw()
    try:
        drawn.savefig(folder / f"{name}.png", dpi=DPI)
        _shrink(folder / f"{name}.png")
    finally:
        plt.close(drawn)
    quoted = alt.replace("\\", "").replace('"', "'")
    return Markdown(f'![{escaped(caption)}]({name}.png){{#fig-{name} fig-alt="{quoted}" width={WIDTH_INCH}in}}\n')
