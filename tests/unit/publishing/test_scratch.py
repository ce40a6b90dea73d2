"""The folder beside the pages: gone at the end, and swept where a killed run left it."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
from pathlib import Path

import pytest

from pipeline.errors import UserError
from pipeline.publishing.scratch import scratch_in

HOLDS_ONE = """\
import sys
from pathlib import Path
from pipeline.publishing.scratch import scratch_in
with scratch_in(Path(sys.argv[1]), what="pages") as scratch:
    (scratch / "half.html").write_text("half a page")
    print("ready", flush=True)
    sys.stdin.read()
"""


def held_by_another_process(folder: Path) -> subprocess.Popen:
    command = [sys.executable, "-c", HOLDS_ONE, folder]
    process = subprocess.Popen(command, stdin=subprocess.PIPE, stdout=subprocess.PIPE, cwd=Path(__file__).parents[3])
    assert process.stdout.readline() == b"ready\n"
    return process


def test_what_a_killed_run_left_is_swept_and_nothing_else(tmp_path):
    process = held_by_another_process(tmp_path)
    (left,) = tmp_path.iterdir()
    (tmp_path / ".publishing-notes.txt").write_text("of the user")
    (tmp_path / ".publishing-link").symlink_to(tmp_path.parent)
    with scratch_in(tmp_path, what="pages"):
        assert (left / "half.html").exists(), "a run at work keeps its folder"
    os.kill(process.pid, signal.SIGKILL)
    process.wait()
    assert left.exists()
    with scratch_in(tmp_path, what="pages") as scratch:
        assert not left.exists() and scratch.is_dir()
    assert {path.name for path in tmp_path.iterdir()} == {".publishing-notes.txt", ".publishing-link"}
    assert tmp_path.parent.exists()


def test_the_folder_goes_when_the_work_fails(tmp_path):
    with pytest.raises(ZeroDivisionError), scratch_in(tmp_path / "new", what="pages"):
        1 / 0
    assert list((tmp_path / "new").iterdir()) == []


def test_a_file_in_the_way_is_named(tmp_path):
    (tmp_path / "published").write_text("a file")
    with pytest.raises(UserError, match="published: the flyers cannot be written here"):
        with scratch_in(tmp_path / "published", what="the flyers"):
            pass
