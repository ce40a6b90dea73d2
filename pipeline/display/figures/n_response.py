"""Yield over N rate: means of the rates and the common curve of each way of giving N."""

from __future__ import annotations

from pathlib import Path

import pandas as pd
import plotnine as p9

from pipeline.display.figures import theme
from pipeline.display.words.numbers import between, capital, listed, number

HEIGHT_INCH = 2.1
LINES = ("solid", "dashed", "dotted", "dashdot")
SHAPES = ("o", "s", "^", "D")
CAPTION = "Yield at each N rate that all site-years have (points: averages) and the common quadratic-plateau curves."
COLORS = (theme.INK, theme.AVERAGE, theme.QUIET, theme.RANGE)


def n_response(
    means: pd.DataFrame, lines: pd.DataFrame, *, folder: Path, name: str, sheet: theme.Sheet = theme.PAGE
) -> theme.Picture:
    """Draws the families that have a curve, told apart by dash and by the shape of their points.

    Args:
        means: rows of reports.response_means of one crop.
        lines: rows of reports.response_lines of the crop.
    """
    every = list(lines["family"].drop_duplicates())
    families = every[: len(LINES)]
    means, lines = (
        rows[rows["family"].isin(families)].assign(family=lambda d: pd.Categorical(d["family"], families))
        for rows in (means, lines)
    )
    few, means = means[~means["has_all_site_years"]], means[means["has_all_site_years"]]
    unit, n_unit = lines["unit"].iloc[0], lines["n_unit"].iloc[0]

    def plot() -> p9.ggplot:
        return p9.ggplot(lines, p9.aes("n_rate", "yield", color="family", fill="family")) + [
            p9.geom_line(p9.aes(linetype="family"), size=0.7),
            p9.geom_point(p9.aes(shape="family"), data=means, size=2),
            p9.scale_color_manual(values=COLORS[: len(families)]),
            p9.scale_fill_manual(values=COLORS[: len(families)]),
            p9.scale_linetype_manual(values=LINES[: len(families)]),
            p9.scale_shape_manual(values=SHAPES[: len(families)]),
            p9.scale_x_continuous(labels=theme.amounts),
            p9.scale_y_continuous(labels=theme.amounts),
            p9.labs(x=f"N rate, {n_unit}", y=f"Yield, {unit}", color="", fill="", linetype="", shape=""),
            theme.page_theme(HEIGHT_INCH, sheet)
            + p9.theme(
                legend_position=(0.98, 0.03),
                legend_justification=(1, 0),
                legend_title=p9.element_blank(),
                legend_direction="vertical",
                legend_key_width=30,
                axis_title_y=p9.element_text(angle=90, margin={"r": 6, "units": "pt"}),
                legend_text=p9.element_text(size=theme.LABEL_SIZE),
            ),
        ]

    only_some = _not_drawn(every[len(LINES) :]) + _only_some(few, means, n_unit)
    caption = f"{CAPTION}{only_some}"
    return theme.figure(plot, folder=folder, name=name, caption=caption, alt=_alt(lines, only_some), sheet=sheet)


def _not_drawn(families: list[str]) -> str:
    return f" Not drawn: {listed(families)}." if families else ""


def _only_some(few: pd.DataFrame, means: pd.DataFrame, n_unit: str) -> str:
    """Which rates are not drawn since few site-years have them: their yields beside the curves would mislead."""
    if few.empty:
        return ""
    rates = listed(number(rate) for rate in sorted(few["n_rate"].round().unique()))
    low, high = few["n_site_years"].agg(["min", "max"])
    some = number(low) if low == high else between(low, high)
    return f" {rates} {n_unit}: tried at {some} of {number(means['n_site_years'].max())} site-years only, so not drawn."


def _alt(lines: pd.DataFrame, only_some: str) -> str:
    unit, n_unit = lines["unit"].iloc[0], lines["n_unit"].iloc[0]
    told = []
    for family, of_family in lines.groupby("family", observed=True):
        first, last = of_family.iloc[0], of_family.iloc[-1]
        told.append(
            f"{capital(family)}: from {number(first['yield'])} {unit} without N to {number(last['yield'])} at"
            f" {number(last['n_rate'])} {n_unit}"
        )
    return f"Curves of yield over N rate. {'. '.join(told)}.{only_some}"
