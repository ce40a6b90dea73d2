"""Site-year gains against one weather covariate, with a line only where the trials show one."""

from __future__ import annotations

import math
import textwrap
from collections.abc import Mapping
from pathlib import Path

import pandas as pd
import plotnine as p9

from pipeline.display.figures import theme
from pipeline.display.words.numbers import between, capital, count, number
from pipeline.display.words.weather import AXIS, METRIC, amount

HEIGHT_INCH = 2.9
# Each season has a shape of its own, filled and open in turn; with more seasons than shapes its last two digits stand
# there.
SHAPES = ("o", "^", "s", "D", "v", "P")
OPEN = "#ffffff"
SMALLEST, LARGEST = 1.3, 4.0  # marks, by the precision of a gain
IN_A_ROW = {theme.PAGE: 6, theme.PHONE: 4}  # seasons of the legend
LETTERS = {theme.PAGE: 80, theme.PHONE: 44}  # of a line below the axis
EVEN_SIZE = 2.2  # where no gain has a standard error


def weather_gains(
    points: pd.DataFrame,
    line: pd.DataFrame,
    slope: Mapping,
    what: str,
    *,
    folder: Path,
    name: str,
    sheet: theme.Sheet = theme.PAGE,
) -> theme.Picture:
    """Draws one comparison and covariate.

    Args:
        points: its site-years: place, season, gain, std_error and value, the covariate.
        line: its rows of reports.weather_lines; drawn where the slope is shown.
        slope: its leading row of reports.weather_slopes.
        what: the covariate in words.
    """
    rows = _marked(points)
    line = line if slope["is_shown"] else line.iloc[:0]
    unit = slope["covariate_unit"]
    axis = capital(f"{AXIS.get(unit, '')}{what}{'' if unit == 'days' else f', {unit}'}")
    seasons = list(rows["named"].cat.categories)

    def plot() -> p9.ggplot:
        return p9.ggplot(rows, p9.aes("value", "gain")) + [
            *([_band(line), _line(line)] if len(line) else []),
            p9.geom_hline(yintercept=0, color=theme.INK, size=0.6),
            *_marks(seasons, sheet),
            p9.scale_size_identity(),
            p9.scale_x_continuous(labels=theme.amounts),
            p9.scale_y_continuous(labels=theme.amounts),
            p9.labs(x=textwrap.fill(axis, LETTERS[sheet]), y=f"Gain, {slope['unit']}", shape="", fill=""),
            theme.page_theme(HEIGHT_INCH, sheet)
            + p9.theme(
                legend_position="top" if len(seasons) <= len(SHAPES) else "none",
                legend_title=p9.element_blank(),
                legend_text=p9.element_text(size=theme.LABEL_SIZE),
                legend_margin=0,
                axis_title_y=p9.element_text(angle=90, margin={"r": 6, "units": "pt"}),
                panel_grid_major_y=p9.element_line(color=theme.HAIRLINE, size=0.4),
            ),
        ]

    return theme.figure(
        plot,
        folder=folder,
        name=name,
        caption=_caption(rows, line, slope, what, len(seasons)),
        alt=_alt(rows, line, slope, what),
        sheet=sheet,
    )


def _marked(points: pd.DataFrame) -> pd.DataFrame:
    """Site-years with the size of their mark and the season in words; the larger marks first, so that small ones stay
    seen.
    """
    precision = points["std_error"].astype(float) ** -2
    share = precision / precision.max() if precision.notna().any() else precision
    size = (SMALLEST + (LARGEST - SMALLEST) * share**0.5).fillna(SMALLEST if precision.notna().any() else EVEN_SIZE)
    named = points["season"].astype(str)
    rows = points.assign(size=size, named=pd.Categorical(named, sorted(named.unique())))
    return rows.sort_values(["size", "season", "place"], ascending=[False, True, True], ignore_index=True)


def _marks(seasons: list[str], sheet: theme.Sheet) -> list:
    if len(seasons) > len(SHAPES):
        return [
            p9.geom_text(
                p9.aes(label="named.str[-2:]", size="5 + 1.2 * size"),
                family=theme.FONT,
                color=theme.INK,
                show_legend=False,
            )
        ]
    fills = [theme.INK if k % 2 == 0 else OPEN for k in range(len(seasons))]
    nrow = math.ceil(len(seasons) / IN_A_ROW[sheet])
    return [
        p9.geom_point(p9.aes(shape="named", fill="named", size="size"), color=theme.INK, stroke=0.5),
        p9.scale_shape_manual(values=list(SHAPES[: len(seasons)]), breaks=seasons),
        p9.scale_fill_manual(values=fills, breaks=seasons),
        p9.guides(shape=p9.guide_legend(override_aes={"size": EVEN_SIZE}, nrow=nrow, byrow=True), size="none"),
    ]


def _band(line: pd.DataFrame) -> p9.geom_ribbon:
    return p9.geom_ribbon(
        p9.aes(x="at", ymin="conf_low", ymax="conf_high"), data=line, inherit_aes=False, fill=theme.BAND
    )


def _line(line: pd.DataFrame) -> p9.geom_line:
    return p9.geom_line(p9.aes(x="at", y="estimate"), data=line, inherit_aes=False, color=theme.AVERAGE, size=1.0)


def _caption(rows: pd.DataFrame, line: pd.DataFrame, slope: Mapping, what: str, n_seasons: int) -> str:
    marks = "each mark a season of its own" if n_seasons <= len(SHAPES) else "marked by season, 91 for 2091"
    larger = " Larger marks: gains known more precisely." if rows["std_error"].notna().any() else ""
    drawn = (
        f" Line and band: the average gain with its {number(100 * slope['conf_level'])}% interval."
        if len(line)
        else " No line is drawn: the trials do not show one."
    )
    units = "; ".join(filter(None, [METRIC.get(slope["covariate_unit"], ""), _metric_yield(slope)]))
    return (
        f"{capital(slope['says'])}: gain at {count(len(rows), 'site-year')} against {what}, {marks}.{larger}{drawn}"
        f"{f' ({units})' if units else ''}"
    )


def _metric_yield(slope: Mapping) -> str:
    return "" if slope["unit"] == "kg/ha" else f"1 {slope['unit']} = {slope['kg_ha_per_unit']:.3g} kg/ha"


def _alt(rows: pd.DataFrame, line: pd.DataFrame, slope: Mapping, what: str) -> str:
    """The ranges on both axes, each season's average place in the picture, and the line's ends."""
    digits, unit, of_x = slope["digits"], slope["unit"], slope["covariate_digits"]
    x_range, y_range = (
        between(rows[column].min(), rows[column].max(), d) for column, d in (("value", of_x), ("gain", digits))
    )
    told = [
        f"Marks for {count(len(rows), 'site-year')}. {capital(what)} runs from {x_range} {slope['covariate_unit']}, "
        f"gains from {y_range} {unit}."
    ]
    for season, mine in rows.groupby("season"):
        x, y = amount(mine["value"].mean(), slope), number(mine["gain"].mean(), digits)
        told.append(f"{season}, {count(len(mine), 'site-year')}: on average {x} and {y} {unit}.")
    if len(line):
        first, last = line.sort_values("at").iloc[[0, -1]].to_dict("records")
        ends = [
            f"{number(end['estimate'], digits)} {unit} ({between(end['conf_low'], end['conf_high'], digits)}) at "
            f"{amount(end['at'], slope)}"
            for end in (first, last)
        ]
        told.append(f"The line runs from {ends[0]} to {ends[1]}".rstrip(".") + ".")
    return " ".join(told)
