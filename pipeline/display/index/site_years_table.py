"""Every site-year on the home page, as a table that a reader sorts and narrows down."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path

import pandas as pd

from pipeline.display.words.numbers import capital, number, text
from pipeline.display.words.tables import Markdown, escaped, pipe_table
from pipeline.display.words.trials import PLANNED, crop_of
from pipeline.display.words.where import drained

SCRIPT = Path(__file__).parent / "site_years_table.js"
NOT_REPORTED, NO_CLASS, NOT_YET = "not reported", "no class", "not known yet"
NO_GAIN = "not compared"


def site_years_table(
    pages: pd.DataFrame, site_years: pd.DataFrame, gains: pd.DataFrame, leads: Mapping[str, str]
) -> Markdown:
    """One row per crop and site-year, with its own page linked.

    Args:
        pages: the list of pages, those of site-years with their path.
        site_years: rows of reports.site_years, one per crop, place and season.
        gains: rows of reports.site_year_gains.
        leads: the comparison whose gain is printed, by crop.
    """
    paths = pages[pages["kind"] == "site-year"].set_index("site_year_id")["path"]
    rows = site_years[site_years["site_year_id"].isin(paths.index)].sort_values(["crop", "season", "place"])
    if rows.empty:
        return Markdown()
    of_lead = gains[gains["comparison_id"] == gains["crop"].map(leads)].set_index(["crop", "site_year_id"])
    frame = pd.DataFrame(
        {
            "Crop": capital(crop_of(row._asdict())),
            "Season": str(row.season),
            "Place": Markdown(f"[{escaped(row.place)}]({paths[row.site_year_id]}.html)"),
            "Soil drainage": drained(row, NOT_REPORTED),
            "Season's rain": text(row.rainfall_class) or (NOT_YET if _is_ahead(row) else NO_CLASS),
            "Gain": _gain(of_lead, row),
        }
        for row in rows.itertuples()
    )
    caption = (
        "Every site-year, with the gain of its crop's main comparison, at that site-year alone. "
        "One trial cannot settle a small gain. PDF pages stand in the folder site-years."
    )
    script = SCRIPT.read_text(encoding="utf-8")
    table = pipe_table(frame, caption=caption, label="site-years", right=("Gain",))
    return Markdown(f"::: {{.site-years}}\n{table}\n:::\n\n```{{=html}}\n<script>\n{script}</script>\n```\n")


def _is_ahead(row) -> bool:
    """Whether all that is to be harvested there is planned."""
    return row.n_planned == row.n_trials


def _gain(of_lead: pd.DataFrame, row) -> str:
    if _is_ahead(row):
        return PLANNED
    if (row.crop, row.site_year_id) not in of_lead.index:
        return NO_GAIN
    found = of_lead.loc[(row.crop, row.site_year_id)]
    if pd.isna(found["gain"]):
        return NO_GAIN
    return f"{'+' if found['gain'] >= 0 else ''}{number(found['gain'], found['digits'])} {found['unit']}"
