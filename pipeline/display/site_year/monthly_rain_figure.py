"""One site-year's rain by month against the reference period."""

from __future__ import annotations

from calendar import monthrange
from pathlib import Path

import pandas as pd
import plotnine as p9

from pipeline.display.figures import theme
from pipeline.display.words.numbers import count, counts, listed, number
from pipeline.display.words.tables import Markdown

MONTHS = (
    "January",
    "February",
    "March",
    "April",
    "May",
    "June",
    "July",
    "August",
    "September",
    "October",
    "November",
    "December",
)
HEIGHT_INCH = 1.6
WORD_SHARE = 0.15  # of the axis, that a word is high


def monthly_rain(rain: pd.DataFrame, *, unit: str, folder: Path) -> Markdown:
    """Draws the rows of reports.monthly_rain of one site-year; `unit` is 'inch' or 'mm'."""
    columns = {f"{part}_{unit}": part for part in ("rain", "mean", "low", "high")}
    rows = rain.rename(columns=columns).assign(n_lacking=_n_lacking(rain))
    drawn, words = rows[["month", "rain", "mean", "low", "high"]], _words(rows)
    in_part = drawn[rows["n_lacking"] > 0]

    def plot() -> p9.ggplot:
        return p9.ggplot(drawn, p9.aes("month", "rain")) + [
            p9.geom_linerange(p9.aes(ymin="low", ymax="high"), color=theme.HAIRLINE, size=5, na_rm=True),
            p9.geom_point(p9.aes(y="mean"), color=theme.QUIET, shape="_", size=5, na_rm=True),
            p9.geom_point(color=theme.INK, size=2),
            *([p9.geom_point(data=in_part, color="white", size=0.8)] if len(in_part) else []),
            p9.geom_text(
                p9.aes(label="words"),
                data=words,
                ha="left",
                nudge_x=0.3,
                size=theme.LABEL_SIZE,
                family=theme.FONT,
                na_rm=True,
            ),
            p9.expand_limits(y=0),
            p9.scale_x_continuous(
                breaks=list(drawn["month"]),
                labels=[MONTHS[m - 1][:3] for m in drawn["month"]],
                expand=(0, 0.5, 0, 0.9),
            ),
            p9.labs(x="", y=f"Rain, {unit}"),
            theme.page_theme(HEIGHT_INCH, theme.SITE_YEAR)
            + p9.theme(
                axis_title_y=p9.element_text(angle=90, margin={"r": 6, "units": "pt"}),
                panel_grid_major_y=p9.element_line(color=theme.HAIRLINE, size=0.4),
                panel_grid_major_x=p9.element_blank(),
            ),
        ]

    return theme.figure(
        plot, folder=folder, name="rain", caption=_caption(rows, unit), alt=_alt(rows, unit), sheet=theme.SITE_YEAR
    )


def _n_lacking(rain: pd.DataFrame) -> list[int]:
    """By month, its days whose rain is not known."""
    return [monthrange(row.season, row.month)[1] - row.n_days for row in rain.itertuples()]


def _words(rows: pd.DataFrame) -> pd.DataFrame:
    """What the last month's dot and dash are, beside them, and apart where these are close together."""
    last = rows.iloc[-1]
    lower, upper = sorted([(last["rain"], str(last["season"])), (last["mean"], "mean")])
    lacking = WORD_SHARE * rows[["rain", "high"]].max().max() - (upper[0] - lower[0])
    apart = max(lacking, 0) / 2 if pd.notna(lacking) else 0
    return pd.DataFrame(
        {"month": last["month"], "rain": [lower[0] - apart, upper[0] + apart], "words": [lower[1], upper[1]]}
    )


def _caption(rows: pd.DataFrame, unit: str) -> str:
    first = rows.iloc[0]
    metric = "; 1 inch is 25.4 mm" if unit == "inch" else ""
    metric += f". {in_part}" if (in_part := _in_part(rows)) else ""
    if rows["mean"].isna().all():
        return (
            f"Rain by month at {first['place']} in {first['season']} (dots). Of reference years no whole month was"
            f" delivered{metric}."
        )
    many = counts([int(n) for n in rows["n_years"].dropna()], "reference year")
    against = " (dash)" if _is_of_one_year(rows) else ": their mean (dash) and the range of 8 years in 10 (bar)"
    return f"Rain by month at {first['place']} in {first['season']} (dots) against {many}{against}{metric}."


def _is_of_one_year(rows: pd.DataFrame) -> bool:
    """Whether no month has a second reference year, so that none has a range."""
    return rows["n_years"].max() == 1


def _in_part(rows: pd.DataFrame) -> str:
    """Which months have days whose rain is not known, without its full stop; empty where none has."""
    lacking = rows[rows["n_lacking"] > 0]
    months = [f"{MONTHS[row.month - 1]} ({count(row.n_lacking, 'day')})" for row in lacking.itertuples()]
    return f"Hollow: at least so much, as days are not known of {listed(months)}" if months else ""


def _alt(rows: pd.DataFrame, unit: str) -> str:
    totals = ", ".join(
        f"{MONTHS[row.month - 1]}{' at least' if row.n_lacking else ''} {number(row.rain, 1 if unit == 'inch' else 0)}"
        for row in rows.itertuples()
    )
    return f"Monthly rain in {'inches' if unit == 'inch' else unit}: {totals}. {_against(rows)}"


def _against(rows: pd.DataFrame) -> str:
    """In which months the rain lay outside what is usual, and of which nothing usual is known."""
    unknown = rows.loc[rows["high"].isna(), "month"]
    if len(unknown) == len(rows):
        return "There is no reference year to hold it against."
    if _is_of_one_year(rows):
        return "One reference year has no range."
    above = rows[rows["rain"] > rows["high"]]["month"]
    below = rows[rows["rain"].lt(rows["low"]) & rows["n_lacking"].eq(0)]["month"]
    wetter = (
        f"above the range of 8 years in 10 in {_months(above)}"
        if len(above)
        else "never above the range of 8 years in 10"
    )
    drier = f"below it in {_months(below)}" if len(below) else "never below it"
    besides = f" No reference year has all of {_months(unknown)}." if len(unknown) else ""
    return f"It lay {wetter} and {drier}.{besides}"


def _months(months: pd.Series) -> str:
    return listed(MONTHS[month - 1] for month in months)
