"""Draws and runs many programs: python -m tests.drawn_programs --programs 200 --seed 1

One line a program with its faults, then what was found, grouped by kind. A seed gives its program again: --programs 1
--seed 17 --keep folder.
"""

from __future__ import annotations

import argparse
import sys
import tempfile
import time
import warnings
from collections import defaultdict
from pathlib import Path

from tests.drawn_programs.choices import choose
from tests.drawn_programs.read import faults
from tests.drawn_programs.run_drawn import run_drawn

MOST_SHOWN = 3


def main() -> int:
    """0 where no program has a fault, else 1."""
    parser = argparse.ArgumentParser(prog="tests.drawn_programs", description=__doc__)
    parser.add_argument("--programs", type=int, default=200, metavar="N")
    parser.add_argument("--seed", type=int, default=1, metavar="FIRST")
    parser.add_argument("--pictures", action="store_true", help="draw the pictures of pages too")
    parser.add_argument("--keep", type=Path, metavar="FOLDER", help="where the programs and their woven pages stay")
    asked = parser.parse_args()
    warnings.simplefilter("ignore")
    kinds: dict[str, list[str]] = defaultdict(list)
    for seed in range(asked.seed, asked.seed + asked.programs):
        found = _one(seed, asked)
        for fault in dict.fromkeys(found):
            kinds[fault.split(": ", 1)[0]].append(f"seed {seed}: {fault.split(': ', 1)[-1]}")
    print(f"\n{asked.programs} programs, {len(kinds)} kinds of fault")
    for kind, told in sorted(kinds.items(), key=lambda each: -len(each[1])):
        seeds = {fault.split(":")[0] for fault in told}
        print(f"\n{kind} ({len(told)} times, {len(seeds)} programs)")
        for fault in told[:MOST_SHOWN]:
            print(f"   {fault}")
    return int(bool(kinds))


def _one(seed: int, asked: argparse.Namespace) -> list[str]:
    """A program's faults, told in one line."""
    start = time.process_time()
    with tempfile.TemporaryDirectory() as scratch:
        folder = asked.keep / str(seed) if asked.keep else Path(scratch) / "program"
        said = run_drawn(seed, folder, pictures=asked.pictures)
        found = faults(said)
        if asked.keep:
            for name, text in (said.pages | said.messages).items():
                (folder / f"said {name.replace('/', '-')}.md").write_text(text, encoding="utf-8")
    how = "refused" if said.was_refused else f"{len(found)} faults" if found else "sound"
    print(f"{seed} {how}, {len(said.pages)} pages, {time.process_time() - start:.1f} s: {choose(seed)}", flush=True)
    for fault in dict.fromkeys(found):
        print(f"   {fault}", flush=True)
    return found


if __name__ == "__main__":
    sys.exit(main())
