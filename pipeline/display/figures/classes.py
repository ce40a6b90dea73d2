"""The average gain on each kind of soil and in each kind of season, as two small pictures side by side."""

from __future__ import annotations

from pathlib import Path

import pandas as pd
import plotnine as p9

from pipeline.contract.vocabulary import BY_DRAINAGE, BY_RAINFALL
from pipeline.display.figures import theme
from pipeline.display.words.numbers import NBSP, between, count, metric, number
from pipeline.display.words.where import RAINFALL_CLASSES
from pipeline.verdicts import FEWEST_SITE_YEARS

HEIGHT_INCH = 1.35  # of panels side by side
FEW_TRIALS, FEW_SEASONS, TOO_WIDE = "too few trials", "too few seasons", "too uncertain"
SOILS = {"P": "Poorly drained", "W": "Well drained", "R": "Excessively drained"}
PANELS = {BY_DRAINAGE: "By soil drainage", BY_RAINFALL: "By the season's rain"}
# A class is worth an interval when this is not wider than so many times the whole average's.
WIDEST = 4.0
# Share of the span kept free at the right for words of up to USUAL letters, and more for each letter more.
BESIDE = {theme.PAGE: 1.7, theme.PHONE: 1.0, theme.SLIDE: 2.0}
USUAL, MORE = 24, 0.15


def informative(rows: pd.DataFrame, average: pd.Series) -> pd.Series:
    """Which classes have an interval that tells something: enough site-years and seasons, and not far wider than the
    average's.
    """
    width = rows["conf_high"] - rows["conf_low"]
    return rows["shown_as"].eq("sentence") & width.le(WIDEST * (average["conf_high"] - average["conf_low"]))


def by_class(
    rows: pd.DataFrame, average: pd.Series, *, folder: Path, name: str, sheet: theme.Sheet = theme.PAGE
) -> theme.Picture:
    """Draws the classes of drainage and rainfall of one comparison.

    Args:
        rows: its leading rows of reports.gains by drainage group and by rainfall class, of the declared target.
        average: its leading row over all site-years.
    """
    on_phone = sheet is theme.PHONE
    order = [*SOILS, *RAINFALL_CLASSES]
    rows = rows.assign(place=rows["level"].map(order.index)).sort_values("place")
    tells = informative(rows, average)
    drawn = rows.assign(
        panel=pd.Categorical(rows["moderator"].map(PANELS), list(PANELS.values())),
        class_name=pd.Categorical(
            rows["level"].map(_named), [_named(level) for level in reversed(order)], ordered=True
        ),
        words=[_words(row, ok) for row, ok in zip(rows.to_dict("records"), tells, strict=True)],
        low=rows["conf_low"].where(tells),
        high=rows["conf_high"].where(tells),
        gain=rows["estimate"].where(tells),
    )
    beside = BESIDE[sheet] * (1 + MORE * max(0, drawn["words"].str.len().max() - USUAL))
    right = max(0.0, drawn[["high", "gain"]].max().max() if tells.any() else 0.0)

    def plot() -> p9.ggplot:
        return p9.ggplot(drawn, p9.aes("gain", "class_name")) + [
            p9.geom_vline(xintercept=0, color=theme.INK, size=0.6),
            p9.geom_vline(xintercept=average["estimate"], color=theme.RANGE, size=0.6, linetype="dashed"),
            p9.geom_segment(p9.aes("low", xend="high", yend="class_name"), color=theme.AVERAGE, size=1.3, na_rm=True),
            p9.geom_point(color=theme.INK, size=2.2, na_rm=True),
            p9.geom_text(
                p9.aes(x=right, label="words"), ha="left", size=theme.LABEL_SIZE, family=theme.FONT, color=theme.INK
            ),
            p9.facet_wrap("panel", scales="free_y", ncol=1 if on_phone else 2),
            p9.scale_x_continuous(labels=theme.amounts, expand=(0.04, 0, beside, 0)),
            p9.labs(x=f"Average gain, {average['unit']}"),
            theme.page_theme(HEIGHT_INCH * (2 if on_phone else 1), sheet),
        ]

    return theme.figure(plot, folder=folder, name=name, caption=_caption(average), alt=_alt(drawn), sheet=sheet)


def _named(level: str) -> str:
    return SOILS.get(level, level.capitalize())


def _words(row: dict, tells: bool) -> str:
    if not tells:
        return f" {_lacking(row)}, n{NBSP}={NBSP}{row['n_site_years']:,}"
    return f" {number(row['estimate'], row['digits'])}, n{NBSP}={NBSP}{row['n_site_years']:,}"


def _lacking(row: dict) -> str:
    """Why a class has no interval that tells something."""
    if row["n_site_years"] < FEWEST_SITE_YEARS:
        return FEW_TRIALS
    return TOO_WIDE if row["shown_as"] == "sentence" and pd.notna(row["conf_low"]) else FEW_SEASONS


def _caption(average: pd.Series) -> str:
    return (
        f"Average gain (dot) with its 95%{NBSP}interval{metric(average)}; n: site-years. Dashes: the average over all"
        f" {count(average['n_site_years'], 'site-year')}. When you buy nitrogen you know your soil, not the season's"
        " rain."
    )


def _alt(drawn: pd.DataFrame) -> str:
    told = [f"{_named(row.level)}: {_size(row)}, {count(row.n_site_years, 'site-year')}." for row in drawn.itertuples()]
    return " ".join(told)


def _size(row) -> str:
    if pd.isna(row.gain):
        return _lacking(row._asdict())
    return f"{number(row.estimate, row.digits)} {row.unit}, interval {between(row.conf_low, row.conf_high, row.digits)}"
