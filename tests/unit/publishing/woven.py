"""The pages of a loaded program as Markdown, not drawn."""

from __future__ import annotations

from pathlib import Path

import pandas as pd

from pipeline import folders
from pipeline.publishing import pages
from pipeline.publishing.dictionary import dictionary_tables
from pipeline.publishing.editions import editions_with
from pipeline.publishing.published_checks import published_checks
from pipeline.publishing.weave import weave


def woven_pages(tables: dict[str, pd.DataFrame], folder: Path, *, leave_out: tuple[str, ...]) -> dict[str, str]:
    """Path -> Markdown of every page but those left out; of site-year pages the first alone."""
    views = {name.removeprefix("reports."): frame for name, frame in tables.items()}
    views |= dictionary_tables(views["program"]["display_units"].iloc[0]) | published_checks()
    views["pages"] = pages.page_list(views)
    views["editions"] = editions_with(views["program"].iloc[0], folder / "published")
    plans = [plan for plan in pages.plan_pages(views["pages"]) if plan.path not in leave_out]
    first_place = next(plan for plan in plans if plan.source == "site_year.qmd")
    return {
        plan.path: weave(
            folders.REPORTS / plan.source, parameters=plan.parameters, names={"views": views}, folder=folder / plan.path
        ).read_text(encoding="utf-8")
        for plan in plans
        if plan.source != "site_year.qmd" or plan is first_place
    }
