"""How a run grows with its program: the demo's places once, and as many times over as are asked for, with weather and
yields of their own. CPU seconds of loading, estimates and pages, peak memory, and the exponent from one size to the
next.

    python -m tests.benchmarks.growth [TIMES ...]      (1 4 16, if not said; 117 are 10,000 site-years)

Each size in a process of its own. Pages are made up to PAGES_UP_TO site-years. The goals: exponents of at most 1.1,
at most 4 GiB.
"""

from __future__ import annotations

import json
import math
import os
import resource
import subprocess
import sys
import tempfile
import time
from pathlib import Path

from joblib.externals.loky import get_reusable_executor

from pipeline import kept
from pipeline.publishing.pages import publish
from pipeline.simulation.demo import PROGRAM_FILE, season_tables
from pipeline.simulation.program import RANDOM_SEED, SEASONS, simulate_program
from pipeline.verbs import run

TIMES = (1, 4, 16)
PAGES_UP_TO = 1_500
COPIES_A_FILE = 16  # more weather than of so many is more than one file may hold
NAMED = ("site_id", "place", "trial_id", "site_year_id", "cooperator")
PARTS = ("load", "estimates", "pages")


def write_program(folder: Path, times: int) -> None:
    """The demo's program without defects, `times` over: every copy has places of its own, and a file holds at most
    COPIES_A_FILE.
    """
    (folder / "program.yml").write_text(PROGRAM_FILE.read_text(encoding="utf-8"), encoding="utf-8")
    for copy in range(times):
        tables = simulate_program(random_seed=RANDOM_SEED + copy).tables
        for season in SEASONS:
            of_season = folder / "seasons" / str(season) / f"part-{copy // COPIES_A_FILE + 1}"
            of_season.mkdir(parents=True, exist_ok=True)
            for name, frame in season_tables(tables, season, is_first=season == SEASONS[0]).items():
                named = frame.assign(**{key: frame[key] + f"-{copy}" for key in NAMED if key in frame})
                path = of_season / f"{name}.csv"
                named.to_csv(path, index=False, date_format="%Y-%m-%d", mode="a", header=copy % COPIES_A_FILE == 0)


def cpu() -> float:
    return sum(os.times()[:4])


def gib() -> float:
    """The most memory that this process has held so far."""
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 2**20


def measure(folder: Path) -> dict:
    """CPU seconds and peak memory (GiB) of each part of one run from nothing, and the site-years that it used."""
    seconds, most, start = {}, {}, cpu()

    def stands(part: str) -> None:
        nonlocal start
        seconds[part], most[part], start = cpu() - start, gib(), cpu()

    last = time.process_time()

    def tell(text: str) -> None:  # what each step took, for whoever looks for the dear ones
        nonlocal last
        print(f"{time.process_time() - last:9.1f} s  {gib():5.2f} GiB  then: {text}", file=sys.stderr, flush=True)
        last = time.process_time()

    outcome = run.build_warehouse(folder, "bench", tell, tell_checked=lambda found: stands("load"))
    stands("estimates")
    site_years = len(outcome.tables["reports.site_years"])
    if site_years <= PAGES_UP_TO:
        publish(
            outcome.tables,
            folder=outcome.program.published,
            program_name=outcome.program.name,
            kept=folder / kept.DRAWN,
        )
        get_reusable_executor().shutdown(wait=True)  # else what the weaving processes took is not counted yet
        stands("pages")
    return {"site_years": site_years, "seconds": seconds, "gib": most}


def measured(times: int) -> dict:
    with tempfile.TemporaryDirectory(prefix="manyfields-bench-") as name:
        write_program(Path(name), times)
        words = [sys.executable, "-m", "tests.benchmarks.growth", "measure", name]
        return json.loads(subprocess.run(words, check=True, stdout=subprocess.PIPE, text=True).stdout.splitlines()[-1])


def exponent(part: str, small: dict, large: dict) -> str:
    if small is None or part not in small["seconds"]:
        return ""
    grown = math.log(large["seconds"][part] / small["seconds"][part])
    return f"{grown / math.log(large['site_years'] / small['site_years']):.2f}"


def main(sizes: tuple[int, ...]) -> None:
    heads = "".join(f"{part:>14}{'exponent':>10}{'GiB':>7}" for part in PARTS)
    print(f"{'site-years':>10}{heads}      CPU seconds, growth since the size before, peak memory so far")
    before = None
    for times in sizes:
        now = measured(times)
        cells = "".join(
            f"{now['seconds'][part]:14.1f}{exponent(part, before, now):>10}{now['gib'][part]:7.2f}"
            for part in PARTS
            if part in now["seconds"]
        )
        print(f"{now['site_years']:>10,}{cells}", flush=True)
        before = now


if __name__ == "__main__":
    if sys.argv[1:2] == ["measure"]:
        print(json.dumps(measure(Path(sys.argv[2]))))
    else:
        main(tuple(map(int, sys.argv[1:])) or TIMES)
