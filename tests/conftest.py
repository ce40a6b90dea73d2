from __future__ import annotations

import gc
import os
import shutil
import time
from collections.abc import Iterator
from contextlib import nullcontext
from pathlib import Path

import pandas as pd
import pytest
from threadpoolctl import threadpool_limits

from pipeline.estimates.engines import mixed
from pipeline.publishing import pages
from pipeline.simulation.demo import write_demo
from pipeline.verbs.answers import stored_views
from tests import examples
from tests.made_once import made_once
from tests.tiny_program import PRICES_AND_CLAIM, TinyProgram, write_tiny_program

# The files that take longest go first, so that no worker is left with one of them at the end. One makes the whole demo,
# one the pages of the tiny program; others that read them come later, else a worker would wait for what another makes.
DEAREST_FIRST = (
    "tests/simulated/test_answer_key.py",
    "tests/drawn_programs/",
    "tests/pages/test_authors.py",
    "tests/hard_to_break/",
    "tests/simulated/",
    "tests/unit/publishing/",
    "tests/pages/",
    "tests/unit/verbs/",
    "tests/real_data/",
    "tests/unit/estimates/",
    "tests/unit/display/words/test_own_prices.py",
)


def pytest_configure(config: pytest.Config) -> None:
    examples.is_thorough = "not thorough" not in config.option.markexpr
    config.option.loadscopereorder = False  # else xdist begins with the files of most tests, which are the quickest
    # As the program's estimates do. In a test that calls one part of them threads would wait for each other, with a
    # worker on each core: many times the work of its small matrices.
    threadpool_limits(limits=1, user_api="blas")
    os.environ["OPENBLAS_NUM_THREADS"] = "1"  # of R and of processes that a test starts


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    items.sort(key=lambda item: next((i for i, path in enumerate(DEAREST_FIRST) if item.nodeid.startswith(path)), 99))


def pytest_collection_finish() -> None:
    """What is imported and collected stays to the end: it need not be looked through each time that garbage is."""
    gc.freeze()


@pytest.fixture(scope="session")
def sound_program(tmp_path_factory) -> Path:
    """The folder of the sound tiny program; copy it, never change it."""
    return write_tiny_program(tmp_path_factory.mktemp("sound") / "program").folder


@pytest.fixture
def tiny(sound_program, tmp_path) -> TinyProgram:
    """A tiny program of the test's own, to be spoiled."""
    shutil.copytree(sound_program, tmp_path / "program")
    return TinyProgram(tmp_path / "program")


@pytest.fixture(scope="session")
def loaded_program(sound_program, tmp_path_factory) -> Path:
    """The folder of the sound tiny program, loaded without estimates; copy it, never change it."""

    def make(folder: Path) -> None:
        TinyProgram(shutil.copytree(sound_program, folder)).load()

    return made_once(tmp_path_factory, "loaded", make)


@pytest.fixture
def loaded_tiny(loaded_program, tmp_path) -> TinyProgram:
    """A tiny program of the test's own that was loaded once, without estimates."""
    return TinyProgram(shutil.copytree(loaded_program, tmp_path / "program"))


@pytest.fixture(scope="session")
def estimated_program(sound_program, tmp_path_factory) -> Path:
    """The folder of the sound tiny program with prices and a claim, loaded and estimated; copy it, never change it."""

    def make(folder: Path) -> None:
        tiny = TinyProgram(shutil.copytree(sound_program, folder))
        with tiny.settings_file.open("a", encoding="utf-8") as settings:
            settings.write(PRICES_AND_CLAIM)
        tiny.load_and_estimate()

    return made_once(tmp_path_factory, "estimated", make)


@pytest.fixture(scope="session")
def drawn_program(estimated_program, tmp_path_factory) -> Path:
    """The published folder of the estimated tiny program, drawn by pandoc and typst; copy it, never change it."""

    def make(folder: Path) -> None:
        tables = {f"reports.{name}": frame for name, frame in stored_views(estimated_program).items()}
        pages.publish(tables, folder=folder, program_name="Tiny trials")

    return made_once(tmp_path_factory, "drawn", make)


@pytest.fixture(scope="session")
def sent_demo(tmp_path_factory) -> Path:
    """The folder of the whole demo as people send it and with its planted defects; copy it, never change it."""
    return made_once(tmp_path_factory, "sent-demo", write_demo)


@pytest.fixture(scope="session")
def clean_demo(tmp_path_factory) -> Path:
    """The folder of the whole demo in our own headings and without any defect; copy it, never change it."""
    return made_once(tmp_path_factory, "clean-demo", lambda folder: write_demo(folder, defects=False, senders=False))


@pytest.fixture(scope="session")
def demo_run(sent_demo, tmp_path_factory) -> Path:
    """The folder of the whole demo, as people send it and with its planted defects, loaded and estimated; never change
    it. The program's own code fits its models in two thirds of the time, lme4 where the thorough or slow tests run,
    one of which holds that both fit every model of it alike.
    """

    def make(folder: Path) -> None:
        shutil.copytree(sent_demo, folder)
        with nullcontext() if examples.is_thorough else mixed.by(mixed.OWN):
            TinyProgram(folder).load_and_estimate()

    return made_once(tmp_path_factory, "demo", make)


@pytest.fixture(scope="session")
def answers():
    """Reads a table of answers from R, whose first line names the versions."""
    folder = Path(__file__).parent / "r_answers"
    return lambda name: pd.read_csv(folder / f"{name}.csv", comment="#")


@pytest.fixture(scope="module")
def fitted_by_own_code() -> Iterator[None]:
    """The program's own code fits the models, in a tenth of the time; lme4 where the thorough or slow tests run. For
    tests of what becomes of a fit: that both fit alike is shown by those of `either_engine`.
    """
    with nullcontext() if examples.is_thorough else mixed.by(mixed.OWN):
        yield


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
