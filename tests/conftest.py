from __future__ import annotations

import shutil
import time
from collections.abc import Iterator
from pathlib import Path

import pandas as pd
import pytest

from pipeline.estimates.engines import mixed
from tests.tiny_program import TinyProgram, write_tiny_program


@pytest.fixture(scope="session")
def sound_program(tmp_path_factory) -> Path:
    """The folder of the sound tiny program; copy it, never change it."""
    return write_tiny_program(tmp_path_factory.mktemp("sound") / "program").folder


@pytest.fixture
def tiny(sound_program, tmp_path) -> TinyProgram:
    """A tiny program of the test's own, to be spoiled."""
    shutil.copytree(sound_program, tmp_path / "program")
    return TinyProgram(tmp_path / "program")


@pytest.fixture
def without_estimates(monkeypatch) -> None:
    """Runs stop after loading: R is never started, the tables of estimates stay empty."""
    _stop_after_loading(monkeypatch)


def _stop_after_loading(monkeypatch: pytest.MonkeyPatch) -> None:
    from pipeline.verbs import run

    monkeypatch.setattr(run, "estimate_all", lambda warehouse, program, card, tell: ({}, card))


@pytest.fixture(scope="session")
def loaded_program(sound_program, tmp_path_factory) -> Path:
    """The folder of the sound tiny program, loaded without estimates; copy it, never change it."""
    folder = shutil.copytree(sound_program, tmp_path_factory.mktemp("loaded") / "program")
    with pytest.MonkeyPatch.context() as monkeypatch:
        _stop_after_loading(monkeypatch)
        TinyProgram(folder).load()
    return folder


@pytest.fixture(scope="session")
def answers():
    """Reads a table of answers from R, whose first line names the versions."""
    folder = Path(__file__).parent / "r_answers"
    return lambda name: pd.read_csv(folder / f"{name}.csv", comment="#")


@pytest.fixture(params=[mixed.LME4, mixed.OWN])
def either_engine(request) -> Iterator[str]:
    """The test is run twice: lme4 fits the models, then the program's own code."""
    with mixed.by(request.param):
        yield request.param


@pytest.fixture
def clock(monkeypatch):
    """A clock that stands still until it is set."""
    now = [100.0]
    monkeypatch.setattr(time, "monotonic", lambda: now[0])

    def at(seconds: float) -> None:
        now[0] = 100.0 + seconds

    return at


@pytest.fixture(scope="session", autouse=True)
def drawn_by_pandoc() -> Iterator[None]:
    """Pages are drawn the quicker way on a machine that has Quarto too; a test of the other way says so."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("DRAW_BY", "pandoc")
        yield
