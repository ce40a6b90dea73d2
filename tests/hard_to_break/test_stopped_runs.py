"""Runs that are killed, interrupted, shut out or short of disk: the warehouse opens again and is as before, or
complete.
"""

from __future__ import annotations

import errno
import os
import resource
import shutil
import signal
import subprocess
import sys
from pathlib import Path

import duckdb
import pytest

from pipeline.__main__ import main
from pipeline.errors import UserError
from pipeline.warehouse import Warehouse
from tests.tiny_program import TinyProgram, no_estimates

ROOT = Path(__file__).parents[2]
# runs in processes of their own, without estimates, each of which kills itself when a step is reached
KILLED = """
import os, signal, sys
from pipeline.__main__ import main
from pipeline.verbs import run  # before the processes part, so that what takes long to import is imported once
from pipeline.steps import weather
from pipeline.warehouse import Warehouse
from tests.tiny_program import no_estimates

def kill(reached):
    if reached == moment:
        os.kill(os.getpid(), signal.SIGKILL)

made, insert = Warehouse._run, Warehouse.insert
Warehouse._run = lambda self, step, query: (made(self, step, query), kill(step.name))
Warehouse.insert = lambda self, name, frame: (insert(self, name, frame), kill("insert " + name))
publish = lambda outcome: kill("after the commit")
started = {}
for moment, folder in zip(sys.argv[1::2], sys.argv[2::2]):
    number = os.fork()
    if not number:
        os._exit(main(["report", "--program", folder], estimate=no_estimates, publish=publish))
    started[number] = moment
for _ in range(len(started)):
    number, status = os.wait()
    print(started[number], os.waitstatus_to_exitcode(status), sep="=", file=sys.stderr)
"""
MOMENTS = ("insert raw.files", "trials.row_fates", "reports.trials", "after the commit")


@pytest.fixture(scope="module")
def grown(loaded_program, tmp_path_factory):
    """A loaded program to which a delivery came afterwards."""
    tiny = TinyProgram(shutil.copytree(loaded_program, tmp_path_factory.mktemp("grown") / "program"))
    tiny.add_delivery("east")
    return tiny.folder


@pytest.fixture
def tiny(grown, tmp_path) -> TinyProgram:
    return TinyProgram(shutil.copytree(grown, tmp_path / "program"))


@pytest.fixture(scope="module")
def killed(grown, tmp_path_factory):
    """Programs whose run was killed, by moment. The runs go side by side."""
    folders = {m: shutil.copytree(grown, tmp_path_factory.mktemp("moment") / "program") for m in MOMENTS}
    words = [sys.executable, "-c", KILLED, *(str(word) for run in folders.items() for word in run)]
    said = subprocess.run(words, cwd=ROOT, capture_output=True, text=True, check=True).stderr
    codes = dict(line.split("=") for line in said.splitlines() if "=" in line)
    return {moment: (TinyProgram(folder), int(codes[moment])) for moment, folder in folders.items()}


@pytest.mark.parametrize("moment", MOMENTS)
def test_a_killed_run_leaves_the_warehouse_as_before_or_complete(killed, grown, moment):
    tiny, code = killed[moment]
    assert code == -signal.SIGKILL
    before = TinyProgram(grown).contents()
    assert (tiny.contents() == before) == (moment != "after the commit")
    trials = tiny.load()["reports.trials"]["trial_id"]
    assert "east" in set(trials), "the next run does not take up the delivery"
    assert len(trials) == 4


@pytest.mark.parametrize("step", ["raw.current_files", "trials.row_fates", "reports.trials"])
def test_ctrl_c_changes_nothing(tiny, capsys, monkeypatch, ctrl_c_is_heard, step):
    made = Warehouse._run

    def interrupted(self, this, query):
        made(self, this, query)
        if this.name == step:
            os.kill(os.getpid(), signal.SIGINT)

    before = tiny.contents()
    monkeypatch.setattr(Warehouse, "_run", interrupted)
    assert main(["report", "--program", str(tiny.folder)], estimate=no_estimates) == 130
    assert capsys.readouterr().err.strip() == "Stopped. The warehouse is as it was before, or complete."
    assert tiny.contents() == before


@pytest.mark.usefixtures("trials_as_they_are")
def test_ctrl_c_in_the_middle_of_a_query(tiny, capsys):
    def endless(warehouse, *_):
        signal.setitimer(signal.ITIMER_REAL, 0.3)
        warehouse.read("select sum(hash(a.range, b.range)) from range(1000000) as a, range(1000000) as b")

    before = tiny.contents()
    old = signal.signal(signal.SIGALRM, signal.default_int_handler)
    try:
        assert main(["report", "--program", str(tiny.folder)], estimate=endless) == 130
    finally:
        signal.signal(signal.SIGALRM, old)
    assert capsys.readouterr().err.strip().startswith("Stopped.")
    assert tiny.contents() == before


def test_a_warehouse_that_is_open_elsewhere(tiny, capsys):
    before = tiny.contents()
    hold = (
        f"import duckdb; c = duckdb.connect({str(tiny.folder / 'warehouse.duckdb')!r}); print('held', flush=True);"
        " input()"
    )
    with subprocess.Popen(
        [sys.executable, "-c", hold], stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True
    ) as holder:
        holder.stdout.readline()
        code = main(["report", "--program", str(tiny.folder)])
        holder.communicate("\n")
    assert code == 1
    message = capsys.readouterr().err
    assert "is open in another program (python" in message and f", process {holder.pid}). Close it there" in message
    assert "://" not in message and "Conflicting" not in message
    assert tiny.contents() == before


def test_a_warehouse_that_is_none(tiny, capsys):
    file = tiny.folder / "warehouse.duckdb"
    file.write_bytes(b"PK\x03\x04 something else")
    assert main(["report", "--program", str(tiny.folder)]) == 1
    message = capsys.readouterr().err
    assert "cannot be read as a warehouse: it is damaged" in message and "Move it away" in message
    assert "://" not in message and "IO Error" not in message
    assert file.read_bytes() == b"PK\x03\x04 something else"


NO_SPACE = OSError(errno.ENOSPC, "No space left on device")


def _cell_on_a_full_disk():
    """As a page's cell fails when its figure cannot be written."""
    try:
        raise NO_SPACE
    except OSError as problem:
        raise UserError(f"season.qmd, cell 6, line 77 of season.qmd: {problem}") from problem


def _fatal():
    raise duckdb.FatalException(
        'FATAL Error: Failed to create checkpoint because of error: Could not write file "w": No space left on device'
    )


def _no_room_for_a_pdf():
    raise UserError(
        "corn.pdf: typst could not make the PDF: failed to write output (No space left on device (os error 28))"
    )


def _hidden_behind_another():
    try:
        raise NO_SPACE
    except OSError:
        raise UserError("the pages cannot be written here") from None


@pytest.mark.parametrize("fails", [_cell_on_a_full_disk, _fatal, _no_room_for_a_pdf, _hidden_behind_another])
@pytest.mark.usefixtures("trials_as_they_are")
def test_a_full_disk_is_known_whoever_tells(tiny, capsys, fails):
    before = tiny.contents()
    assert main(["report", "--program", str(tiny.folder)], estimate=lambda *_: fails()) == 1
    said = (
        f"The disk of {tiny.folder} is full. Free some space and run this again; the warehouse is as it was before, or"
        " complete."
    )
    assert capsys.readouterr().err.strip() == said
    assert tiny.contents() == before


def test_a_file_too_large_for_the_process_is_said_in_plain_words(tiny, capsys):
    """The process may write no file beyond 30 kB."""
    (tiny.folder / "warehouse.duckdb").unlink()
    limits = resource.getrlimit(resource.RLIMIT_FSIZE)
    old = signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
    try:
        resource.setrlimit(resource.RLIMIT_FSIZE, (30_000, limits[1]))
        code = main(["report", "--program", str(tiny.folder)], estimate=no_estimates)
    finally:
        resource.setrlimit(resource.RLIMIT_FSIZE, limits)
        signal.signal(signal.SIGXFSZ, old)
    message = capsys.readouterr().err
    assert code == 1 and "The warehouse could not be written. Check" in message
    assert tiny.contents() == {}
    assert len(tiny.load()["reports.trials"]) == 4


@pytest.mark.usefixtures("trials_as_they_are")
def test_a_defect_of_ours_is_not_blamed_on_the_user(tiny, capsys):
    def broken(*_):
        raise duckdb.BinderException("a query is wrong")

    before = tiny.contents()
    assert main(["report", "--program", str(tiny.folder)], estimate=broken) == 3
    message = capsys.readouterr().err
    assert "Something went wrong that is not your doing" in message and "Traceback" not in message
    log = Path(message.split("details are in ")[1].split("; please")[0])
    assert "BinderException: a query is wrong" in log.read_text()
    log.unlink()
    assert tiny.contents() == before
