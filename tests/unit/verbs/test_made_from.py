"""A run with nothing new to do says so at once; anything that could change a page makes it run."""

from __future__ import annotations

import shutil
from importlib.metadata import distributions
from pathlib import Path

import pytest

from pipeline import provenance
from pipeline.__main__ import main
from pipeline.publishing.in_place import LIST_OF_FILES
from pipeline.verbs import made_from
from tests.tiny_program import TinyProgram, runs_alone

SAID = "Nothing changed since the report of"


class Pages:
    """Stands in for the pages: counts how often they are made."""

    def __init__(self) -> None:
        self.made = 0

    def __call__(self, outcome) -> None:
        folder = outcome.program.published
        made_from.forget(outcome.program)
        (folder / "data").mkdir(parents=True, exist_ok=True)
        (folder / "index.html").write_text("home")
        (folder / LIST_OF_FILES).write_text(f"index.html\n{LIST_OF_FILES}\n")
        made_from.remember(outcome.program, outcome.card)
        self.made += 1


@pytest.fixture
def pages() -> Pages:
    return Pages()


@pytest.fixture(scope="module")
def reported_once(loaded_program, tmp_path_factory) -> Path:
    folder = tmp_path_factory.mktemp("reported") / "program"
    tiny = TinyProgram(shutil.copytree(loaded_program, folder))
    assert again(tiny, Pages()) == 0
    return folder


@pytest.fixture
def reported(reported_once, tmp_path) -> TinyProgram:
    """A tiny program of the test's own that was reported once."""
    return TinyProgram(shutil.copytree(reported_once, tmp_path / "program"))


def again(tiny, pages, *words: str) -> int:
    return main(["report", "--program", str(tiny.folder), *words], estimate=runs_alone, publish=pages)


def test_nothing_new_is_said_and_nothing_done(reported, pages, capsys):
    before = (reported.folder / "warehouse.duckdb").read_bytes()
    capsys.readouterr()
    assert again(reported, pages) == 0
    said = capsys.readouterr().out
    assert pages.made == 0 and SAID in said and "index.html" in said
    assert (reported.folder / "warehouse.duckdb").read_bytes() == before
    assert again(reported, pages, "--fresh") == 0 and pages.made == 1


CHANGES = {
    "a cell": lambda tiny, patch: tiny.change("plots", 3, "harvest_weight_lb", "40.9"),
    "a file less": lambda tiny, patch: (
        tiny.path("weather_daily", 2092).unlink(missing_ok=True) or tiny.remove("plots", 2)
    ),
    "a file renamed": lambda tiny, patch: (
        tiny.path("plots").rename(tiny.path("plots").with_name("plots_north.csv"))
        and (tiny.folder / "seasons/2091/headings.yml").write_text("tables: {plots_north: plots}\n")
    ),
    "a note beside": lambda tiny, patch: (tiny.folder / "seasons/2091/headings.yml").write_text("words: {}\n"),
    "settings": lambda tiny, patch: tiny.settings("program: Tiny trials", "program: Tiny"),
    "a page gone": lambda tiny, patch: (tiny.folder / "published/index.html").unlink(),
    "no warehouse": lambda tiny, patch: (tiny.folder / "warehouse.duckdb").unlink(),
    "not remembered": lambda tiny, patch: (tiny.folder / "published" / made_from.FILE).write_text("[]"),
    "half remembered": lambda tiny, patch: (tiny.folder / "published" / made_from.FILE).write_text('{"run_id": "r"}'),
    "other code": lambda tiny, patch: patch.setattr(made_from, "software_sha256", lambda: "other"),
    "another engine": lambda tiny, patch: patch.setenv("FIT_BY", "own"),
}


@pytest.mark.parametrize("change", CHANGES.values(), ids=CHANGES)
def test_whatever_could_change_a_page_makes_it_run(reported, monkeypatch, change):
    assert made_from.pages_are_current(reported.folder)
    change(reported, monkeypatch)
    assert made_from.pages_are_current(reported.folder) is None


def test_any_package_of_another_version_makes_it_run(reported, monkeypatch):
    """Also one that draws, and stands in no run card."""
    monkeypatch.setattr(provenance, "distributions", lambda: list(distributions())[1:])
    provenance.software_sha256.cache_clear()
    try:
        assert made_from.pages_are_current(reported.folder) is None
    finally:
        provenance.software_sha256.cache_clear()


def test_pages_of_a_run_that_is_not_the_last_are_made_again(reported):
    """A later run may have stopped after it stored its estimates."""
    reported.change("plots", 3, "harvest_weight_lb", "40.9")
    main(["report", "--program", str(reported.folder)], estimate=runs_alone, publish=lambda outcome: None)
    reported.change("plots", 3, "harvest_weight_lb", "41.0")
    assert made_from.pages_are_current(reported.folder) is None


def test_a_season_that_stands_already_is_said_too(reported, pages, capsys):
    season = str(reported.folder / "seasons/2092")
    assert main(["season", season, "--program", str(reported.folder)], estimate=runs_alone, publish=pages) == 0
    assert pages.made == 0 and SAID in capsys.readouterr().out
