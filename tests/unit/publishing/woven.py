"""The pages of a loaded program as Markdown, not drawn."""

from __future__ import annotations

from pathlib import Path
from unittest.mock import patch

import pandas as pd
from matplotlib.figure import Figure
from plotnine import ggplot

from pipeline import folders
from pipeline.publishing import pages
from pipeline.publishing.draw import Drawn, Page
from pipeline.publishing.weave import weave


def figures_left_blank():
    """While it lasts, figures are planned and not drawn, for tests of all else that a page is."""
    return patch.object(ggplot, "draw", lambda plot, show=False: Figure(figsize=(0.2, 0.2)))


def woven_pages(
    tables: dict[str, pd.DataFrame], folder: Path, *, leave_out: tuple[str, ...], every_place: bool = False
) -> dict[str, str]:
    """Path -> Markdown of every page but those left out; of site-year pages the first alone, or each."""
    views = pages.views_of(tables, folder / "published")
    plans = [plan for plan in pages.plan_pages(views["pages"]) if plan.path not in leave_out]
    first_place = next(plan for plan in plans if plan.source == "site_year.qmd")
    return {
        plan.path: (
            weave(
                folders.REPORTS / plan.source,
                parameters=plan.parameters,
                names={"views": views},
                folder=folder / plan.path,
            ).read_text(encoding="utf-8")
        )
        for plan in plans
        if every_place or plan.source != "site_year.qmd" or plan is first_place
    }


def as_markdown(group: list[Page], *, formats: tuple[str, ...], write, progress) -> list[Drawn]:
    """In place of drawing: every file of a page holds its Markdown."""
    made = []
    for page in group:
        write(page)
        page.folder.mkdir(parents=True, exist_ok=True)
        made += [Drawn(page, format, page.folder / f"{page.name}.{format}") for format in formats]
        for drawn in made[-len(formats) :]:
            drawn.path.write_text(page.markdown.read_text(encoding="utf-8"), encoding="utf-8")
        progress(page)
    return made
