"""Times of one whole run and of its parts, as seconds and as ratios within the run. Nothing is asserted.

make bench
"""

from __future__ import annotations

import tempfile
import time
from collections.abc import Callable
from pathlib import Path

import duckdb

from pipeline.publishing.pages import publish
from pipeline.simulation.demo import write_demo
from pipeline.verbs import run
from tests.benchmarks import loading, pages, peer, weather


def timed(what: str, work: Callable[[], object]) -> tuple[float, object]:
    start = time.perf_counter()
    result = work()
    seconds = time.perf_counter() - start
    print(f"{what:<58}{seconds:8.2f} s")
    return seconds, result


def read_as_text(folder: Path) -> int:
    """What DuckDB alone needs to read the season's CSV files as text."""
    connection = duckdb.connect(config={"threads": 1})
    return sum(
        len(connection.execute(f"select * from read_csv('{path}', all_varchar = true, header = true)").fetchall())
        for path in sorted(folder.glob("seasons/*/*.csv"))
    )


def main() -> None:
    folder = Path(tempfile.mkdtemp(prefix="manyfields-bench-"))
    timed("write the demo program", lambda: write_demo(folder))
    text, rows = timed("DuckDB reads the CSV files as text", lambda: read_as_text(folder))
    load_seconds, _ = timed("load: read, check, class every row", lambda: loading.load(folder))

    from pipeline.estimates.engines.lme4_fits import start_r

    timed("start R", start_r)
    whole, outcome = timed(
        "load and fit again in a new warehouse", lambda: run.build_warehouse(folder, "bench", lambda text: None)
    )
    drawing, published = timed(
        "weave and draw all pages",
        lambda: publish(
            outcome.tables, folder=folder / "published", program_name=outcome.program.name, tell=lambda *words: None
        ),
    )
    n_pages = len({item.path.with_suffix("") for item in published})
    print(f"\nrows in CSV files                                         {rows:8,}")
    print(f"load over reading as text                                 {load_seconds / text:8.1f} x")
    print(f"fit (all comparisons, targets, classes)                   {whole - load_seconds:8.2f} s")
    print(f"pages                                                     {n_pages:8}")
    print(f"drawing per page                                          {drawing / n_pages:8.2f} s")
    pages.main(outcome.tables)
    for part in (weather, loading, peer):
        print()
        part.main()


if __name__ == "__main__":
    main()
