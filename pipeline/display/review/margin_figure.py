"""The average difference against the margin it may not fall below."""

from __future__ import annotations

from pathlib import Path

import pandas as pd
import plotnine as p9

from pipeline.display.figures import theme
from pipeline.display.words.answers import TARGET
from pipeline.display.words.numbers import between, capital, number
from pipeline.display.words.tables import Markdown

ROW_INCH, FRAME_INCH = 0.24, 0.62
LEFT, LEAST_RIGHT = 0.2, 0.03  # beside what is drawn, as shares of its extent: room for the name of the margin
NAME = 0.2  # of the whole width, for the name of no difference


def margin(rows: pd.DataFrame, *, folder: Path, name: str) -> Markdown:
    """Draws one comparison: an interval per target, a line at the margin and at no difference.

    Args:
        rows: rows of reports.as_good of one comparison that have an estimate.
    """
    rows = rows.sort_values("is_declared", ascending=False).reset_index(drop=True)
    rows = rows.assign(y=[float(i) for i in range(len(rows))])
    first = rows.iloc[0]
    same = 1.0 if first["unit"] == "ratio" else 0.0
    room = _room_right(rows, same)
    lines = [
        (first["margin_limit"], f"margin {number(first['margin_limit'], first['digits'])}", "dashed"),
        (same, "no difference", "solid"),
    ]

    def plot() -> p9.ggplot:
        return p9.ggplot(rows, p9.aes("estimate", "y")) + [
            *theme.named_lines(lines, y=-0.75),
            p9.geom_segment(p9.aes("lower_limit", xend="upper_limit", yend="y"), color=theme.AVERAGE, size=1.4),
            p9.geom_point(color=theme.AVERAGE, size=2.4),
            p9.scale_y_reverse(
                breaks=list(rows["y"]),
                labels=[capital(TARGET[target]) for target in rows["target"]],
                expand=(0, 0.4),
            ),
            p9.scale_x_continuous(labels=theme.amounts, expand=(LEFT, 0, room, 0)),
            p9.labs(x=f"Difference, {first['unit']}\n\u2190 fewer passes: yielded less   |   more \u2192"),
            theme.page_theme(ROW_INCH * (len(rows) + 1) + FRAME_INCH),
        ]

    caption = (
        f"{capital(first['says'])}: average difference with its 95% interval. As good needs the whole interval right of"
        " the dashed margin."
    )
    told = [
        f"{TARGET[row.target]} {number(row.estimate, row.digits)}"
        f" ({between(row.lower_limit, row.upper_limit, row.digits)})"
        for row in rows.itertuples()
    ]
    alt = (
        f"Intervals of the difference: {'; '.join(told)} {first['unit']}; the margin is at"
        f" {number(first['margin_limit'], first['digits'])}."
    )
    return theme.figure(plot, folder=folder, name=name, caption=caption, alt=alt)


def _room_right(rows: pd.DataFrame, same: float) -> float:
    """The room that the name of no difference needs right of what is drawn, as a share of its extent."""
    ends = [same, *rows["margin_limit"], *rows["lower_limit"], *rows["upper_limit"]]
    there = (max(ends) - same) / (max(ends) - min(ends))
    return max(LEAST_RIGHT, (NAME * (1 + LEFT) - there) / (1 - NAME))
