"""The pages of a loaded program as Markdown, not drawn."""

from __future__ import annotations

from pathlib import Path

import pandas as pd

from pipeline import folders
from pipeline.publishing import pages
from pipeline.publishing.weave import weave


def woven_pages(tables: dict[str, pd.DataFrame], folder: Path, *, leave_out: tuple[str, ...]) -> dict[str, str]:
    """Path -> Markdown of every page but those left out; of site-year pages the first alone."""
    views = pages.views_of(tables, folder / "published")
    plans = [plan for plan in pages.plan_pages(views["pages"]) if plan.path not in leave_out]
    first_place = next(plan for plan in plans if plan.source == "site_year.qmd")
    return {
        plan.path: weave(
            folders.REPORTS / plan.source, parameters=plan.parameters, names={"views": views}, folder=folder / plan.path
        ).read_text(encoding="utf-8")
        for plan in plans
        if plan.source != "site_year.qmd" or plan is first_place
    }
