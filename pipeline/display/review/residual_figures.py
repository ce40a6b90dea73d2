"""Residuals of site-years and blocks: against the normal distribution, and trial by trial."""

from __future__ import annotations

from pathlib import Path

import pandas as pd
import plotnine as p9

from pipeline.display.figures import theme
from pipeline.display.words.numbers import count, listed, number
from pipeline.display.words.tables import Markdown

PANELS = {"site-year gain": "Site-years around the average", "block gain": "Blocks around their trial's mean"}
NORMAL_INCH, BLOCKS_INCH = 2.1, 1.7
PANELS_APART = 0.04  # of the width: room for a number at either side
MOST_NAMED = 3  # trials in a picture of all their blocks


def normal_plot(rows: pd.DataFrame, *, folder: Path, name: str) -> Markdown:
    """Standardized residuals against normal quantiles, site-years and blocks side by side.

    Args:
        rows: one comparison's rows of reports.diagnostics with standardized residuals.
    """
    known = rows[rows["standardized"].notna()]
    known = known.assign(panel=pd.Categorical(known["kind"].map(PANELS), list(PANELS.values())))

    def plot() -> p9.ggplot:
        return p9.ggplot(known, p9.aes("normal_quantile", "standardized")) + [
            p9.geom_abline(slope=1, intercept=0, color=theme.AVERAGE, size=0.6),
            p9.geom_point(color=theme.INK, size=1.2, alpha=0.6),
            p9.facet_wrap("panel", ncol=2),
            p9.scale_x_continuous(labels=theme.amounts),
            p9.scale_y_continuous(labels=theme.amounts),
            p9.labs(x="Expected if normal", y="Standardized residual"),
            theme.page_theme(NORMAL_INCH)
            + p9.theme(
                axis_title_y=p9.element_text(size=theme.TEXT_SIZE, rotation=90),
                # where one at the left end stands below one at the lower end
                axis_text_x=p9.element_text(margin={"t": 5, "units": "pt"}),
                panel_spacing_x=PANELS_APART,
            ),
        ]

    caption = (
        "Standardized residuals against what a normal distribution expects: points along the line are what the"
        " intervals assume."
    )
    return theme.figure(
        plot, folder=folder, name=name, caption=caption, alt=" ".join(_largest(known, kind) for kind in PANELS)
    )


def by_trial(rows: pd.DataFrame, *, folder: Path, name: str) -> Markdown:
    """Block residuals of each trial, trials in order of season and place.

    Args:
        rows: one comparison's rows of reports.diagnostics.
    """
    blocks = rows[rows["kind"] == "block gain"].sort_values(["season", "place", "trial_id"])
    order = {trial: x for x, trial in enumerate(blocks["trial_id"].unique())}
    blocks = blocks.assign(x=blocks["trial_id"].map(order))
    seasons = blocks.groupby("season", as_index=False)["x"].min()
    named = _farthest(blocks)
    unit = blocks["unit"].iloc[0]

    def plot() -> p9.ggplot:
        return p9.ggplot(blocks, p9.aes("x", "residual")) + [
            p9.geom_hline(yintercept=0, color=theme.INK, size=0.6),
            p9.geom_vline(xintercept=[x - 0.5 for x in seasons["x"]], color=theme.RANGE, size=0.5),
            p9.geom_point(color=theme.INK, size=1.2, alpha=0.6),
            p9.geom_point(data=named, color=theme.INK, size=2.4, shape="D"),
            p9.scale_x_continuous(
                breaks=list(seasons["x"]), labels=[str(season) for season in seasons["season"]], minor_breaks=[]
            ),
            p9.scale_y_continuous(labels=theme.amounts),
            p9.labs(x="Trials by season, then place", y=f"Block gain less\nits trial's mean, {unit}"),
            theme.page_theme(BLOCKS_INCH) + p9.theme(axis_title_y=p9.element_text(size=theme.TEXT_SIZE, rotation=90)),
        ]

    caption = (
        f"How far each block's gain is from the mean gain of its trial, in {unit}: a trial that scatters much more than"
        " the others stands out. Diamonds, the farthest of all:"
        f" {listed(f'{row.place} {row.season}' for row in named.itertuples())}."
    )
    largest = named.iloc[0]
    alt = (
        f"{count(len(blocks), 'block')} of {count(len(order), 'trial')}. The farthest is"
        f" {number(largest['residual'], largest['digits'])} {unit} from its trial's mean, in {largest['trial_id']}."
    )
    return theme.figure(plot, folder=folder, name=name, caption=caption, alt=alt)


def _farthest(blocks: pd.DataFrame) -> pd.DataFrame:
    """The farthest block of each of the trials that reach farthest."""
    order = blocks["residual"].abs().sort_values(ascending=False).index
    return blocks.loc[order].drop_duplicates("trial_id").head(MOST_NAMED)


def _largest(known: pd.DataFrame, kind: str) -> str:
    of_kind = known[known["kind"] == kind]
    if of_kind.empty:
        return f"{PANELS[kind]}: none."
    largest = of_kind.loc[of_kind["standardized"].abs().idxmax()]
    where = f"{largest['place']} {largest['season']}"
    return f"{PANELS[kind]}: {len(of_kind)} points, the farthest {number(largest['standardized'], 1)} at {where}."
