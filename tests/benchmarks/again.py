"""What a run costs after one edit, as a share of a run from nothing: CPU seconds of this process and of those it
starts.

    python -m tests.benchmarks.again [SEASONS]      (the demo's 4, if not said; 10 take most of an hour)

The goals, of ten seasons, until findings, averages and pages: one corrected plot 3, 10 and 25%; one season more 15%;
nothing changed 3%.
"""

from __future__ import annotations

import csv
import os
import shutil
import sys
import tempfile
from functools import partial
from pathlib import Path

from joblib.externals.loky import get_reusable_executor

from pipeline import kept
from pipeline.publishing import engines
from pipeline.publishing.pages import publish
from pipeline.simulation.demo import write_demo
from pipeline.simulation.program import SEASONS
from pipeline.verbs import run

PARTS = ("findings", "averages", "estimates", "pages")


def cpu() -> float:
    return sum(os.times()[:4])


def reported(folder: Path) -> dict[str, float]:
    """One run and its pages: CPU seconds until the findings are known, until the averages are, until all estimates
    stand, and until all pages do.
    """
    start, until = cpu(), {}
    outcome = run.build_warehouse(
        folder,
        "bench",
        lambda text: None,
        partial(run.estimate_all, tell_averages=lambda shown: until.update(averages=cpu() - start)),
        tell_checked=lambda found: until.update(findings=cpu() - start),
    )
    until["estimates"] = cpu() - start
    publish(
        outcome.tables, folder=outcome.program.published, program_name=outcome.program.name, kept=folder / kept.DRAWN
    )
    get_reusable_executor().shutdown(wait=True)  # else what the weaving processes took is not counted yet
    return until | {"pages": cpu() - start}


def last_season(folder: Path) -> Path:
    return max((folder / "seasons").iterdir(), key=lambda season: season.name)


def correct_a_plot(folder: Path) -> None:
    """One harvest weight of the last season, a tenth of a pound heavier."""
    file = last_season(folder) / "plots.csv"
    with file.open(newline="", encoding="utf-8") as text:
        heads, *rows = csv.reader(text)
    at = heads.index("harvest_weight_lb")
    row = next(row for row in rows if row[at])
    row[at] = f"{float(row[at]) + 0.1:.1f}"
    with file.open("w", newline="", encoding="utf-8") as text:
        csv.writer(text).writerows([heads, *rows])


def change_a_price(folder: Path) -> None:
    settings = folder / "program.yml"
    text = settings.read_text(encoding="utf-8")
    settings.write_text(text.replace("pass_cost_per_ac: 12", "pass_cost_per_ac: 13"), encoding="utf-8")


def main(n_seasons: int) -> None:
    scratch = Path(tempfile.mkdtemp(prefix="manyfields-bench-"))
    write_demo(scratch / "demo", seasons=tuple(range(SEASONS[0], SEASONS[0] + n_seasons)))
    shutil.copytree(scratch / "demo", scratch / "grown")
    print(f"pages by {engines.drawn_by()}")
    print(f"{'CPU seconds until':<32}" + "".join(f"{part:>12}" for part in PARTS))
    nothing = reported(scratch / "demo")
    print(f"{'from nothing':<32}" + "".join(f"{nothing[part]:12.1f}" for part in PARTS))
    print("as a share of the whole run from nothing")

    def tell(what: str, until: dict[str, float]) -> None:
        print(f"{what:<32}" + "".join(f"{until[part] / nothing['pages']:12.0%}" for part in PARTS), flush=True)

    for what, edit in (
        ("one plot corrected", correct_a_plot),
        ("one price changed", change_a_price),
        ("the same again, every step", lambda folder: None),
    ):
        edit(scratch / "demo")
        tell(what, reported(scratch / "demo"))
    last = last_season(scratch / "grown")
    shutil.move(last, scratch / last.name)
    reported(scratch / "grown")
    shutil.move(scratch / last.name, last)
    tell("one season more, on those before", reported(scratch / "grown"))
    correct_a_plot(scratch / "grown")
    tell("one plot of that season corrected", reported(scratch / "grown"))


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else len(SEASONS))
