"""A cooperator's gains beside the program's average and the range expected of one trial.

Drawn at the decimals that are printed: figure and table agree, and a change too small to print draws no figure anew.
"""

from __future__ import annotations

import textwrap
from pathlib import Path

import numpy as np
import pandas as pd
import plotnine as p9

from pipeline.display.figures import theme
from pipeline.display.words.numbers import capital, counts, metric, number
from pipeline.display.words.tables import Markdown

ROW_INCH = 0.46
LINE_INCH = 0.165  # of a label, which may need more height than its row
FRAME_INCH = 0.62
LABEL_CHARACTERS = 30
APART = 0.17  # half the distance between a row's own line and the average's
TICK = 0.36  # half the height of the mark from which it pays
THIS_TRIAL, AVERAGE = "  this trial", "  average"  # beside what they name
AMOUNTS = ("gain", "conf_low", "conf_high", "conf_low_average", "conf_high_average", "observed_low", "observed_high",
           "even")  # fmt: skip


def own_gains(own: pd.DataFrame, averages: pd.DataFrame, break_even: pd.Series, *, folder: Path, name: str) -> Markdown:
    """Draws one crop of one site-year, a row per comparison.

    Args:
        own: rows of reports.site_year_gains with conf_low and conf_high.
        averages: leading rows of reports.gains over all site-years, in the seasons tested.
        break_even: the gain from which a comparison pays, in its unit, by comparison_id; those without a budget are not
            in it.
    """
    rows = (
        own.merge(averages, on="comparison_id", suffixes=("", "_average"))
        .sort_values("position")
        .reset_index(drop=True)
    )
    rows = rows.assign(y=[float(i) for i in range(len(rows))], even=rows["comparison_id"].map(break_even).astype(float))
    shown = _as_printed(rows)
    lines = _lines(shown)
    labels = [textwrap.fill(capital(says), LABEL_CHARACTERS) for says in rows["says"]]
    of_row = max(ROW_INCH, LINE_INCH * (1 + max(label.count("\n") for label in labels)) + LINE_INCH / 2)
    height, unit = of_row * len(rows) + FRAME_INCH, rows.iloc[0]["unit"]

    def plot() -> p9.ggplot:
        return p9.ggplot(lines, p9.aes("low", "y")) + [
            *theme.named_lines([(0.0, "no gain", "solid")], y=-0.62),
            p9.geom_segment(
                p9.aes("even", f"y - {TICK}", xend="even", yend=f"y + {TICK}"),
                data=shown,
                color=theme.INK,
                size=0.5,
                linetype="dashed",
                na_rm=True,
            ),
            p9.geom_segment(p9.aes(xend="high", yend="y", color="color", size="thickness"), na_rm=True),
            p9.geom_point(p9.aes("gain", f"y - {APART}"), data=shown, color=theme.INK, size=2.2),
            p9.geom_text(
                p9.aes("words_at", label="words"), ha="left", size=theme.LABEL_SIZE, family=theme.FONT, na_rm=True
            ),
            p9.scale_color_identity(),
            p9.scale_size_identity(),
            p9.scale_y_reverse(breaks=list(shown["y"]), labels=labels, expand=(0, 0.35)),
            p9.scale_x_continuous(labels=theme.amounts, expand=(0.03, 0, 0.4, 0)),  # room for the words
            p9.labs(x=f"Gain, {unit}"),
            theme.page_theme(height, theme.SITE_YEAR),
        ]

    return theme.figure(plot, folder=folder, name=name, caption=_caption(rows), alt=_alt(rows), sheet=theme.SITE_YEAR)


def _as_printed(rows: pd.DataFrame) -> pd.DataFrame:
    """What the figure draws, and no more of the rows, rounded to their digits."""
    decimals = rows["digits"].to_numpy()
    rounded = {
        name: [np.round(value, digits) for value, digits in zip(rows[name], decimals, strict=True)] for name in AMOUNTS
    }
    return pd.DataFrame({"y": rows["y"]} | rounded).astype(float)


def _lines(rows: pd.DataFrame) -> pd.DataFrame:
    """Three lines per comparison; what is drawn of the first that has it carries the words that name it."""
    kinds = (
        ("conf_low", "conf_high", -APART, theme.INK, 0.7, THIS_TRIAL),
        ("observed_low", "observed_high", APART, theme.RANGE, 0.5, AVERAGE),
        ("conf_low_average", "conf_high_average", APART, theme.AVERAGE, 1.6, ""),
    )
    words_at = rows[["gain", *(high for _, high, *_ in kinds)]].max(axis=1)
    # a gain is drawn without its interval too, an average not
    named = {THIS_TRIAL: 0, AVERAGE: rows["conf_low_average"].first_valid_index()}
    lines = [
        pd.DataFrame({"low": rows[low], "high": rows[high], "y": rows["y"] + offset}).assign(
            color=color,
            thickness=thickness,
            words=[words if named.get(words) == i else "" for i in rows.index],
            words_at=words_at,
        )
        for low, high, offset, color, thickness, words in kinds
    ]
    return pd.concat(lines, ignore_index=True)


def _caption(rows: pd.DataFrame) -> str:
    row = rows.iloc[0]
    interval = ", 95% interval" if rows["conf_low"].notna().any() else ""
    here = f"{capital(row['crop'])} in {row['season']}{metric(row)}: the gain here (dot{interval})"
    even = "" if rows["even"].isna().all() else " Dashes: break-even."
    averaged = rows[rows["estimate"].notna()]
    if averaged.empty:
        return f"{here}. There are too few site-years for an average of the program.{even}"
    thin = ", and the range expected of one trial (thin)" if rows["observed_low"].notna().any() else ""
    many = counts(list(averaged["n_site_years"]), "site-year")
    return f"{here}; below it the average in the seasons tested, over {many} (thick){thin}.{even}"


def _alt(rows: pd.DataFrame) -> str:
    told = [_told(row) for row in rows.itertuples()]
    return f"Gains of this site-year beside averages in the seasons tested. {'. '.join(map(capital, told))}."


def _told(row) -> str:
    even = "" if pd.isna(row.even) else f", breaks even at {number(row.even, row.digits)}"
    return (
        f"{row.says}: here {number(row.gain, row.digits)} {row.unit}, average {number(row.estimate, row.digits)}{even}"
    )
