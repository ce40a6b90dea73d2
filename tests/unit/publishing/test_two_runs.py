"""Two runs on the same inputs give the same bytes: in two places, at two times, with two hash seeds, in two time
zones.
"""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

from pipeline.estimates.engines import mixed
from pipeline.publishing.exports import write_exports
from pipeline.simulation.demo import write_demo
from pipeline.verbs import run


def exported(program: Path, to: Path) -> dict[str, bytes]:
    """The CSV files of a run that begins without a warehouse, by name."""
    tables = run.build_warehouse(program, "report", lambda text: None).tables
    write_exports({name.removeprefix("reports."): frame for name, frame in tables.items()}, to)
    return {path.name: path.read_bytes() for path in (to / "csv").iterdir()}


ELSEWHERE = (
    "import sys; from pathlib import Path; from tests.unit.publishing.test_two_runs import exported;"
    " exported(Path(sys.argv[1]), Path(sys.argv[2]))"
)


def exported_elsewhere(program: Path, to: Path) -> dict[str, bytes]:
    """The same from a process of its own, whose sets and dates come in another order and time zone."""
    other = os.environ | {"PYTHONHASHSEED": "7", "TZ": "Pacific/Auckland"}
    other.pop("LD_LIBRARY_PATH", None)  # R, once started here, would have the child load another libpython than its own
    subprocess.run(
        [sys.executable, "-c", ELSEWHERE, str(program), str(to)],
        check=True,
        env=other,
        cwd=Path(__file__).parents[3],
        capture_output=True,
    )
    return {path.name: path.read_bytes() for path in (to / "csv").iterdir()}


def assert_same_bytes(program: Path, scratch: Path) -> None:
    shutil.copytree(program, scratch / "one")
    shutil.copytree(program, scratch / "deeper" / "another")
    first, second = (
        exported(scratch / "one", scratch / "first"),
        exported_elsewhere(scratch / "deeper" / "another", scratch / "second"),
    )
    assert {"gains.csv", "sources.csv", "dictionary.csv"} <= set(first) and set(first) == set(second)
    assert [name for name in first if first[name] != second[name]] == []


def test_a_tiny_program_twice(sound_program, tmp_path, monkeypatch):
    """It asks for no mixed model, so R need not be started for either run."""
    monkeypatch.setenv(mixed.FIT_BY, mixed.OWN)
    assert_same_bytes(sound_program, tmp_path)


@pytest.mark.slow
def test_the_demo_twice(tmp_path):
    write_demo(tmp_path / "demo")
    assert_same_bytes(tmp_path / "demo", tmp_path)
