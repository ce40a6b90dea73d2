"""Ctrl-C, a request to end and a terminal that is closed: a command ends soon, says one sentence, and leaves nothing at
work.
"""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest

from pipeline.stopping import SENTENCE
from tests.tiny_program import TinyProgram

ROOT = Path(__file__).parents[2]
LONG = 120.0  # seconds that a loaded machine may need; what is stopped here would go on for minutes
# A command that makes the file `reached` when its long piece of work has begun. Where nothing but the work counts, what
# arrives is stored in the open transaction, and the trials of the last run stay instead of being built again; and only
# what the work needs is imported.
AT_WORK = """
import atexit, sys, time
from pathlib import Path
from pipeline import progress, stopping
from pipeline.__main__ import main
from pipeline.steps import loading
from tests.tiny_program import no_estimates

work, reached, verb, folder = sys.argv[1], Path(sys.argv[2]), sys.argv[3], sys.argv[4]
if work not in ("loading", "simulating"):
    loading.build_staging = loading.build_checked = lambda *_, **__: None

def query(warehouse, *_):
    atexit.register(time.sleep, 1)  # a while in which a second Ctrl-C comes
    reached.touch()
    warehouse.read("select sum(hash(a.range, b.range)) from range(1000000) as a, range(1000000) as b")

def in_r(*_):
    from pipeline.estimates.engines import lme4_fits
    r = lme4_fits.start_r()
    reached.touch()
    r.robjects.r("repeat {}")

def drawing(outcome):  # by a pandoc that starts a program of its own and waits for it
    from pipeline.publishing import by_pandoc, engines
    from pipeline.publishing.page import Page
    page = Page(reached.with_name("page.md"), reached.parent, "page")
    engines.pandoc = lambda: ["sh", "-c", f"sleep 300 & echo $! > {reached}.new; mv {reached}.new {reached}; wait"]
    by_pandoc.draw_all([page] * 9, formats=("html",), on_drawn=lambda number: None)

def weaving(outcome):  # by two processes
    from pipeline import jobs
    from pipeline.publishing import at_once
    jobs.cpu_count, at_once.PAGES_A_PROCESS = lambda: 2, 1
    source = reached.with_name("page.qmd")
    source.write_text("\\n".join(["```{python}", "import time; time.sleep(300)", "```"]))
    pages = [at_once.Weaving(source, {}, reached.with_name(f"{number}")) for number in range(4)]
    reached.touch()
    list(at_once.woven(pages, {}, reached.parent))

def moving(outcome):  # finished files into place
    with stopping.put_off():
        reached.touch()
        for name in "abc":
            time.sleep(0.2)
            reached.with_name(name).touch()
    time.sleep(300)

estimate = {"query": query, "in R": in_r}.get(work, no_estimates)
publish = {"drawing": drawing, "moving": moving, "weaving": weaving}.get(work, lambda outcome: None)
parts = {"estimate": estimate, "publish": publish}
if verb == "calibrate":
    progress.NowAndThen.__call__ = lambda self, text: reached.touch()
sys.argv = ["manyfields", verb, "--program", folder]
sys.exit(main(**parts))
"""


def started(work: str, reached: Path, verb: str, tiny: TinyProgram) -> subprocess.Popen:
    """The command, at its long piece of work."""
    command = [sys.executable, "-c", AT_WORK, work, str(reached), verb, str(tiny.folder)]
    process = subprocess.Popen(command, cwd=ROOT, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True)
    last = time.monotonic() + LONG
    while not reached.exists():
        assert process.poll() is None, process.communicate()[1]
        if time.monotonic() > last:
            process.kill()
            pytest.fail("the command does not come to its work")
        time.sleep(0.05)
    return process


def ended(process: subprocess.Popen) -> tuple[int, str]:
    """Its exit code and what it said of its end."""
    try:
        said = process.communicate(timeout=LONG)[1]
    except subprocess.TimeoutExpired:
        process.kill()
        said = process.communicate()[1]
        pytest.fail(f"still at work, and said: {said}")
    return process.returncode, said.strip()


def is_at_work(number: int) -> bool:
    """Whether a process lives; one that has ended and that nobody asked about yet does not."""
    try:
        return "\nState:\tZ" not in Path(f"/proc/{number}/status").read_text()
    except FileNotFoundError:
        return False


@pytest.fixture
def grown(loaded_tiny) -> TinyProgram:
    """A loaded program to which a delivery came afterwards."""
    loaded_tiny.add_delivery("east")
    return loaded_tiny


@pytest.fixture
def reached(tmp_path, ctrl_c_is_heard) -> Path:
    return tmp_path / "reached"


@pytest.mark.parametrize(
    ("work", "number"), [("query", signal.SIGTERM), ("in R", signal.SIGINT), ("drawing", signal.SIGINT)]
)
def test_one_signal_ends_a_run(grown, reached, work, number):
    before = grown.contents()
    process = started(work, reached, "report", grown)
    os.kill(process.pid, number)
    assert ended(process) == (128 + number, SENTENCE)
    assert (grown.contents() == before) == (work != "drawing"), "before its pages are drawn a run is stored wholly"
    if work == "drawing":
        assert not is_at_work(int(reached.read_text())), "what drew the pages goes on"


def children(process: subprocess.Popen) -> list[int]:
    listed = subprocess.run(["ps", "--ppid", str(process.pid), "-o", "pid="], capture_output=True, text=True).stdout
    return [int(number) for number in listed.split()]


@pytest.mark.parametrize("seconds", [0.1, 3])
def test_what_weaves_pages_ends_without_a_word(grown, reached, seconds):
    """A terminal tells Ctrl-C to every process of the command, also to those that have only just begun."""
    process = started("weaving", reached, "report", grown)
    last = time.monotonic() + LONG
    while len(all_of_them := children(process)) < 3:  # two that weave, and one of joblib's
        assert time.monotonic() < last, all_of_them
    time.sleep(seconds)
    for number in (*all_of_them, process.pid):
        os.kill(number, signal.SIGINT)
    assert ended(process) == (130, SENTENCE)
    while at_work := [number for number in all_of_them if is_at_work(number)]:
        assert time.monotonic() < last, at_work
        time.sleep(0.1)


def test_a_second_ctrl_c_is_no_other_end(grown, reached):
    process = started("query", reached, "report", grown)
    os.kill(process.pid, signal.SIGINT)
    time.sleep(0.6)
    os.kill(process.pid, signal.SIGINT)
    assert ended(process) == (130, SENTENCE)


@pytest.mark.thorough
def test_a_kill_after_a_request_to_end_leaves_the_warehouse_as_it_was(grown, reached):
    before = grown.contents()
    process = started("in R", reached, "report", grown)
    os.kill(process.pid, signal.SIGTERM)
    os.kill(process.pid, signal.SIGKILL)
    process.communicate()
    assert grown.contents() == before


def test_files_are_moved_into_place_together(grown, reached):
    process = started("moving", reached, "report", grown)
    os.kill(process.pid, signal.SIGINT)
    assert ended(process) == (130, SENTENCE)
    assert [reached.with_name(name).exists() for name in "abc"] == [True, True, True]


def test_a_terminal_that_is_gone(grown, reached):
    """Nothing can be said any more; the exit code tells it."""
    process = started("query", reached, "report", grown)
    process.stdout.close()
    process.stderr.close()
    process.stdout = process.stderr = None
    os.kill(process.pid, signal.SIGHUP)
    try:
        assert process.wait(LONG) == 129
    finally:
        process.kill()


def test_one_who_reads_the_first_line_only(grown, reached):
    """`| head -1`"""
    before = grown.contents()
    command = [sys.executable, "-c", AT_WORK, "loading", str(reached), "report", str(grown.folder)]
    with subprocess.Popen(command, cwd=ROOT, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True) as process:
        process.stdout.close()
        assert (process.stderr.read().strip(), process.wait(LONG)) == (SENTENCE, 128 + signal.SIGPIPE)
    assert grown.contents() == before


@pytest.mark.thorough
@pytest.mark.usefixtures("fitted_by_own_code")
def test_the_workers_of_a_calibration_end_with_it(tiny, reached):
    tiny.add_delivery("third")
    tiny.change("trials", 2, "site_id", "Birch Flats", "2091/third")
    tiny.scatter(2091, "2091/third", 2092)
    tiny.load_and_estimate()
    process = started("simulating", reached, "calibrate", tiny)
    at_first = children(process)
    os.kill(process.pid, signal.SIGTERM)
    assert ended(process) == (143, SENTENCE)
    last = time.monotonic() + LONG
    while at_work := [number for number in at_first if is_at_work(number)]:
        assert time.monotonic() < last, at_work
        time.sleep(0.1)
