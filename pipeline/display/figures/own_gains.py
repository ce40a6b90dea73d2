"""A cooperator's gains beside the program's average and the range expected of one trial."""

from __future__ import annotations

import textwrap
from pathlib import Path

import pandas as pd
import plotnine as p9

from pipeline.display import theme
from pipeline.display.numbers import count, number
from pipeline.display.tables import Markdown
from pipeline.display.wording import capital

ROW_INCH = 0.42
FRAME_INCH = 0.62
LABEL_CHARACTERS = 42
APART = 0.17  # half the distance between a row's own line and the program's


def own_gains(own: pd.DataFrame, averages: pd.DataFrame, *, folder: Path, name: str) -> Markdown:
    """Draws one crop of one site-year, a row per comparison.

    Args:
        own: rows of reports.site_year_gains with says, conf_low and conf_high.
        averages: leading rows of reports.gains over all site-years, in the seasons tested.
    """
    rows = own.merge(averages, on="comparison_id", suffixes=("", "_average")).sort_values("position").reset_index(drop=True)
    rows = rows.assign(y=[float(i) for i in range(len(rows))])
    labels = [textwrap.fill(capital(says), LABEL_CHARACTERS) for says in rows["says"]]
    first = rows.iloc[0]
    plot = (
        p9.ggplot(rows)
        + p9.geom_vline(xintercept=0, color=theme.INK, size=0.6)
        + p9.geom_segment(
            p9.aes(x="observed_low", xend="observed_high", y=_below("y"), yend=_below("y")), color=theme.RANGE, size=0.5, na_rm=True
        )
        + p9.geom_segment(
            p9.aes(x="conf_low_average", xend="conf_high_average", y=_below("y"), yend=_below("y")),
            color=theme.AVERAGE, size=1.6, na_rm=True,
        )
        + p9.geom_segment(p9.aes(x="conf_low", xend="conf_high", y=_above("y"), yend=_above("y")), color=theme.INK, size=0.7, na_rm=True)
        + p9.geom_point(p9.aes("gain", _above("y")), color=theme.INK, size=2.2)
        + _beside(first, "conf_high", -APART, "this trial")
        + _beside(first, "observed_high", APART, f"program, {count(first['n_site_years'], 'site-year')}")
        + p9.scale_y_reverse(breaks=list(rows["y"]), labels=labels, expand=(0, 0.45))
        + p9.scale_x_continuous(expand=(0.03, 0, 0.22, 0))
        + p9.labs(x=f"Gain, {first['unit']}")
        + theme.page_theme(ROW_INCH * len(rows) + FRAME_INCH)
    )  # fmt: skip
    return theme.figure(plot, folder=folder, name=name, caption=_caption(first), alt=_alt(rows))


def _above(column: str) -> str:
    return f"{column} - {APART}"


def _below(column: str) -> str:
    return f"{column} + {APART}"


def _beside(row: pd.Series, column: str, offset: float, words: str) -> p9.annotate | list:
    """Words right of a line's end, so that no key is needed."""
    if pd.isna(row[column]):
        return []
    label = f"  {words}"
    return p9.annotate("text", x=row[column], y=row["y"] + offset, label=label, ha="left", va="center", size=theme.LABEL_SIZE, family=theme.FONT)


def _caption(row: pd.Series) -> str:
    return (
        f"{capital(row['crop'])} in {row['season']}: the gain here (dot) with its 95 % interval; below it, in each row, the program's "
        "average in the seasons tested (thick) inside the range expected of one trial's result (thin)."
    )


def _alt(rows: pd.DataFrame) -> str:
    told = [
        f"{row.says}: here {number(row.gain, row.digits)}, program average {number(row.estimate, row.digits)} {row.unit}"
        for row in rows.itertuples()
    ]
    return f"Gains of this site-year beside the program's averages. {'. '.join(map(capital, told))}."
