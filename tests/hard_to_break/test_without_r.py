"""A machine without R: a program is loaded, fitted by the program's own code, published, and looked at."""

from __future__ import annotations

import os
import re
import subprocess
import sys

import pytest

from pipeline.verbs.checking_fits import NOTHING_TO_COMPARE
from tests.tiny_program import TinyProgram, write_tiny_program

UNREACHABLE = {"PATH": "/nowhere", "R_HOME": "/nowhere"}


def manyfields(*words: str, program, **environment: str) -> subprocess.CompletedProcess[str]:
    """One verb in a process of its own that cannot reach R."""
    known = {name: value for name, value in os.environ.items() if name != "FIT_BY"}
    known |= {"PYTHONPATH": os.pathsep.join(sys.path), "COLUMNS": "500"} | UNREACHABLE | environment
    words = [sys.executable, "-m", "pipeline", *words, "--program", str(program)]
    return subprocess.run(words, env=known, capture_output=True, text=True)


@pytest.fixture(scope="module")
def reported(tmp_path_factory) -> tuple[TinyProgram, str]:
    """A program with site-years enough for a mixed model, reported without R; and what was said."""
    tiny = write_tiny_program(tmp_path_factory.mktemp("without-r") / "program")
    for place, season in (("Birch Flats", 2091), ("Birch Flats", 2092)):
        tiny.add_delivery("third", like=f"{season}-A-corn", season=season)
        tiny.change("trials", 2, "site_id", place, f"{season}/third")
    done = manyfields("report", program=tiny.folder)
    assert done.returncode == 0 and not done.stderr, done.stderr
    return tiny, done.stdout


def test_a_report_is_made_and_says_once_who_fitted(reported):
    tiny, said = reported
    assert said.count("so this program's own code fits the mixed models") == 1
    for page in ("methods", "review"):
        assert "this program’s own code, with numpy" in (tiny.folder / "published" / f"{page}.html").read_text()


def test_what_looks_at_the_last_report_needs_no_r(reported):
    tiny, _ = reported
    page = (tiny.folder / "published" / "corn.html").read_text()
    first_id = re.search(r"\b[0-9a-f]{8}-[0-9a-f]{4}\b", page)[0]
    for words in (("trace", first_id), ("calibrate", "--programs", "2")):
        done = manyfields(*words, program=tiny.folder)
        assert done.returncode == 0 and done.stdout and not done.stderr, (words, done.stderr)
    assert (tiny.folder / "published" / "data_dictionary.html").is_file()
    assert NOTHING_TO_COMPARE in manyfields("check-fits", program=tiny.folder).stdout


@pytest.mark.thorough
@pytest.mark.parametrize("words", [("claims",), ("layout", "2091-A-corn"), ("plan",)], ids=lambda words: words[0])
def test_nor_do_the_other_verbs(reported, words):
    tiny, _ = reported
    done = manyfields(*words, program=tiny.folder)
    assert done.returncode == 0 and done.stdout and not done.stderr, done.stderr


@pytest.mark.parametrize(
    ("asked", "code", "says"),
    [
        ("lme4", 1, "needs R with the packages lme4, lmerTest, broom and broom.mixed"),
        pytest.param("own", 0, "", marks=pytest.mark.thorough),
    ],
)
def test_one_engine_can_be_asked_for(reported, asked, code, says):
    tiny, _ = reported
    done = manyfields("report", program=tiny.folder, FIT_BY=asked)
    assert done.returncode == code and says in done.stderr and "Traceback" not in done.stderr
    assert "own code fits the mixed models" not in done.stdout
