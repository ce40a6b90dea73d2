"""Net change per acre of every comparison, with its interval."""

from __future__ import annotations

import textwrap
from pathlib import Path

import pandas as pd
import plotnine as p9

from pipeline.display import theme
from pipeline.display.money import amount, per_acre
from pipeline.display.tables import Markdown
from pipeline.display.wording import capital

ROW_INCH, FRAME_INCH, LABEL_CHARACTERS = 0.3, 0.55, 48


def net_changes(money: pd.DataFrame, *, folder: Path, name: str) -> Markdown:
    """Draws the comparisons that have a budget (rows of reports.money of one crop)."""
    rows = money.reset_index(drop=True)
    rows = rows.assign(y=[float(i) for i in range(len(rows))])
    currency = rows["currency"].iloc[0]
    plot = p9.ggplot(rows, p9.aes("net_change", "y")) + [
        p9.geom_vline(xintercept=0, color=theme.INK, size=0.6),
        p9.geom_segment(p9.aes("conf_low", xend="conf_high", yend="y"), color=theme.AVERAGE, size=1.4),
        p9.geom_point(color=theme.AVERAGE, size=2.4),
        p9.scale_y_reverse(breaks=list(rows["y"]), labels=[textwrap.fill(capital(says), LABEL_CHARACTERS) for says in rows["says"]], expand=(0, 0.5)),
        p9.scale_x_continuous(labels=theme.amounts),
        p9.labs(x=f"Net change, {currency} per acre\n\u2190 costs more than it brings   |   pays \u2192"),
        theme.page_theme(ROW_INCH * len(rows) + FRAME_INCH),
    ]
    caption = "Net change per acre at the planning prices, with the 95 % interval that the average gain gives it."
    told = [f"{row.says}: {amount(row.net_change, currency)} ({per_acre(row.conf_low, row.conf_high, currency)})" for row in rows.itertuples()]
    return theme.figure(plot, folder=folder, name=name, caption=caption, alt=f"Net change per acre. {'. '.join(map(capital, told))}.")
