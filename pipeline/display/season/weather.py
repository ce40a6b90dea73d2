"""What the weather explains of a crop's gains, comparison by comparison: a picture and sentences for each declared
covariate, and what the reference years' weather lets expect."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from functools import partial
from pathlib import Path

import pandas as pd

from pipeline.display.figures import theme
from pipeline.display.figures.weather_gains import weather_gains
from pipeline.display.words import weather as words
from pipeline.display.words.numbers import between, capital, number, percent, text
from pipeline.display.words.tables import (
    Markdown,
    escaped,
    grey,
    joined,
    linked_id,
    on_screen,
    paragraph,
    pipe_table,
    section,
    stacked,
)
from pipeline.display.words.where import DRAINAGE

ALL = "all"
NOT_CAUSED = "A slope says what the gain went with. It does not say that the weather caused it."
ON_YOUR_LAND = "What to expect on your land"
CLASSES = "All site-years, by rainfall class"
NOT_EXPECTED = "What to expect over the reference years is left out. {}"


def explained(of_crop: Mapping[str, pd.DataFrame], folder: Path) -> Markdown:
    """All of it; empty where no comparison of the crop declares a covariate.

    Args:
        of_crop: frames of the reports schema by name, their rows of one crop.
        folder: for figures.
    """
    slopes = words.declared_headlines(of_crop["weather_slopes"])
    parts = []
    for k, (_, mine) in enumerate(slopes.groupby("comparison_id", sort=False), start=1):
        parts += [Markdown(f"**{escaped(capital(mine['says'].iloc[0]))}.**"), *_of_comparison(of_crop, mine, folder, k)]
    return stacked(*parts, NOT_CAUSED) if parts else Markdown()


def _of_comparison(
    of_crop: Mapping[str, pd.DataFrame], slopes: pd.DataFrame, folder: Path, number_of: int
) -> Iterator[Markdown]:
    for k, (_, slope) in enumerate(slopes.iterrows(), start=1):
        values = words.of_slope(of_crop["weather_covariates"], slope)
        told = [*words.sentences(slope, values), linked_id(slope["estimate_id"])]
        yield stacked(_figure(of_crop, slope, values, folder, f"weather-{number_of}-{k}"), paragraph(told))
    yield _expected(of_crop, slopes[slopes["is_shown"].eq(True)], number_of)


def _figure(
    of_crop: Mapping[str, pd.DataFrame], slope: Mapping, values: pd.DataFrame, folder: Path, name: str
) -> Markdown:
    """The picture of one covariate; nothing where fewer than two of its site-years have a value."""
    gains = of_crop["site_year_gains"]
    mine = gains[gains["comparison_id"].eq(slope["comparison_id"]) & gains["is_pooled"].eq(True)]
    points = mine.merge(values.loc[values["value"].notna(), ["site_year_id", "value"]], on="site_year_id")
    if len(points) < 2:
        return Markdown()
    line, what = words.of_slope(of_crop["weather_lines"], slope), words.said(slope["covariate"], values)
    return theme.on_both(partial(weather_gains, points, line, slope, what, folder=folder), name=name)


def _expected(of_crop: Mapping[str, pd.DataFrame], shown: pd.DataFrame, number_of: int) -> Markdown:
    """The gain over the reference years' values of each covariate that is shown to explain it, beside the
    class-weighted one.
    """
    parts: list[Markdown | str] = []
    for k, (_, slope) in enumerate(shown.iterrows(), start=1):
        gains = words.of_slope(of_crop["weather_gains"], slope)
        known = gains[gains["estimate"].notna()]
        reasons = gains.loc[gains["estimate"].isna(), "reason"].dropna().unique()
        if known.empty:
            parts += [NOT_EXPECTED.format(capital(text(reason))) for reason in reasons[:1]]
            continue
        of_place = ~known["level"].isin([ALL, *DRAINAGE])
        label = f"expected-{number_of}-{k}"
        by_class = _class_weighted(of_crop["long_run_gains"], slope)
        parts.append(expected_table(known[~of_place], by_class, slope, label=label))
        if of_place.any():
            parts.append(on_screen(expected_table(known[of_place], [], slope, label=f"{label}-places")))
    return section(ON_YOUR_LAND, *parts) if parts else Markdown()


def _class_weighted(long_run: pd.DataFrame, slope: Mapping) -> list[dict]:
    mine = long_run[
        long_run["comparison_id"].eq(slope["comparison_id"])
        & long_run["target"].eq(slope["target"])
        & long_run["estimate"].notna()
    ]
    return [{"Where": CLASSES, "Gain": _size(row)} for _, row in mine.iterrows()]


def expected_table(rows: pd.DataFrame, by_class: list[dict], slope: Mapping, *, label: str) -> Markdown:
    """A row per group of places: the gain on the line over the reference years, how many they are, and how many lie
    outside.

    Args:
        rows: rows of reports.weather_gains of one slope, with an estimate.
        by_class: rows that stand before them, from the average weighted by rainfall class.
        slope: a leading row of reports.weather_slopes.
    """
    lines = [
        {
            "Where": joined([_named(row["level"]), linked_id(row["estimate_id"])], by=" "),
            "Gain": grey(_size(row)) if _goes_beyond(row) else _size(row),
            "Reference years": number(row["n_years"]),
            "Outside what was tested": (
                "not known" if pd.isna(row["share_outside"]) else percent(100 * row["share_outside"])
            ),
        }
        for _, row in rows.iterrows()
    ]
    # the first row has no reference years of its own
    frame = pd.DataFrame([*by_class, *lines], columns=["Where", "Gain", "Reference years", "Outside what was tested"])
    frame = frame.rename(columns={"Gain": f"Gain, {slope['unit']}"})
    by = " First row: dry, normal and wet seasons as often as in the reference years." if by_class else ""
    caption = (
        f"Average gain with its 95% interval, over the {slope['covariate']} of the reference years, counted place by"
        f" place; of several places each counts as often as it has site-years.{by} Gray: not firm, as some of those"
        " years lie outside what the trials met; they count as the nearest value met."
    )
    widths = dict(zip(frame.columns, (40, 28, 15, 17), strict=True))
    return pipe_table(frame, caption=caption, label=label, right=("Reference years",), widths=widths)


def _named(level: str) -> str:
    return "All places" if level == ALL else DRAINAGE.get(level, level)


def _goes_beyond(row: Mapping) -> bool:
    return pd.isna(row["share_outside"]) or row["share_outside"] > 0


def _size(row: Mapping) -> str:
    interval = "" if pd.isna(row["conf_low"]) else f" ({between(row['conf_low'], row['conf_high'], row['digits'])})"
    return f"{number(row['estimate'], row['digits'])}{interval}"
