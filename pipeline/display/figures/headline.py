"""A crop's headline in one dot: its average gain with its interval, no gain and break-even marked.

`headline` is as small as a line of a list takes, `social` as large as a post takes, with the answer in words.
"""

from __future__ import annotations

import textwrap
from collections.abc import Callable, Mapping
from pathlib import Path

import matplotlib.pyplot as plt
import pandas as pd
from matplotlib.axes import Axes
from matplotlib.figure import Figure

from pipeline.display.figures import theme
from pipeline.display.words.answers import interval, is_told
from pipeline.display.words.numbers import number
from pipeline.kept import kept

SMALL = theme.Sheet(3.0, 200, height=0.5, shown=3.0)
POST = theme.Sheet(6.0, 200, height=3.15, shown=6.0)  # 1200 by 630 pixels
NAMED_END = 0.4  # of the span, free at an end where a line's name stands; half of it at another
ANSWER_SIZE, ANSWER_CHARACTERS, SOURCE_CHARACTERS = 18, 48, 88
LETTER = 0.016  # of a post's width, what a letter of the average takes
LINE_ENDS = (-0.6, 1.4)  # the dot stands at 0
CAPTION = "Average gain (dot) with its 95% interval, against no gain and against the gain at which it breaks even."
BAR_POINTS, DOT_POINTS, LINE_POINTS = 2.2, 6.0, 0.8


def headline(
    row: Mapping, even: float | None, *, folder: Path, name: str, caption: str = CAPTION
) -> theme.Picture | str:
    """Draws one average as <name>.png and <name>.svg; '' where too few trials stand behind it.

    Args:
        row: a leading row of reports.gains.
        even: the gain at which it breaks even, in the row's unit; None or NaN without a budget.
    """
    if not is_told(row):
        return ""

    def draw(drawn: Figure) -> None:
        _draw(drawn.add_axes((0.0, 0.0, 1.0, 1.0)), row, even, scale=1.0)

    _save(draw, SMALL, _drawn_of(row, even), folder / name)
    return theme.shown(name, caption=caption, alt=_alt(row, even), width=SMALL.width)


def social(
    row: Mapping, even: float | None, *, answer: str, source: str, folder: Path, name: str
) -> theme.Picture | str:
    """The same in the size that posts show, with the answer above it and its source below; '' as above."""
    if not is_told(row):
        return ""
    words = {"color": theme.INK, "family": theme.FONT}
    above, below = textwrap.fill(answer, ANSWER_CHARACTERS), textwrap.fill(source, SOURCE_CHARACTERS)

    def draw(drawn: Figure) -> None:
        drawn.text(0.05, 0.94, above, va="top", size=ANSWER_SIZE, weight="bold", **words)
        drawn.text(0.05, 0.06, below, va="bottom", size=theme.TEXT_SIZE + 1, **words)
        axes = drawn.add_axes((0.05, 0.22, 0.9, 0.38))
        _draw(axes, row, even, scale=1.7)
        _say(axes, row, words)

    _save(draw, POST, (_drawn_of(row, even), above, below, value(row)), folder / name)
    return theme.shown(name, caption=CAPTION, alt=f"{answer} {_alt(row, even)} {source}", width=POST.width)


def _say(axes: Axes, row: Mapping, words: Mapping) -> None:
    """The average in words below its dot, moved where they would leave the sheet."""
    says = value(row)
    left, right = axes.get_xlim()
    half = (right - left) * LETTER * len(says) / 2
    x = min(max(row["estimate"], left + half), right - half)
    axes.text(x, LINE_ENDS[0], says, ha="center", va="top", size=theme.TEXT_SIZE + 2, **words)


def _draw(axes: Axes, row: Mapping, even: float | None, *, scale: float) -> None:
    """The dot on its interval, a line at no gain and a dashed one at break-even, named on their outer sides."""
    lines = sorted([(0.0, "no gain", "-"), *([] if pd.isna(even) else [(even, "breaks even", "--")])])
    ends = [row["conf_low"], row["conf_high"], *(x for x, _, _ in lines)]
    span = max(ends) - min(ends)
    named = lines[-1][0] + NAMED_END * span if len(lines) > 1 else max(ends)
    axes.set_xlim(min(ends) - NAMED_END * span, max(named, max(ends) + NAMED_END / 2 * span))
    axes.set_ylim(-1.2, 1.5)
    axes.axis("off")
    for (x, says, dashes), outer in zip(lines, ("right", "left")):
        axes.plot([x, x], LINE_ENDS, color=theme.INK, linewidth=LINE_POINTS * scale, linestyle=dashes)
        words = f"{says} " if outer == "right" else f" {says}"
        axes.text(
            x,
            LINE_ENDS[1],
            words,
            ha=outer,
            va="top",
            size=theme.LABEL_SIZE * scale**0.5,
            family=theme.FONT,
            color=theme.INK,
        )
    interval_ends = [row["conf_low"], row["conf_high"]]
    axes.plot(interval_ends, [0, 0], color=theme.AVERAGE, linewidth=BAR_POINTS * scale, solid_capstyle="butt")
    axes.plot([row["estimate"]], [0], "o", color=theme.INK, markersize=DOT_POINTS * scale)


def _drawn_of(row: Mapping, even: float | None) -> tuple[float | None, ...]:
    """What `_draw` draws."""
    return row["estimate"], row["conf_low"], row["conf_high"], even


def _save(draw: Callable[[Figure], None], sheet: theme.Sheet, parts: tuple, file: Path) -> None:
    """Saves what `draw` puts on the sheet; parts: all that it draws, by which the figure is known again."""

    def make() -> None:
        drawn = plt.figure(figsize=(sheet.width, sheet.height))
        try:
            draw(drawn)
            theme.save(drawn, file, sheet)
        finally:
            plt.close(drawn)

    kept().made(lambda: (__name__, sheet, parts), theme.files_of(file, sheet), make)


def _alt(row: Mapping, even: float | None) -> str:
    breaks_even = "" if pd.isna(even) else f" Breaks even at {number(even, row['digits'])} {row['unit']}."
    return f"Average gain {value(row)}. A line marks no gain.{breaks_even}"


def value(row: Mapping) -> str:
    """'1.5 bu/ac (95% interval -2.4 to 5.3 bu/ac)'."""
    return f"{number(row['estimate'], row['digits'])} {row['unit']} ({interval(row)})"
