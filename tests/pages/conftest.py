"""A small program, and in the slow tests the whole demo, published as a reader gets it."""

from __future__ import annotations

import os
from pathlib import Path

import pandas as pd
import pytest

from pipeline.publishing import engines, pages
from pipeline.verbs.answers import stored_views
from tests.made_once import made_once
from tests.pages.quarto import quarto_folder

PLACES = {
    "index": "index",
    "season": "corn",
    "review": "review",
    "methods": "methods",
    "data dictionary": "data_dictionary",
    "site-year": "site-years/*",
}


@pytest.fixture(scope="session")
def by_pandoc(drawn_program: Path) -> Path:
    """The tiny program's published folder, drawn by pandoc and typst."""
    return drawn_program


@pytest.fixture(scope="session")
def by_quarto(estimated_program: Path, tmp_path_factory) -> Path:
    """The same pages, drawn by a real Quarto."""
    quarto = quarto_folder(tmp_path_factory)
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("PATH", str(quarto), prepend=os.pathsep)
        return made_once(
            tmp_path_factory, "by-quarto", lambda folder: draw(stored_views(estimated_program), folder, engines.QUARTO)
        )


def draw(views: dict[str, pd.DataFrame], folder: Path, engine: str) -> None:
    tables = {f"reports.{name}": frame for name, frame in views.items()}
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv(engines.DRAW_BY, engine)
        pages.publish(tables, folder=folder, program_name="Tiny trials")


@pytest.fixture(scope="session")
def demo(demo_run: Path, tmp_path_factory) -> Path:
    """The whole demo's published folder, drawn by pandoc and typst."""
    return made_once(
        tmp_path_factory, "demo-pages", lambda folder: draw(stored_views(demo_run), folder, engines.PANDOC)
    )


@pytest.fixture(scope="session", params=["by_pandoc", "by_quarto", pytest.param("demo", marks=pytest.mark.slow)])
def published(request) -> Path:
    """A published folder: the tiny program's drawn either way, and in the slow tests the whole demo's."""
    return request.getfixturevalue(request.param)


@pytest.fixture
def page(published: Path, kind: str) -> Path:
    """The first published HTML page of a kind, a key of PLACES; its PDF and DOCX have the same stem."""
    return min(published.glob(f"{PLACES[kind]}.html"))
