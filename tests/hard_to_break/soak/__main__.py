"""Hostile input for as long as one likes: python -m tests.hard_to_break.soak --minutes 60 [--kinds csv kills] [--seed
word]

Each input is drawn from a seed, which is told where it fails: --only "kills 17-3" gives it again. Ends with a table.
"""

from __future__ import annotations

import argparse
import resource
import shutil
import sys
import tempfile
import time
from collections.abc import Callable, Iterable
from dataclasses import dataclass, field
from pathlib import Path

from tests.hard_to_break.soak import bench, faults, kills, loads, reading, settings_files
from tests.hard_to_break.soak.commands import apart
from tests.tiny_program import write_tiny_program

# how many seeds of each kind are tried one after the other, so that in an hour each has its share
AT_A_TIME = {"csv": 1_300, "xlsx": 200, "settings": 300, "load": 2, "kills": 1, "faults": 1}
Tried = list[tuple[str, int, list[str]]]  # what it was, how many inputs that was, what is wrong


@dataclass
class Kind:
    """What came of one kind of input."""

    n_inputs: int = 0
    n_failed: int = 0
    seconds: float = 0.0
    failed: list[str] = field(default_factory=list)


def main() -> int:
    """0 where nothing failed, else 1."""
    parser = argparse.ArgumentParser(prog="tests.hard_to_break.soak", description=__doc__)
    parser.add_argument("--minutes", type=float, default=60, metavar="N")
    parser.add_argument("--inputs", type=int, default=10**9, metavar="N", help="end once so many were tried")
    parser.add_argument("--seed", default=str(time.time_ns()), metavar="WORD", help="begin with this seed (the time)")
    parser.add_argument(
        "--kinds", nargs="+", choices=AT_A_TIME, default=list(AT_A_TIME), help="these kinds of input alone"
    )
    parser.add_argument("--only", metavar="SEED", help='one input again, such as "kills 17-3"')
    asked = parser.parse_args()
    with tempfile.TemporaryDirectory(prefix="soak-") as folder:
        attack = Attack(Path(folder))
        if asked.only:
            print(
                *(f"{what}: {fault}" for what, _, found in attack.one(asked.only) for fault in found or ["sound"]),
                sep="\n",
            )
            return 0
        kinds = _soaked(attack, asked)
    _tell(kinds, asked.seed)
    return int(any(kind.n_failed for kind in kinds.values()))


class Attack:
    """All kinds of input, each in a fork, from programs made once."""

    def __init__(self, folder: Path) -> None:
        self.folder, self.scratch = folder, folder / "scratch"
        self.sound = write_tiny_program(folder / "sound").folder
        self.bench = bench.made(folder)

    def one(self, seed: str) -> Tried:
        """seed: its kind and a word."""
        return apart(self._here, [seed]) if seed.split()[0] in IN_A_FORK else self._here([seed])

    def several(self, seeds: list[str]) -> Tried:
        """Seeds of one kind; where one of them ends the fork, each is tried by itself."""
        if seeds[0].split()[0] not in IN_A_FORK:
            return self._here(seeds)
        try:
            return apart(self._here, seeds)
        except RuntimeError as crash:
            return (
                [(seed, 1, [str(crash)]) for seed in seeds]
                if len(seeds) == 1
                else [each for seed in seeds for each in self.several([seed])]
            )

    def _here(self, seeds: list[str]) -> Tried:
        tried = []
        for seed in seeds:
            shutil.rmtree(self.scratch, ignore_errors=True)
            self.scratch.mkdir()
            tried += [
                (f"{seed}: {what}" if what else seed, n, found) for what, n, found in KINDS[seed.split()[0]](self, seed)
            ]
        return tried

    def csv(self, seed: str) -> Iterable[tuple[str, int, list[str]]]:
        yield "", 1, reading.faults("csv", seed, self.scratch)

    def xlsx(self, seed: str) -> Iterable[tuple[str, int, list[str]]]:
        yield "", 1, reading.faults("xlsx", seed, self.scratch)

    def settings(self, seed: str) -> Iterable[tuple[str, int, list[str]]]:
        yield "", 1, settings_files.faults(seed, self.scratch)

    def load(self, seed: str) -> Iterable[tuple[str, int, list[str]]]:
        n_files = loads.write(seed, self.sound, self.scratch / "program")
        yield (
            f"{n_files} files",
            1,
            loads.faults(self.scratch / "program", verb="findings" if seed.endswith("0") else "report"),
        )

    def kills(self, seed: str) -> Iterable[tuple[str, int, list[str]]]:
        for what, found in kills.faults(seed, self.bench, self.scratch / "program"):
            yield what, int("a run after" not in what), found

    def faults(self, seed: str) -> Iterable[tuple[str, int, list[str]]]:
        what, found = faults.fault(seed, self.bench, self.scratch / "program")
        yield what, 1, found


KINDS: dict[str, Callable] = {name: getattr(Attack, name) for name in AT_A_TIME}
IN_A_FORK = ("csv", "xlsx", "settings", "load")  # the others fork for each command


def _soaked(attack: Attack, asked: argparse.Namespace) -> dict[str, Kind]:
    kinds = {name: Kind() for name in asked.kinds}
    last, turn = time.monotonic() + 60 * asked.minutes, 0
    while time.monotonic() < last and sum(kind.n_inputs for kind in kinds.values()) < asked.inputs:
        for name, kind in kinds.items():
            n = AT_A_TIME[name]
            start = time.monotonic()
            tried = attack.several([f"{name} {asked.seed}-{turn * n + i}" for i in range(n)])
            kind.seconds += time.monotonic() - start
            for what, n_inputs, found in tried:
                kind.n_inputs += n_inputs
                kind.n_failed += bool(found)
                if found:
                    kind.failed.append(f"{what}: {found[0]}")
                    print(f"FAILED {what}: {' | '.join(found)}", flush=True)
        turn += 1
    return kinds


def _tell(kinds: dict[str, Kind], seed: str) -> None:
    megabytes = (
        max(resource.getrusage(who).ru_maxrss for who in (resource.RUSAGE_SELF, resource.RUSAGE_CHILDREN)) / 1024
    )
    print(f"\nSeed {seed}. The largest process took {megabytes:,.0f} MB.")
    print(f"{'kind':<10}{'tried':>10}{'failed':>8}{'seconds':>9}")
    for name, kind in kinds.items():
        print(f"{name:<10}{kind.n_inputs:>10,}{kind.n_failed:>8}{kind.seconds:>9,.0f}")
    for kind in kinds.values():
        print(*(f"   {told[:300]}" for told in kind.failed), sep="\n", end="\n" if kind.failed else "")


if __name__ == "__main__":
    sys.exit(main())
