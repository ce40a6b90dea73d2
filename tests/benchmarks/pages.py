"""One more site-year page, HTML and PDF, against drawing its figures alone, both in one run of the demo.

    python -m tests.benchmarks.pages

A page more costs what n + 8 pages take less what n pages take, over 8. The goal: at most 1.5 times its figures.
"""

from __future__ import annotations

import os
import tempfile
import time
from collections.abc import Callable
from pathlib import Path
from unittest.mock import patch

import pandas as pd

from pipeline.display.site_year.monthly_rain_figure import monthly_rain
from pipeline.display.site_year.own_gains_figure import own_gains
from pipeline.publishing import engines, pages
from pipeline.simulation.demo import write_demo
from pipeline.verbs import run

FEW, MORE, REPEATS = 8, 16, 3
GOAL = 1.5


def seconds_of(work: Callable[[], object]) -> float:
    start = time.perf_counter()
    work()
    return time.perf_counter() - start


def make(planned: list[pages.Planned], views: dict[str, pd.DataFrame]) -> None:
    with tempfile.TemporaryDirectory(prefix="manyfields-bench-") as scratch:
        pages.make(planned, views, Path(scratch), lambda what, done, of: None)


def draw_figures(planned: list[pages.Planned], views: dict[str, pd.DataFrame]) -> None:
    """The figures of these pages and nothing else, as reports/site_year.qmd asks for them."""
    gains = views["gains"]
    averages = gains[
        (gains["moderator"] == "all") & (gains["target"] == "seasons tested") & gains["is_headline"].eq(True)
    ]
    break_even = views["money"].set_index("comparison_id")["break_even_display"]
    with tempfile.TemporaryDirectory(prefix="manyfields-bench-") as name:
        for site_year in (page.parameters["site_year_id"] for page in planned):
            own = views["site_year_gains"].query("site_year_id == @site_year")
            rain = views["monthly_rain"].query("site_year_id == @site_year")
            for crop, of_crop in own.groupby("crop"):
                own_gains(of_crop, averages, break_even, folder=Path(name), name=f"gains-{crop}")
            if len(rain):
                monthly_rain(rain, unit="inch", folder=Path(name))


def measure(tables: dict[str, pd.DataFrame]) -> tuple[float, float]:
    """(seconds that one more page takes, seconds that its figures alone take), the quickest of REPEATS each."""
    views = {name.removeprefix("reports."): frame for name, frame in tables.items()}
    views["pages"] = pages.page_list(views)
    planned = [page for page in pages.plan_pages(views["pages"]) if page.source == "site_year.qmd"][:MORE]
    few, added = planned[:FEW], planned[FEW:]
    make(few[:1], views)  # everything imported, fonts read
    draw_figures(few[:1], views)
    with patch.dict(os.environ, {engines.DRAW_BY: engines.PANDOC}):
        rounds = [
            (
                seconds_of(lambda: make(few, views)),
                seconds_of(lambda: make(planned, views)),
                seconds_of(lambda: draw_figures(added, views)),
            )
            for _ in range(REPEATS)
        ]
    of_few, of_all, of_figures = map(min, zip(*rounds))
    return (of_all - of_few) / len(added), of_figures / len(added)


def main(tables: dict[str, pd.DataFrame] | None = None) -> None:
    if tables is None:
        folder = Path(tempfile.mkdtemp(prefix="manyfields-bench-"))
        write_demo(folder)
        tables = run.build_warehouse(folder, "bench", lambda text: None).tables
    page, figures = measure(tables)
    print(f"one more site-year page, HTML and PDF       {page:8.2f} s")
    print(f"its figures alone                           {figures:8.2f} s")
    print(f"page over figures                           {page / figures:8.2f} x    (goal: at most {GOAL})")


if __name__ == "__main__":
    main()
