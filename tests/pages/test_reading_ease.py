"""The sheets for growers read easily; .ci/run prints the grade of every page of the demo and holds the same bar."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.pages import reading_ease


def page(folder: Path, text: str, name: str = "corn-handout.html") -> Path:
    (folder / name).write_text(f"<p>{text}</p><table><tr><td><p>Not. A. Sentence.</p></td></tr></table>")
    return folder / name


def test_sheets_for_growers_are_within_the_bar(published):
    sheets = sorted(published.glob("*-handout.html"))
    assert sheets and [wrong for sheet in sheets for wrong in reading_ease.too_hard(sheet)] == []


def test_the_grade_is_that_of_its_formula():
    """Six words of six syllables: 0.39 x 6 + 11.8 - 15.59 = -1.45; "nitrogen" has three: + 11.8 x 2 / 6."""
    assert reading_ease.grade_of(["The cat sat on the mat."]) == pytest.approx(-1.45)
    assert reading_ease.grade_of(["The cat sat on the nitrogen."]) == pytest.approx(-1.45 + 11.8 * 2 / 6)


def test_hard_words_and_long_sentences_are_found(tmp_path, capsys):
    hard = "Heterogeneity necessitates multidimensional characterization of environmental determinants."
    assert "over 9" in reading_ease.too_hard(page(tmp_path, hard))[0]
    assert "a sentence of 31 words" in reading_ease.too_hard(page(tmp_path, "We " + "go on " * 15 + "."))[0]
    assert reading_ease.too_hard(page(tmp_path, "Yields went up. The field was wet.")) == []
    assert reading_ease.main(tmp_path) == 0 and "corn-handout.html" in capsys.readouterr().out
    page(tmp_path, hard)
    assert reading_ease.main(tmp_path) == 1
