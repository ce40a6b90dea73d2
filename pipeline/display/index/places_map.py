"""A schematic map of the places with trials, where their positions were delivered; nothing is taken from the
network.
"""

from __future__ import annotations

import math
from pathlib import Path

import pandas as pd
import plotnine as p9

from pipeline.display.figures import theme
from pipeline.display.words.numbers import count, listed
from pipeline.display.words.tables import Markdown

FEWEST_PLACES = 2
MARGIN = 0.12  # of the map's extent, on every side
TALLEST_INCH, LOWEST_INCH = 5.0, 2.2
LETTER_INCH, LINE_INCH = 0.068, 0.15  # a label's size, roughly
DOT_INCH = 0.07
# where a label may stand beside its dot: its anchor, and the steps from the dot
SIDES = {
    "right": ("left", "center", 1, 0),
    "left": ("right", "center", -1, 0),
    "above": ("center", "bottom", 0, 1),
    "below": ("center", "top", 0, -1),
}


def places_map(places: pd.DataFrame, n_in_all: int, *, folder: Path) -> Markdown:
    """Draws the map; empty where fewer than two places have a position.

    Args:
        places: rows of reports.places.
        n_in_all: places with trials, those without a position too.
    """
    if len(places) < FEWEST_PLACES:
        return Markdown()
    rows, (left, right, bottom, top), height = placed(places)

    def plot() -> p9.ggplot:
        return p9.ggplot(rows, p9.aes("x", "y")) + [
            p9.geom_point(color=theme.AVERAGE, size=2.6),
            *_names(rows),
            p9.coord_fixed(ratio=1, xlim=(left, right), ylim=(bottom, top)),
            theme.page_theme(height)
            + p9.theme(
                axis_text=p9.element_blank(),
                axis_title=p9.element_blank(),
                panel_grid_major_x=p9.element_blank(),
                panel_border=p9.element_rect(color=theme.HAIRLINE, fill=None),
            ),
        ]

    caption = _caption(len(places), n_in_all, int(rows["side"].isna().sum()))
    return theme.figure(plot, folder=folder, name="places", caption=caption, alt=_alt(places))


def placed(places: pd.DataFrame) -> tuple[pd.DataFrame, tuple[float, float, float, float], float]:
    """The places with x, y and the side of their name, which those with the most site-years have first; the map's left,
    right, bottom and top; its height in inches.
    """
    narrow = math.cos(math.radians(places["latitude"].mean()))  # a degree of longitude against one of latitude
    rows = places.sort_values("n_site_years", ascending=False, kind="stable")
    rows = rows.assign(x=rows["longitude"] * narrow, y=rows["latitude"])
    left, right, bottom, top = _limits(rows)
    height = min(TALLEST_INCH, max(LOWEST_INCH, theme.WIDTH_INCH * (top - bottom) / (right - left)))
    inch = max((right - left) / theme.WIDTH_INCH, (top - bottom) / height)
    return _labeled(rows, inch, (left, right, bottom, top)), (left, right, bottom, top), height


def _names(rows: pd.DataFrame) -> list[p9.geom_text]:
    return [
        p9.geom_text(
            p9.aes("label_x", "label_y", label="place"),
            data=rows[rows["side"] == side],
            ha=ha,
            va=va,
            size=theme.LABEL_SIZE,
            family=theme.FONT,
            color=theme.INK,
        )
        for side, (ha, va, _, _) in SIDES.items()
        if (rows["side"] == side).any()
    ]


def _limits(rows: pd.DataFrame) -> tuple[float, float, float, float]:
    """left, right, bottom, top with a margin; at least a tenth of a degree each way."""
    ends = []
    for values in (rows["x"], rows["y"]):
        extent = max(values.max() - values.min(), 0.1)
        middle = (values.max() + values.min()) / 2
        ends += [middle - extent * (0.5 + MARGIN), middle + extent * (0.5 + MARGIN)]
    return tuple(ends)


def _labeled(rows: pd.DataFrame, inch: float, limits: tuple[float, float, float, float]) -> pd.DataFrame:
    """Each place with the side its name stands on: the first where it touches neither a dot nor a name placed
    before, nor the edge; None where there is no such side, and the name is left out.
    """
    taken = [(x, y, DOT_INCH * inch, DOT_INCH * inch) for x, y in zip(rows["x"], rows["y"], strict=True)]
    sides = []
    for own, row in enumerate(rows.itertuples()):
        boxes = {side: _box(row, side, inch) for side in SIDES}
        others = taken[:own] + taken[own + 1 :]
        free = (side for side, box in boxes.items() if _within(box, limits) and not _touches(box, others))
        side = next(free, None)
        taken += [] if side is None else [boxes[side]]
        sides.append(side)
    step = DOT_INCH * 1.4 * inch
    moved = [(0, 0) if side is None else SIDES[side][2:] for side in sides]
    return rows.assign(
        side=sides,
        label_x=rows["x"] + [step * dx for dx, _ in moved],
        label_y=rows["y"] + [step * dy for _, dy in moved],
    )


def _box(row, side: str, inch: float) -> tuple[float, float, float, float]:
    """Middle and half extents of a place's name beside its dot."""
    half_width, half_height = len(row.place) * LETTER_INCH * inch / 2, LINE_INCH * inch / 2
    _, _, dx, dy = SIDES[side]
    apart = DOT_INCH * 1.4 * inch
    return row.x + dx * (half_width + apart), row.y + dy * (half_height + apart), half_width, half_height


def _within(box: tuple, limits: tuple[float, float, float, float]) -> bool:
    x, y, half_width, half_height = box
    left, right, bottom, top = limits
    return left <= x - half_width and x + half_width <= right and bottom <= y - half_height and y + half_height <= top


def _touches(one: tuple, others: list[tuple]) -> bool:
    return any(
        abs(one[0] - other[0]) < one[2] + other[2] and abs(one[1] - other[1]) < one[3] + other[3] for other in others
    )


def _caption(n: int, n_in_all: int, n_unnamed: int) -> str:
    unnamed = f", {n_unnamed:,} of them without room for {'its name' if n_unnamed == 1 else 'their names'}"
    where = f"{count(n, 'place')}{unnamed if n_unnamed else ''}"
    told = f"Where the trials are: {where}, north at the top. Positions as delivered"
    without = n_in_all - n
    have = "has" if without == 1 else "have"
    return f"{told}; {count(without, 'other place')} with trials {have} none." if without else f"{told}."


def _alt(places: pd.DataFrame) -> str:
    told = [
        f"{row.place} ({count(row.n_site_years, 'site-year')})"
        for row in places.sort_values("latitude", ascending=False).itertuples()
    ]
    return f"A map of dots without a background. From north to south: {listed(told)}."
