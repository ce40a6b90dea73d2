"""How far the headline moves when something is left out, or when another estimator is asked."""

from __future__ import annotations

from pathlib import Path

import pandas as pd
import plotnine as p9

from pipeline.display.figures import theme
from pipeline.display.words.answers import TARGET
from pipeline.display.words.numbers import between, capital, listed, number
from pipeline.display.words.tables import Markdown
from pipeline.estimates.average.robustness import CUMULATIVE, ESTIMATOR, PLACE, SEASON, SITE_YEAR

ROW_INCH = 0.12
FRAME_INCH = 0.75
MOST = 14  # rows of a kind: with all kinds the figure still stands on one page
MARGIN = {"color": theme.INK, "size": 0.8}
HEADINGS = {
    SEASON: "Without one season",
    PLACE: "Without one place",
    SITE_YEAR: "Without one site-year",
    CUMULATIVE: "Season by season",
    ESTIMATOR: "By another estimator",
}
# what a caption calls them
CAPTIONED = dict.fromkeys((SEASON, PLACE, SITE_YEAR), "with one part left out") | {
    CUMULATIVE: "season by season",
    ESTIMATOR: "by other estimators",
}


def robustness(
    rows: pd.DataFrame, headline: pd.Series, *, folder: Path, name: str, margin_limit: float | None = None
) -> Markdown:
    """Draws one comparison and target.

    Args:
        rows: its rows of reports.robustness with moderator 'all'.
        headline: its leading row of reports.gains.
        margin_limit: what the difference may not fall below, in the headline's unit, where as good is tested.
    """
    placed = _placed(rows)
    named = {row.y: row.label for row in placed.itertuples()}
    headings = placed.drop_duplicates("kind").assign(y=lambda first: first["y"] - 1, estimate=float("-inf"))
    margin = [] if margin_limit is None else [p9.geom_vline(xintercept=margin_limit, linetype="dotted", **MARGIN)]
    n_in_all = rows[rows["estimate"].notna()]["kind"].value_counts()
    headings = headings.assign(label=[f" {_heading(placed, kind, n_in_all[kind])}" for kind in headings["kind"]])

    def plot() -> p9.ggplot:
        return p9.ggplot(placed, p9.aes("estimate", "y")) + [
            p9.annotate(
                "rect",
                xmin=headline["conf_low"],
                xmax=headline["conf_high"],
                ymin=float("-inf"),
                ymax=float("inf"),
                fill=theme.BAND,
            ),
            p9.geom_vline(xintercept=0, color=theme.INK, size=0.6),
            p9.geom_vline(xintercept=headline["estimate"], color=theme.AVERAGE, size=0.6, linetype="dashed"),
            *margin,
            p9.geom_segment(p9.aes(x="conf_low", xend="conf_high", yend="y"), color=theme.RANGE, size=0.6, na_rm=True),
            p9.geom_point(color=theme.INK, size=1.6, na_rm=True),
            # on white, so that no line runs through a heading
            p9.geom_label(
                p9.aes(label="label"),
                data=headings,
                **theme.HEADING,
                fill="white",
                label_size=0,
                label_padding=0.05,
            ),
            p9.scale_y_reverse(breaks=sorted(named), labels=[named[y] for y in sorted(named)], expand=(0, 0.8)),
            p9.scale_x_continuous(labels=theme.amounts),
            p9.labs(x=f"Average gain, {headline['unit']}"),
            theme.page_theme(ROW_INCH * (placed["y"].max() + 1) + FRAME_INCH)
            + p9.theme(axis_text_y=p9.element_text(size=theme.LABEL_SIZE)),
        ]

    caption, alt = _caption(placed, headline, margin_limit), _alt(placed, headline, margin_limit)
    return theme.figure(plot, folder=folder, name=name, caption=caption, alt=alt)


def _placed(rows: pd.DataFrame) -> pd.DataFrame:
    """Rows to draw by kind, each kind under a heading row of its own."""
    known = rows[rows["estimate"].notna()]
    parts = []
    for kind in HEADINGS:
        of_kind = _drawn(known[known["kind"] == kind], kind)
        parts.append(of_kind.assign(label=[_label(row) for row in of_kind.itertuples()]))
    placed = pd.concat(parts, ignore_index=True)
    n_headings = placed["kind"].ne(placed["kind"].shift()).cumsum()
    return placed.assign(y=placed.index + 2 * n_headings - 1)


def _drawn(of_kind: pd.DataFrame, kind: str) -> pd.DataFrame:
    """All rows of a kind; of many, the last ones season by season, else those that move the average farthest, as many
    at each end.
    """
    most = 2 if kind == SITE_YEAR else MOST
    if len(of_kind) <= most:
        return of_kind
    if kind == CUMULATIVE:
        return of_kind.tail(most)
    by_size = of_kind["estimate"].sort_values(kind="stable").index
    return of_kind[of_kind.index.isin([*by_size[: most // 2], *by_size[-most // 2 :]])]


def _heading(placed: pd.DataFrame, kind: str, n_in_all: int) -> str:
    n = int(placed["kind"].eq(kind).sum())
    if n == n_in_all:
        return HEADINGS[kind]
    if kind == CUMULATIVE:
        return f"{HEADINGS[kind]} (the last {n} of {n_in_all:,})"
    each = f"{n // 2} " if n > 2 else ""
    return f"{HEADINGS[kind]} (the {each}lowest and the {each}highest of {n_in_all:,})"


def _label(row) -> str:
    if row.kind == ESTIMATOR:
        return row.method
    if row.kind == CUMULATIVE:
        return "first season" if row.n_seasons == 1 else f"first {row.n_seasons} seasons"
    return str(row.left_out)


def _caption(placed: pd.DataFrame, headline: pd.Series, margin_limit: float | None) -> str:
    drawn = listed(dict.fromkeys(CAPTIONED[kind] for kind in placed["kind"]))
    as_good = "" if margin_limit is None else " Dotted line: the margin; as good needs the whole interval right of it."
    return (
        f"{capital(headline['says'])}, {TARGET[headline['target']]}: the average {drawn}, with 95% intervals. Band and"
        f" dashed line: the headline and its interval.{as_good}"
    )


def _alt(placed: pd.DataFrame, headline: pd.Series, margin_limit: float | None) -> str:
    digits, unit = headline["digits"], headline["unit"]
    told = [
        f"The headline is {number(headline['estimate'], digits)} {unit}"
        f" ({between(headline['conf_low'], headline['conf_high'], digits)})."
    ]
    if margin_limit is not None:
        told.append(f"The margin is at {number(margin_limit, digits)}.")
    for kind, of_kind in placed.groupby("kind", sort=False):
        low, high = of_kind["estimate"].min(), of_kind["estimate"].max()
        size = number(low, digits) if len(of_kind) == 1 else between(low, high, digits)
        told.append(f"{HEADINGS[kind]}: {size}.")
    return " ".join(told)
