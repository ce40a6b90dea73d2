"""Every site-year's gain on one axis, with the average and the range one more field is expected in."""

from __future__ import annotations

import math
from pathlib import Path

import pandas as pd
import plotnine as p9

from pipeline.display.figures import theme
from pipeline.display.words.answers import TARGET, TARGET_NAMES, arms
from pipeline.display.words.numbers import between, capital, count, number, seasons
from pipeline.display.words.where import drained

ROW_INCH = 0.12
FRAME_INCH = 0.75
TALLEST_INCH = 6.2  # with its caption and a box of cautions above it fills a page
LINES = (TALLEST_INCH - FRAME_INCH) / ROW_INCH  # of words, one below the other
MOST_NAMED = 42  # site-years and headings of seasons: more would not fit with their names
NAME_SIZE = 7.5
LINE_SHARE = 0.13  # of the site-years, as many rows of a slide as a line of words takes


def site_year_gains(
    gains: pd.DataFrame,
    averages: pd.DataFrame,
    *,
    folder: Path,
    name: str,
    break_even: float | None = None,
    sheet: theme.Sheet = theme.PAGE,
) -> theme.Picture:
    """Draws one comparison.

    Args:
        gains: its pooled rows of reports.site_year_gains with conf_low and conf_high.
        averages: its leading rows of reports.gains over all site-years, the declared target's among them.
        break_even: the gain from which it pays, in the unit of the gains, where prices are known.
    """
    is_slide = sheet.shown is not None
    line = max(2, math.ceil(len(gains) * LINE_SHARE)) if is_slide else _line(gains)
    rows = _placed(gains, 1 if is_slide else line)
    is_named = not is_slide and rows["y"].max() <= MOST_NAMED
    at_left = _seasons_at(rows, line) if is_slide else _places_at(rows) if is_named else {}
    below = _averages_placed(averages, rows["y"].max() + 1 + line, line)
    declared = averages[averages["is_declared"]].iloc[0]
    height = min(TALLEST_INCH, ROW_INCH * (below["y"].max() + 2) + FRAME_INCH)
    lines = [(0.0, "no gain", "solid")] + ([] if break_even is None else [(break_even, "breaks even", "dashed")])

    def plot() -> p9.ggplot:
        return p9.ggplot(rows, p9.aes("gain", "y")) + [
            *_band(declared),
            *theme.named_lines(lines, y=0.5 - 1.5 * line),
            p9.geom_segment(p9.aes(x="conf_low", xend="conf_high", yend="y"), color=theme.RANGE, size=0.6, na_rm=True),
            p9.geom_point(color=theme.INK, size=1.6),
            p9.geom_segment(p9.aes("low", xend="high", yend="y", size="thickness"), data=below, color=theme.AVERAGE),
            p9.geom_point(p9.aes("estimate"), data=below, color=theme.AVERAGE, size=2.4, na_rm=True),
            p9.scale_size_identity(),
            p9.scale_x_continuous(labels=theme.amounts),
            *([] if is_slide else [_season_headings(rows, line)]),
            _names_at_left(at_left | dict(zip(below["y"], below["label"], strict=True)), line),
            p9.labs(x=_axis(declared, sheet)),
            theme.page_theme(height, sheet)
            + p9.theme(axis_text_y=p9.element_text(size=NAME_SIZE if is_named else theme.TEXT_SIZE)),
        ]

    return theme.figure(
        plot,
        folder=folder,
        name=name,
        caption=_caption(rows, declared, break_even, is_named),
        alt=_alt(rows, averages, declared, break_even),
        sheet=sheet,
    )


def _line(gains: pd.DataFrame) -> int:
    """How many rows of a page a line of words takes: more than one where site-years are too many for a row each."""
    of_words = gains["season"].nunique() + 5  # headings, the averages and the range, names of lines, the space between
    return math.ceil(len(gains) / max(LINES - of_words, LINES / 3))


def _placed(gains: pd.DataFrame, line: int) -> pd.DataFrame:
    """Rows by season, and within it by size, so that a season's good and poor places are seen. The first row of a
    season has `line` rows free above, for its heading."""
    rows = gains.sort_values(["season", "gain", "place"], ascending=[True, False, True]).reset_index(drop=True)
    headings = rows["season"].ne(rows["season"].shift()).cumsum()
    return rows.assign(y=rows.index + 1 + line * headings - line)


def _averages_placed(averages: pd.DataFrame, top: int, line: int) -> pd.DataFrame:
    """Rows under the site-years, `line` apart: each target's average, then the range for one more field."""
    rows = []
    for _, row in averages[averages["estimate"].notna()].iterrows():
        rows.append(
            (f"Average, {TARGET_NAMES[row['target']]}", row["estimate"], row["conf_low"], row["conf_high"], 1.4)
        )
    declared = averages[averages["is_declared"]].iloc[0]
    if pd.notna(declared["pred_low"]):
        rows.append(
            (f"One field, {TARGET_NAMES[declared['target']]}", None, declared["pred_low"], declared["pred_high"], 0.5)
        )
    placed = pd.DataFrame(rows, columns=["label", "estimate", "low", "high", "thickness"])
    return placed.astype({"estimate": float}).assign(y=[top + line * i for i in range(len(rows))])


def _band(declared: pd.Series) -> list[p9.annotate]:
    if pd.isna(declared["conf_low"]):
        return []
    ends = {"xmin": declared["conf_low"], "xmax": declared["conf_high"]}
    return [p9.annotate("rect", ymin=float("-inf"), ymax=float("inf"), fill=theme.BAND, **ends)]


def _season_headings(rows: pd.DataFrame, line: int) -> p9.geom_text:
    headings = rows.groupby("season", as_index=False)["y"].min()
    headings = headings.assign(
        gain=float("-inf"), y=headings["y"] - (1 + line) / 2, label=" " + headings["season"].astype(str)
    )
    headings = headings[_apart(headings["y"], max(line, rows["y"].max() / LINES))]
    return p9.geom_text(
        p9.aes(label="label"),
        data=headings,
        **theme.HEADING,
    )


def _apart(positions: pd.Series, line: float) -> list[bool]:
    """From the top down, those at least `line` below the last one that is kept."""
    kept, last = [], -math.inf
    for y in positions:
        kept.append(y - last >= line)
        last = y if kept[-1] else last
    return kept


def _seasons_at(rows: pd.DataFrame, line: int) -> dict[float, str]:
    """What stands beside the site-years of a slide."""
    middles = rows.groupby("season")["y"].mean()
    return {y: str(season) for season, y in middles[_apart(middles, line)].items()}


def _places_at(rows: pd.DataFrame) -> dict[float, str]:
    return {row.y: f"{row.place}: {_classes(row)}" for row in rows.itertuples()}


def _names_at_left(named: dict[float, str], line: int) -> p9.scale_y_reverse:
    """Names of rows as the axis' own words."""
    positions = sorted(named)
    return p9.scale_y_reverse(breaks=positions, labels=[named[y] for y in positions], expand=(0, 0.8 * line))


def _classes(row) -> str:
    """'well, wet': the drainage in a word, since the letter W would read as wet; a class not known is said to be so."""
    rain = row.rainfall_class if isinstance(row.rainfall_class, str) else "no class"
    return f"{drained(row, 'not known')}, {rain}"


def _axis(declared: pd.Series, sheet: theme.Sheet) -> str:
    if sheet is theme.PHONE:  # no room for names
        return f"Gain, {declared['unit']}"
    sides = arms(declared["says"])
    what = sides[0] if sides else "treatment"
    return f"Gain, {declared['unit']}\n\u2190 {what}: yielded less   |   more \u2192"


def _caption(rows: pd.DataFrame, declared: pd.Series, break_even: float | None, is_named: bool) -> str:
    even = (
        ""
        if break_even is None
        else f" At the planning prices it breaks even at a gain of {_size(break_even, declared)} (dashed)."
    )
    band = f" Band: the average {TARGET[declared['target']]}." if pd.notna(declared["conf_low"]) else ""
    classes = (
        " Beside each place: its drainage (poorly, well or excessively drained; mixed: trials on"
        " soils of two groups) and its rainfall class."
        if is_named
        else ""
    )
    many = f"{'each of ' if len(rows) > 1 else ''}{count(len(rows), 'site-year')}"
    return f"{capital(declared['says'])}: gain at {many}, {_intervals(rows)}.{band}{even}{classes}"


def _intervals(rows: pd.DataFrame) -> str:
    """Which site-years have an interval: a published mean without a standard error has none."""
    n = int(rows["conf_low"].notna().sum())
    if not n:
        return "without intervals, as their plot noise is not known"
    told = "with a 95% interval that includes" if n == 1 < len(rows) else "with 95% intervals that include"
    return f"{told} plot noise" if n == len(rows) else f"{n:,} of them {told} plot noise"


def _size(value: float, row: pd.Series) -> str:
    return f"{number(value, row['digits'])} {row['unit']}"


def _alt(rows: pd.DataFrame, averages: pd.DataFrame, declared: pd.Series, break_even: float | None) -> str:
    """What is drawn from top to bottom: site-years, averages, the range of one field, and the line from which it
    pays.
    """
    low, high = rows.loc[rows["gain"].idxmin()], rows.loc[rows["gain"].idxmax()]
    digits = declared["digits"]
    years = seasons(", ".join(str(year) for year in sorted(rows["season"].unique())))
    said = [
        f"Dots for {count(len(rows), 'site-year')}, {years}, {_intervals(rows)}. Gains run from"
        f" {number(low['gain'], digits)} at {low['place']} {low['season']} to {_size(high['gain'], declared)} at"
        f" {high['place']} {high['season']}; {(rows['gain'] > 0).sum()} of {len(rows)} are above zero."
    ]
    for _, row in averages[averages["conf_low"].notna()].iterrows():
        ends = between(row["conf_low"], row["conf_high"], digits)
        said.append(f"Average {TARGET[row['target']]}: {number(row['estimate'], digits)}, interval {ends}.")
    if pd.notna(declared["pred_low"]):
        ends = between(declared["pred_low"], declared["pred_high"], digits)
        said.append(f"One more field {TARGET[declared['target']]}: {ends}.")
    if break_even is not None:
        said.append(f"A dashed line marks {_size(break_even, declared)}, from which it pays at the planning prices.")
    return " ".join(said)
