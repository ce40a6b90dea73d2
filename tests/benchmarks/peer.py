"""The demo's averages, with all checks of the deliveries, against the R script that an expert would write for the
averages alone (peer.R): CPU seconds of either, its start included, in one run; and how far their answers lie apart.

    python -m tests.benchmarks.peer

The goal: at most twice the script's.
"""

from __future__ import annotations

import io
import os
import subprocess
import sys
import tempfile
from pathlib import Path

import pandas as pd

from tests.peer import KEY, averages, write_plain_demo

SCRIPT = Path(__file__).with_suffix(".R")
OURS = "averages"  # asks for ours, in a process of its own
GOAL = 2.0


def cpu_and_answers(command: list) -> tuple[float, pd.DataFrame]:
    """CPU seconds of a command, and the table that it prints."""
    before = os.times()
    done = subprocess.run(command, capture_output=True, text=True, check=True)
    after = os.times()
    answers = pd.read_csv(io.StringIO(done.stdout), comment="#").set_index(KEY)
    return sum(after[2:4]) - sum(before[2:4]), answers


def main() -> None:
    with tempfile.TemporaryDirectory(prefix="manyfields-bench-") as scratch:
        folder = Path(scratch) / "demo"
        write_plain_demo(folder)
        ours, told = cpu_and_answers([sys.executable, "-m", __spec__.name, OURS, folder])
        scripts, answers = cpu_and_answers(["Rscript", SCRIPT, folder / "seasons", scratch])
    apart = ((told["estimate"] - answers["estimate"]) / answers["std_error"]).abs().max()
    print(f"averages with all checks, start of R in it     {ours:8.1f} s of CPU")
    print(f"the script, start of R in it                   {scripts:8.1f} s of CPU")
    print(f"ours over the script                           {ours / scripts:8.1f} x    (goal: at most {GOAL:g})")
    print(f"largest difference of an average, in its SE    {apart:8.1e}")


if __name__ == "__main__":
    if sys.argv[1:2] == [OURS]:
        averages(Path(sys.argv[2])).reset_index().to_csv(sys.stdout, index=False)
    else:
        main()
