"""A command whose R the loader does not find is started anew, once, with R's libraries on its path."""

from __future__ import annotations

import os
import sys

import pytest

from pipeline.verbs import finding_r


@pytest.fixture
def begun(tmp_path, monkeypatch):
    """Makes an R in /opt that the loader does not find; gives what is started anew: (environment's path, words)."""
    home = tmp_path / "opt" / "R"
    (home / "lib").mkdir(parents=True)
    (home / "lib" / "libR.so").touch()
    r = tmp_path / "R"
    r.write_text(f"#!/bin/sh\n[ $1 = RHOME ] && echo {home}\n")
    r.chmod(0o755)
    monkeypatch.setenv("PATH", str(tmp_path), prepend=os.pathsep)
    monkeypatch.setenv("LD_LIBRARY_PATH", "/elsewhere")
    monkeypatch.setattr(finding_r, "_is_found", lambda: False)
    monkeypatch.setattr(sys, "platform", "linux")
    calls = []
    monkeypatch.setattr(os, "execv", lambda program, words: calls.append((os.environ["LD_LIBRARY_PATH"], words)))
    return home, calls


def test_it_starts_anew_once_with_the_path(begun):
    home, calls = begun
    finding_r.make_r_findable()
    finding_r.make_r_findable()
    ((path, words),) = calls
    assert path == f"{home / 'lib'}{os.pathsep}/elsewhere"
    assert words == [sys.executable, *sys.orig_argv[1:]]


@pytest.mark.parametrize("spoil", ["found", "no library", "no R", "another system"])
def test_it_goes_on_where_there_is_nothing_to_mend(begun, monkeypatch, spoil):
    home, calls = begun
    if spoil == "found":
        monkeypatch.setattr(finding_r, "_is_found", lambda: True)
    elif spoil == "no library":
        (home / "lib" / "libR.so").unlink()
    elif spoil == "no R":
        monkeypatch.setenv("PATH", "/nowhere")
    else:
        monkeypatch.setattr(sys, "platform", "darwin")
    finding_r.make_r_findable()
    assert not calls and os.environ["LD_LIBRARY_PATH"] == "/elsewhere"
