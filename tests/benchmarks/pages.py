"""All pages of the demo: CPU by part, and the time of several processes against one. Then the CPU of one more site-year
page, HTML and PDF, against that of drawing its figures alone, both by one process. All in one run.

    python -m tests.benchmarks.pages

The goal for two cores: at most 0.6 of the time of one process. Beside it stands what the cores give to work that shares
nothing, a loop in Python: two that are halves of one core give less than twice as much. A page more costs what n + 8
pages take less what n pages take, over 8. The goal: at most 1.5 times its figures.
"""

from __future__ import annotations

import os
import subprocess
import sys
import tempfile
import threading
import time
from collections import Counter
from collections.abc import Callable
from pathlib import Path
from unittest.mock import patch

import pandas as pd
from joblib.externals.loky import get_reusable_executor
from plotnine import ggplot

from pipeline import jobs
from pipeline.display.figures import theme
from pipeline.display.site_year.page import SiteYearPage
from pipeline.display.words.tables import stacked
from pipeline.publishing import at_once, by_pandoc, pages
from pipeline.simulation.demo import write_demo
from pipeline.verbs import run

FEW, MORE, REPEATS = 8, 16, 3
GOAL, GOAL_TOGETHER = 1.5, 0.6
TURNS = 100_000_000


def seconds_of(work: Callable[[], object]) -> float:
    start = time.perf_counter()
    work()
    return time.perf_counter() - start


def cpu_of(work: Callable[[], object]) -> float:
    """CPU seconds of this process and of those that it waited for."""
    before = os.times()
    work()
    return sum(os.times()[:4]) - sum(before[:4])


def make(planned: list[pages.Planned], views: dict[str, pd.DataFrame]) -> None:
    with tempfile.TemporaryDirectory(prefix="manyfields-bench-") as scratch:
        pages.make(planned, views, Path(scratch), lambda what, done, of: None)


class Parts:
    """CPU seconds of this process by part, each without the parts inside it, while its functions are wrapped."""

    def __init__(self) -> None:
        self.seconds: Counter[str] = Counter()
        self._inside = threading.local()

    def told(self, where: object, name: str, part: str):
        real = getattr(where, name)

        def timed(*words, **more):
            outer, self._inside.seconds = getattr(self._inside, "seconds", 0.0), 0.0
            start = time.thread_time()
            try:
                return real(*words, **more)
            finally:
                spent = time.thread_time() - start
                self.seconds[part] += spent - self._inside.seconds
                self._inside.seconds = outer + spent

        return patch.object(where, name, timed)


def by_part(planned: list[pages.Planned], views: dict[str, pd.DataFrame]) -> tuple[Counter[str], float, float]:
    """Of all pages by one process: CPU seconds by part, all CPU seconds, and the time."""
    parts = Parts()
    with (
        patch.object(jobs, "cpu_count", lambda: 1),
        parts.told(at_once, "weave", "weaving, without figures"),
        parts.told(ggplot, "draw", "figures built"),
        parts.told(theme, "save", "figures saved"),
        parts.told(by_pandoc, "compile_pdf", "PDF by typst, its own threads not counted"),
    ):
        before, start = os.times(), time.perf_counter()
        make(planned, views)
        after, seconds = os.times(), time.perf_counter() - start
    parts.seconds["pandoc"] = sum(after[2:4]) - sum(before[2:4])
    return parts.seconds, sum(after[:4]) - sum(before[:4]), seconds


def by_processes(planned: list[pages.Planned], views: dict[str, pd.DataFrame]) -> tuple[float, float]:
    """Of all pages by as many processes as a report takes: all CPU seconds, those of their start too, and the time."""
    before = os.times()
    seconds = seconds_of(lambda: make(planned, views))
    get_reusable_executor().shutdown(wait=True)  # else what the processes took is not counted yet
    return sum(os.times()[:4]) - sum(before[:4]), seconds


def of_loops(processes: int) -> float:
    """The time in which that many processes share TURNS turns of a loop."""
    words = [sys.executable, "-c", f"for i in range({TURNS // processes}): i * i % 7"]

    def work() -> None:
        for process in [subprocess.Popen(words) for _ in range(processes)]:
            process.wait()

    return seconds_of(work)


def tell_all_pages(tables: dict[str, pd.DataFrame]) -> None:
    with tempfile.TemporaryDirectory(prefix="manyfields-bench-") as folder:
        views = pages.views_of(tables, Path(folder) / "published")
        planned = pages.plan_pages(views["pages"])
        make(planned[:1], views)  # everything imported, fonts read
        parts, cpu, alone = by_part(planned, views)
        cpu_together, together = by_processes(planned, views)
    print(f"CPU of {len(planned)} pages by one process               {cpu:8.1f} s, of it")
    for part, seconds in parts.most_common():
        print(f"   {part:<44}{seconds:8.1f} s")
    print(f"CPU by several processes, their start in it    {cpu_together:8.1f} s")
    print(
        f"time of several processes over one             {together / alone:8.2f} x    (goal: at most {GOAL_TOGETHER})"
    )
    print(f"the same of loops that share nothing           {of_loops(os.cpu_count()) / of_loops(1):8.2f} x")


def draw_figures(planned: list[pages.Planned], views: dict[str, pd.DataFrame]) -> None:
    """The sections of these pages that hold figures, and nothing else of them."""
    with tempfile.TemporaryDirectory(prefix="manyfields-bench-") as name:
        for page in planned:
            drawn = SiteYearPage(views, page.parameters["site_year_id"], Path(name))
            stacked(drawn.gains_figures, drawn.rain, drawn.nitrogen_met)


def measure(tables: dict[str, pd.DataFrame]) -> tuple[float, float]:
    """(CPU seconds of one more page, CPU seconds of its figures alone), the least of REPEATS each."""
    views = {name.removeprefix("reports."): frame for name, frame in tables.items()}
    views["pages"] = pages.page_list(views)
    planned = [page for page in pages.plan_pages(views["pages"]) if page.source == "site_year.qmd"][:MORE]
    few, added = planned[:FEW], planned[FEW:]
    make(few[:1], views)  # everything imported, fonts read
    draw_figures(few[:1], views)
    with patch.object(jobs, "cpu_count", lambda: 1):
        rounds = [
            (
                cpu_of(lambda: make(few, views)),
                cpu_of(lambda: make(planned, views)),
                cpu_of(lambda: draw_figures(added, views)),
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
    tell_all_pages(tables)
    page, figures = measure(tables)
    print(f"one more site-year page, HTML and PDF       {page:8.2f} s")
    print(f"its figures alone                           {figures:8.2f} s")
    print(f"page over figures                           {page / figures:8.2f} x    (goal: at most {GOAL})")


if __name__ == "__main__":
    main()
