"""What draws the pages, by DRAW_BY and by what is found; a stand-in answers for Quarto."""

from __future__ import annotations

import sys
from pathlib import Path

import pypandoc
import pytest

from pipeline.errors import UserError
from pipeline.publishing import engines


@pytest.fixture
def install(tmp_path: Path, monkeypatch: pytest.MonkeyPatch):
    """Puts a Quarto of a version, or none, alone on PATH, DRAW_BY unset."""

    def put(version: str | None) -> Path:
        program = tmp_path / "bin" / "quarto"
        program.parent.mkdir()
        if version is not None:
            program.write_text(f"#!{sys.executable}\nimport sys\nprint('{version}', *sys.argv[2:])\n")
            program.chmod(0o755)
        monkeypatch.setenv("PATH", str(program.parent))
        monkeypatch.delenv(engines.DRAW_BY, raising=False)
        return program

    return put


def test_quarto_draws_where_it_is_found(install):
    program = install("1.10.19")
    assert engines.quarto() == program
    assert engines.drawn_by() == f"Quarto 1.10.19; DOCX and PPTX by pandoc {engines.pandoc_version()}"


@pytest.mark.parametrize("version", [None, "1.8.24", "", "not a version"])
def test_a_quarto_that_is_missing_old_or_silent_is_passed_over(install, version):
    install(version)
    assert engines.quarto() is None
    assert engines.drawn_by().startswith("pandoc 3")
    assert engines.drawn_by().endswith(" (Quarto 1.9 or later was not found)")


def test_draw_by_pandoc_leaves_quarto_alone_and_draw_by_quarto_insists(install, monkeypatch):
    install("1.10.19")
    monkeypatch.setenv(engines.DRAW_BY, engines.PANDOC)
    assert engines.quarto() is None and engines.drawn_by().endswith(" (DRAW_BY=pandoc was set)")
    monkeypatch.setenv(engines.DRAW_BY, engines.QUARTO)
    assert engines.quarto() is not None
    monkeypatch.setenv("PATH", "")
    with pytest.raises(UserError, match="DRAW_BY=quarto, but no Quarto 1.9 or later is on PATH"):
        engines.quarto()


def test_another_word_is_refused_with_the_nearest_one(monkeypatch):
    monkeypatch.setenv(engines.DRAW_BY, "Quatro")
    with pytest.raises(UserError, match='DRAW_BY is "Quatro". It may be quarto or pandoc.*did you mean "quarto"'):
        engines.quarto()


def test_where_pandoc_is_missing_the_one_inside_quarto_draws(install, monkeypatch):
    program = install("1.10.19")

    def missing():
        raise OSError("No pandoc was found")

    monkeypatch.setattr(pypandoc, "get_pandoc_path", missing)
    assert engines.pandoc() == [str(program), "pandoc"]
    monkeypatch.setenv("PATH", "")
    with pytest.raises(UserError, match="pandoc is missing"):
        engines.pandoc()
