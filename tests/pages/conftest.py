"""A small program, and in the slow tests the whole demo, published as a reader gets it."""

from __future__ import annotations

import os
import shutil
from pathlib import Path

import pandas as pd
import pytest

from pipeline.publishing import engines, pages
from pipeline.simulation.demo import write_demo
from pipeline.verbs import run
from pipeline.verbs.answers import stored_views
from tests.pages.quarto import made_once, quarto_folder

# What the tiny program lacks of a real one: prices, so that the report speaks of money, and a sentence to hold against the evidence.
PRICES_AND_CLAIM = """\
prices:
  fixed_on: 2092-11-01
  currency: $
  nitrogen_per_lb_n: {urea: 0.50}
  coated_premium_per_lb_n: 0.18
  pass_cost_per_ac: 12
  crops:
    corn: {price_per_bu: 4.50, hauling_per_bu: 0.10, drying_per_point_bu: 0.045}
claims:
  - {sentence: "Two more bushels", where: flyer, comparison: corn-blend-vs-urea, gain: 2, unit: bu/ac}
"""
PLACES = {
    "index": "index", "season": "corn", "review": "review", "methods": "methods", "data dictionary": "data_dictionary",
    "site-year": "site-years/*",
}  # fmt: skip


@pytest.fixture(scope="session")
def by_pandoc(sound_program: Path, tmp_path_factory) -> Path:
    """The tiny program's published folder, drawn by pandoc and typst."""
    return tiny_drawn(engines.PANDOC, sound_program, tmp_path_factory)


@pytest.fixture(scope="session")
def by_quarto(sound_program: Path, tmp_path_factory) -> Path:
    """The same pages, drawn by a real Quarto."""
    quarto = quarto_folder(tmp_path_factory)
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("PATH", str(quarto), prepend=os.pathsep)
        return tiny_drawn(engines.QUARTO, sound_program, tmp_path_factory)


def tiny_drawn(engine: str, sound_program: Path, tmp_path_factory) -> Path:
    program = made_once(tmp_path_factory, "program", lambda folder: build_tiny(sound_program, folder))
    return made_once(tmp_path_factory, f"by-{engine}", lambda folder: draw(stored_views(program), folder, engine))


def build_tiny(sound_program: Path, folder: Path) -> None:
    shutil.copytree(sound_program, folder)
    with (folder / "program.yml").open("a", encoding="utf-8") as settings:
        settings.write(PRICES_AND_CLAIM)
    run.build_warehouse(folder, "report", lambda text: None)


def draw(views: dict[str, pd.DataFrame], folder: Path, engine: str) -> None:
    tables = {f"reports.{name}": frame for name, frame in views.items()}
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv(engines.DRAW_BY, engine)
        pages.publish(tables, folder=folder, program_name="Tiny trials")


@pytest.fixture(scope="session")
def demo(tmp_path_factory) -> Path:
    """The whole demo's published folder, drawn by pandoc and typst."""
    folder = tmp_path_factory.mktemp("pages") / "program"
    write_demo(folder)
    run.build_warehouse(folder, "report", lambda text: None)
    draw(stored_views(folder), folder / "published", engines.PANDOC)
    return folder / "published"


@pytest.fixture(scope="session", params=["by_pandoc", "by_quarto", pytest.param("demo", marks=pytest.mark.slow)])
def published(request) -> Path:
    """A published folder: the tiny program's drawn either way, and in the slow tests the whole demo's."""
    return request.getfixturevalue(request.param)


@pytest.fixture
def page(published: Path, kind: str) -> Path:
    """The first published HTML page of a kind, a key of PLACES; its PDF and DOCX have the same stem."""
    return min(published.glob(f"{PLACES[kind]}.html"))
