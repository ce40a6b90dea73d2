"""Half-width to expect over more site-years, a line per number of more seasons."""

from __future__ import annotations

from pathlib import Path

import pandas as pd
import plotnine as p9

from pipeline.display import theme
from pipeline.display.numbers import count, number
from pipeline.display.tables import Markdown
from pipeline.display.wording import TARGET

HEIGHT_INCH = 1.7
LINES = ("solid", "dashed", "dotted")


def outlook(rows: pd.DataFrame, *, folder: Path, name: str) -> Markdown:
    """Draws one comparison and target at one number of blocks (rows of reports.outlook with a half-width, now left out)."""
    rows = rows.assign(seasons=[count(n, "more season") for n in rows["more_seasons"]])
    unit, digits, target = rows.iloc[0][["unit", "digits", "target"]]
    plot = p9.ggplot(rows, p9.aes("more_site_years", "half_width", linetype="seasons", group="seasons")) + [
        p9.geom_line(color=theme.AVERAGE, size=0.8),
        p9.geom_point(color=theme.INK, size=1.8),
        p9.scale_linetype_manual(values=LINES[: rows["seasons"].nunique()]),
        p9.scale_x_continuous(breaks=sorted(rows["more_site_years"].unique()), labels=theme.amounts),
        p9.scale_y_continuous(labels=theme.amounts, limits=(0, None)),
        p9.labs(x="More site-years", y=f"Half-width, {unit}", linetype=""),
        theme.page_theme(HEIGHT_INCH) + p9.theme(
            legend_position="right", legend_key_width=26, axis_title_y=p9.element_text(angle=90, margin={"r": 6, "units": "pt"}), legend_title=p9.element_blank(),
            legend_text=p9.element_text(size=theme.LABEL_SIZE),
        ),
    ]  # fmt: skip
    caption = f"Half-width of the 95 % interval to expect {TARGET[target]}, by more site-years and the seasons they are spread over."
    told = [f"{row.more_site_years} site-years over {row.seasons}: {number(row.half_width, digits)}" for row in rows.itertuples()]
    return theme.figure(plot, folder=folder, name=name, caption=caption, alt=f"Half-width to expect, {unit}. {'; '.join(told)}.")
