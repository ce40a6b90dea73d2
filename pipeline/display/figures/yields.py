"""Every comparison of a crop as one row of one picture: what it yielded, from where it pays, what it returns."""

from __future__ import annotations

import textwrap
from pathlib import Path

import pandas as pd
import plotnine as p9

from pipeline.display.figures import theme
from pipeline.display.words.numbers import NBSP, between, capital, count, listed, metric, number

ROW_INCH, FRAME_INCH = 0.39, 0.62
LABEL_CHARACTERS = 40
TICK = 0.30  # half the height of the mark from which it pays, of a row
# share of the span kept free at the left for the name of the line, and at the right for the words
LEFT = {theme.PAGE: 0.03, theme.PHONE: 0.12, theme.SLIDE: 0.12}
BESIDE = {theme.PAGE: 0.36, theme.PHONE: 0.05, theme.SLIDE: 0.6}
NO_AVERAGE = "no average"
PHONE_ROW_INCH, ABOVE = 0.92, 0.18  # on a telephone a row's words stand above it


def yields(rows: pd.DataFrame, *, folder: Path, name: str, sheet: theme.Sheet = theme.PAGE) -> theme.Picture:
    """Draws the averages of one crop, a row per comparison, in the order given.

    Args:
        rows: leading rows of reports.gains on the declared target, with treatment, comparator (their names in short),
            even (the gain from which it pays, NaN without a budget), pays (dollars an acre in words, or '').
    """
    on_phone = sheet is theme.PHONE
    drawn = rows.assign(y=[float(i) for i in range(len(rows))], label=[_label(row) for row in rows.itertuples()])
    known = drawn[drawn["estimate"].notna()]
    top, row_inch = (-1.1, PHONE_ROW_INCH) if on_phone else (-0.9, ROW_INCH)
    tick = TICK * ROW_INCH / row_inch

    def plot() -> p9.ggplot:
        return p9.ggplot(known, p9.aes("estimate", "y")) + [
            *([] if on_phone else theme.named_lines([(0.0, "no gain", "solid")], y=-0.72)),
            *([p9.geom_vline(xintercept=0, color=theme.INK, size=0.6)] if on_phone else []),
            p9.geom_segment(
                p9.aes("even", f"y - {tick}", xend="even", yend=f"y + {tick}"),
                color=theme.INK,
                size=0.6,
                linetype="dashed",
                na_rm=True,
            ),
            p9.geom_segment(
                p9.aes("conf_low", "y", xend="conf_high", yend="y"), color=theme.AVERAGE, size=1.5, na_rm=True
            ),
            p9.geom_point(color=theme.INK, size=2.6),
            _words_above(drawn) if on_phone else _words_beside(drawn, known),
            p9.scale_y_reverse(
                breaks=list(drawn["y"]),
                labels=[""] * len(drawn) if on_phone else list(drawn["label"]),
                limits=(len(drawn) - 0.4, top),
                expand=(0, 0),
            ),
            p9.scale_x_continuous(labels=theme.amounts, expand=(LEFT[sheet], 0, BESIDE[sheet], 0)),
            p9.labs(x=f"Average gain, {rows.iloc[0]['unit']}"),
            theme.page_theme(row_inch * len(drawn) + FRAME_INCH, sheet),
        ]

    return theme.figure(plot, folder=folder, name=name, caption=_caption(rows), alt=_alt(rows), sheet=sheet)


def _words_beside(drawn: pd.DataFrame, known: pd.DataFrame) -> p9.geom_text:
    """What each yielded and returns, or that it has no average, right of all that is drawn."""
    words_at = max(0.0, known[["conf_high", "estimate", "even"]].max().max())
    beside = drawn.assign(words=[_words(row) for row in drawn.itertuples()], at=words_at)
    return p9.geom_text(
        p9.aes("at", "y", label="words"),
        data=beside,
        ha="left",
        size=theme.LABEL_SIZE,
        family=theme.FONT,
        color=theme.INK,
        nudge_x=0.05 * max(words_at, 1e-9),
    )


def _words_above(drawn: pd.DataFrame) -> p9.geom_text:
    """Names and words in one block over each row, from the left edge."""
    told = [f"{row.label}\n{_words(row).replace(chr(10), ', ')}" for row in drawn.itertuples()]
    above = drawn.assign(words=told, at=float("-inf"), y=drawn["y"] - ABOVE)
    return p9.geom_label(
        p9.aes("at", "y", label="words"), data=above, ha="left", va="bottom", size=theme.LABEL_SIZE, family=theme.FONT,
        color=theme.INK, fill="#ffffff", label_size=0, label_padding=0.1,
    )  # fmt: skip


def _label(row) -> str:
    against = textwrap.fill(f"against {row.comparator}", LABEL_CHARACTERS)
    return f"{textwrap.fill(capital(row.treatment), LABEL_CHARACTERS)}\n{against}"


def _words(row) -> str:
    """'+7.6 bu/ac (4.3%)' over '$19 an acre'; 'no average' where there is none."""
    if pd.isna(row.estimate):
        return NO_AVERAGE
    sign = "+" if row.estimate >= 0 else ""
    gain = f"{sign}{number(row.estimate, row.digits)} {row.unit} ({sign}{number(row.estimate_pct, 1)}%)"
    return f"{gain}\n{row.pays}" if row.pays else gain


def _caption(rows: pd.DataFrame) -> str:
    row = rows.iloc[0]
    even = " Dashes: the gain at which it breaks even." if rows["even"].notna().any() else ""
    known = rows.dropna(subset="comparator_mean")
    starting = listed(
        f"{_span(means['comparator_mean'], row['digits'])} for {name}"
        for name, means in known.groupby("comparator", sort=False)
    )
    return (
        f"Average gain (dot) with its 95%{NBSP}interval{metric(row)}. Where the bar crosses zero, a gain is not"
        f" shown.{even}" + (f" Starting yields, {row['unit']}: {starting}." if starting else "")
    )


def _span(means: pd.Series, digits: int) -> str:
    """One yield, or from the lowest to the highest where comparisons start from other trials or rates."""
    low, high = number(means.min(), digits), number(means.max(), digits)
    return low if low == high else f"{low} to {high}"


def _alt(rows: pd.DataFrame) -> str:
    told = [_told(row) for row in rows.itertuples()]
    return f"Average gains of {count(len(rows), 'comparison')}. {' '.join(told)}"


def _told(row) -> str:
    name = f"{capital(row.treatment)} against {row.comparator}"
    if pd.isna(row.estimate):
        return f"{name}: {NO_AVERAGE}."
    size = f"{number(row.estimate, row.digits)} {row.unit}, interval {between(row.conf_low, row.conf_high, row.digits)}"
    return f"{name}: {size}{f'; {row.pays}' if row.pays else ''}."
