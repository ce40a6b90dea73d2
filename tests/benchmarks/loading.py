"""A season of 1,000,000 plot rows: loading with all checks against DuckDB reading the same files as text, and peak
memory.

    python -m tests.benchmarks.loading [trials]

Both in one run, each in a process of its own, on one thread. The goal: at most 12 times as long, under 1.5 GiB.
"""

from __future__ import annotations

import json
import resource
import subprocess
import sys
import tempfile
import time
from pathlib import Path

import duckdb
import numpy as np
import pandas as pd

from pipeline.incoming.accompanying import read_accompanying
from pipeline.incoming.deliveries import find_files
from pipeline.provenance import start_run
from pipeline.settings.program import read_program
from pipeline.simulation.demo import PROGRAM_FILE
from pipeline.simulation.scenario import SITES
from pipeline.steps import loading
from pipeline.warehouse import open_warehouse

SEASON = 2091
TRIALS, BLOCKS = 10_000, 10
RATES = (0, 30, 60, 90, 120, 150, 180, 210, 240, 270)
GOAL_TIMES, GOAL_GIB = 12, 1.5


def write_season(folder: Path, n_trials: int) -> None:
    """One season of corn trials, each 10 treatments x 10 blocks, in the delivered format. Invented."""
    season = folder / "seasons" / str(SEASON)
    season.mkdir(parents=True)
    (folder / "program.yml").write_text(PROGRAM_FILE.read_text(encoding="utf-8"), encoding="utf-8")
    sites = pd.DataFrame({"site_id": s.name, "place": s.place, "drainage_class": s.drainage_class} for s in SITES)
    trials = pd.DataFrame({"trial_id": [f"{SEASON}-{i:05d}-corn" for i in range(n_trials)]})
    trials = trials.assign(
        season=SEASON,
        site_id=np.resize(sites["site_id"], n_trials),
        crop="corn",
        design="RCBD",
        planted=f"{SEASON}-05-02",
        harvested=f"{SEASON}-10-01",
        row_spacing_in=30,
        outcome="harvested",
    )
    arms = trials[["trial_id"]].merge(pd.DataFrame({"n_rate_lb_ac": RATES}), how="cross")
    arms["treatment_code"] = "U1-" + arms["n_rate_lb_ac"].astype(str)
    days = pd.date_range(f"{SEASON}-03-01", f"{SEASON}-10-31").strftime("%Y-%m-%d")
    tables = {
        "sites": sites,
        "trials": trials,
        "treatments": _treatments(arms),
        "nitrogen_applications": _applications(arms),
        "plots": _plots(arms),
        "weather_daily": sites[["place"]].merge(pd.DataFrame({"date": days, "rain_in": 0.13}), how="cross"),
    }
    for name, frame in tables.items():
        frame.to_csv(season / f"{name}.csv", index=False)


def _treatments(arms: pd.DataFrame) -> pd.DataFrame:
    is_zero = arms["n_rate_lb_ac"] == 0
    return arms.assign(
        n_source=np.where(is_zero, "none", "urea"),
        timing=np.where(is_zero, "none", "at planting"),
        passes=np.where(is_zero, 0, 1),
        is_zero_n=np.where(is_zero, "yes", "no"),
    )


def _applications(arms: pd.DataFrame) -> pd.DataFrame:
    given = arms[arms["n_rate_lb_ac"] > 0]
    return given.assign(
        application=f"{SEASON}-05-02",
        product="urea",
        product_n_pct=46,
        placement="broadcast",
        counts_toward="treatment",
    )


def _plots(arms: pd.DataFrame) -> pd.DataFrame:
    rng = np.random.default_rng(1)
    plots = arms[["trial_id", "treatment_code", "n_rate_lb_ac"]].merge(
        pd.DataFrame({"block": range(1, BLOCKS + 1)}), how="cross"
    )
    plots = plots.sort_values(["trial_id", "block"], ignore_index=True)
    plots["plot"] = plots["block"] * 100 + plots.groupby(["trial_id", "block"]).cumcount() + 1
    level = 22 + 20 * np.minimum(plots.pop("n_rate_lb_ac"), 150) / 150
    return plots.assign(
        harvest_weight_lb=(level + rng.normal(0, 1.5, len(plots))).round(1),
        moisture_pct=rng.uniform(15, 22, len(plots)).round(1),
        test_weight_lb_bu=57.1, harvest_length_ft=35, rows_harvested=2,
        stand_plants_ac=rng.integers(300, 340, len(plots)) * 100,
        outcome="harvested", cause="", notes="",
    )  # fmt: skip


def read_as_text(folder: Path) -> None:
    """What DuckDB alone needs to read the files into tables of text."""
    with duckdb.connect(str(folder / "text.duckdb"), config={"threads": 1}) as connection:
        for path in sorted(folder.glob("seasons/*/*.csv")):
            connection.execute(
                f"create table {path.stem} as select * from read_csv('{path}', all_varchar = true, header = true)"
            )


def load(folder: Path) -> None:
    """Reads, checks and classes everything into a new warehouse; no estimates."""
    program, card, files = read_program(folder), start_run("bench", folder / "program.yml"), find_files(folder)
    with open_warehouse(folder / "bench.duckdb") as warehouse, warehouse.transaction():
        warehouse.build(["raw"])
        loading.load(
            warehouse, program, files, read_accompanying(folder, [f.folder for f in files]), card, lambda text: None
        )


def measured(what: str, folder: Path) -> dict:
    """Seconds and peak memory (GiB) of one part, in a process of its own."""
    words = [sys.executable, "-m", "tests.benchmarks.loading", what, str(folder)]
    return json.loads(subprocess.run(words, check=True, capture_output=True, text=True).stdout)


def measure(work, folder: Path) -> None:
    start = time.perf_counter()
    work(folder)
    seconds = time.perf_counter() - start
    print(json.dumps({"seconds": seconds, "gib": resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 2**20}))


def main(n_trials: int = TRIALS) -> None:
    with tempfile.TemporaryDirectory(prefix="manyfields-bench-") as name:
        folder = Path(name)
        write_season(folder, n_trials)
        size = sum(p.stat().st_size for p in folder.glob("seasons/*/*.csv"))
        text, loaded = measured("text", folder), measured("load", folder)
    print(f"{n_trials * BLOCKS * len(RATES):,} plot rows, {size / 2**20:,.0f} MiB of CSV files")
    print(f"DuckDB reads the files as text              {text['seconds']:8.2f} s")
    print(f"load: read, check, class every row          {loaded['seconds']:8.2f} s")
    print(
        f"load over reading as text                   {loaded['seconds'] / text['seconds']:8.1f} x    (goal: at most"
        f" {GOAL_TIMES})"
    )
    print(f"peak memory of loading                      {loaded['gib']:8.2f} GiB  (goal: under {GOAL_GIB})")


if __name__ == "__main__":
    if sys.argv[1:2] in (["text"], ["load"]):
        measure({"text": read_as_text, "load": load}[sys.argv[1]], Path(sys.argv[2]))
    else:
        main(*map(int, sys.argv[1:2]))
