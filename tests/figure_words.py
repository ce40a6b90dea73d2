"""What is wrong with a drawn figure: words on each other, words that its edge cuts off, more height than a page has."""

from __future__ import annotations

import re
from collections.abc import Iterator
from itertools import combinations
from unittest.mock import patch

import pytest
from matplotlib.backends.backend_agg import FigureCanvasAgg, RendererAgg
from matplotlib.figure import Figure
from matplotlib.text import Text
from matplotlib.transforms import Bbox

from pipeline.display.figures import theme

# Shares of a line's height: what its box keeps free for letters with a tail, and what may be cut off of that.
FREE, CUT = 0.3, 0.1
SEASON = re.compile(r"\d\d")  # the mark of a site-year where seasons are many: it lies where its values do
TALLEST_INCH = 8.4  # of a page, with a caption of three lines


def seen_in(monkeypatch: pytest.MonkeyPatch) -> list[str]:
    """The faults of every figure that is drawn from now on, which is not saved."""
    found: list[str] = []
    monkeypatch.setattr(theme, "save", lambda drawn, file, sheet: found.extend(faults(drawn)))
    return found


def faults(figure: Figure) -> Iterator[str]:
    """A sentence for each pair of words on each other, for each word that is cut off, and for too much height."""
    boxes = list(_boxes(figure))
    for (one, box), (other, other_box) in combinations(boxes, 2):
        if _is_on(box, other_box) and not (SEASON.fullmatch(one) and SEASON.fullmatch(other)):
            yield f"{one!r} lies on {other!r}"
    width, height = figure.get_size_inches()
    if width > theme.PHONE.width and height > TALLEST_INCH:
        yield f"{height:.1f} inches high"
    page = figure.bbox
    for words, box in boxes:
        spare = CUT * box.height
        if box.x0 < page.x0 - spare or box.x1 > page.x1 + spare or box.y0 < page.y0 - spare or box.y1 > page.y1 + spare:
            yield f"{words!r} is cut off"


def _boxes(figure: Figure) -> Iterator[tuple[str, Bbox]]:
    """The words that are drawn, line by line or in several lines, with the box in which each stands, in pixels."""
    drawn: dict[Text, None] = {}
    real = RendererAgg.draw_text

    def noted(self, gc, x, y, words, prop, angle, ismath=False, mtext=None):
        if mtext is not None:
            drawn[mtext] = None
        return real(self, gc, x, y, words, prop, angle, ismath=ismath, mtext=mtext)

    canvas = FigureCanvasAgg(figure)
    with patch.object(RendererAgg, "draw_text", noted):
        canvas.draw()
    for text in drawn:
        yield text.get_text(), text.get_window_extent(canvas.get_renderer())


def _is_on(one: Bbox, other: Bbox) -> bool:
    width = min(one.x1, other.x1) - max(one.x0, other.x0)
    height = min(one.y1, other.y1) - max(one.y0, other.y0)
    return width > 1 and height > FREE * min(one.height, other.height)
