"""A machine without R: a program is loaded, fitted by the program's own code, published, and looked at."""

from __future__ import annotations

import json
import os
import re
import subprocess
import sys
from itertools import product

import pytest

from pipeline.estimates.engines.interval_rules import MIXED
from pipeline.verbs.checking_fits import NOTHING_TO_COMPARE
from tests.tiny_program import Stored, TinyProgram, write_tiny_program

UNREACHABLE = {"PATH": "/nowhere", "R_HOME": "/nowhere"}


# a report whose figures are planned and not drawn: no figure asks what fitted
REPORT = """
import sys
from pipeline.__main__ import main
from tests.unit.publishing.woven import figures_left_blank

sys.argv = ["manyfields", "report", "--program", sys.argv[1]]
with figures_left_blank():
    sys.exit(main())
"""
# the verbs of a list one after the other, each as the command does it; after each a line with its exit code
ONE_BY_ONE = """
import json, sys
from pipeline.__main__ import main

for words in json.loads(sys.argv[1]):
    sys.argv = ["manyfields", *words]
    print("\\nexit code", main(), flush=True)
"""
EXIT_CODE = re.compile(r"^exit code (\d)\n", re.MULTILINE)


def run_without_r(*words: str, **environment: str) -> subprocess.CompletedProcess[str]:
    """Python in a process of its own that cannot reach R."""
    known = {name: value for name, value in os.environ.items() if name != "FIT_BY"}
    known |= {"PYTHONPATH": os.pathsep.join(sys.path), "COLUMNS": "500"} | UNREACHABLE | environment
    return subprocess.run([sys.executable, *words], env=known, capture_output=True, text=True)


def manyfields(*words: str, program, **environment: str) -> subprocess.CompletedProcess[str]:
    """One verb."""
    return run_without_r("-m", "pipeline", *words, "--program", str(program), **environment)


def all_of_these(*verbs: tuple[str, ...], program) -> list[tuple[str, int]]:
    """Verbs in one process, of which none says anything of a fault: what each says and its exit code."""
    done = run_without_r("-c", ONE_BY_ONE, json.dumps([[*words, "--program", str(program)] for words in verbs]))
    assert done.returncode == 0 and not done.stderr, done.stderr
    *parts, rest = EXIT_CODE.split(done.stdout)
    assert len(parts) == 2 * len(verbs) and not rest, done.stdout
    return [(said.strip(), int(code)) for said, code in zip(parts[::2], parts[1::2], strict=True)]


@pytest.fixture(scope="module")
def reported(tmp_path_factory) -> tuple[TinyProgram, str]:
    """A program with site-years enough for a mixed model, reported without R; and what was said."""
    tiny = write_tiny_program(tmp_path_factory.mktemp("without-r") / "program")
    tiny.append("sites", site_id="Cedar Hill", place="Cedar", drainage_class="Well drained")
    for site, season in product(("Birch Flats", "Cedar Hill"), (2091, 2092)):
        folder = f"{site[:5]}-{season}"
        tiny.add_delivery(folder, like=f"{season}-A-corn", season=season)
        tiny.change("trials", 2, "site_id", site, f"{season}/{folder}")
        tiny.scatter(season, f"{season}/{folder}")
    done = run_without_r("-c", REPORT, str(tiny.folder))
    assert done.returncode == 0 and not done.stderr, done.stderr
    return tiny, done.stdout


def test_a_report_is_made_and_says_once_who_fitted(reported):
    tiny, said = reported
    assert said.count("so this program's own code fits the mixed models") == 1
    gains = Stored(tiny.folder / "warehouse.duckdb")["reports.gains"]
    leading = gains[gains["is_headline"].eq(True) & gains["estimate"].notna()]
    assert MIXED in set(leading["method"]), "a mixed model was fitted and printed"
    for page in ("methods", "review"):
        words = (tiny.folder / "published" / f"{page}.html").read_text().split()  # whatever its lines
        assert "this program’s own code, with numpy" in " ".join(words)


def test_what_looks_at_the_last_report_needs_no_r(reported):
    tiny, _ = reported
    page = (tiny.folder / "published" / "corn.html").read_text()
    first_id = re.search(r"\b[0-9a-f]{8}-[0-9a-f]{4}\b", page)[0]
    trace, calibration, fits = all_of_these(
        ("trace", first_id), ("calibrate", "--programs", "2"), ("check-fits",), program=tiny.folder
    )
    for said, code in (trace, calibration):
        assert code == 0 and said
    assert (tiny.folder / "published" / "data_dictionary.html").is_file()
    assert NOTHING_TO_COMPARE in fits[0]


@pytest.mark.thorough
def test_nor_do_the_other_verbs(reported):
    tiny, _ = reported
    for said, code in all_of_these(("claims",), ("layout", "2091-A-corn"), ("plan",), program=tiny.folder):
        assert code == 0 and said


@pytest.mark.parametrize(
    ("asked", "code", "says"),
    [
        ("lme4", 1, "needs R with the packages lme4 and lmerTest"),
        pytest.param("own", 0, "", marks=pytest.mark.thorough),
    ],
)
def test_one_engine_can_be_asked_for(reported, asked, code, says):
    tiny, _ = reported
    done = manyfields("report", program=tiny.folder, FIT_BY=asked)
    assert done.returncode == code and says in done.stderr and "Traceback" not in done.stderr
    assert "own code fits the mixed models" not in done.stdout
