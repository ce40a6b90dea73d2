from __future__ import annotations

from pathlib import Path

import pytest

from pipeline.errors import UserError
from pipeline.publishing.cells import Cell, Prose, read_page


def write(folder: Path, text: str, name: str = "a.qmd") -> Path:
    path = folder / name
    path.write_text(text, encoding="utf-8")
    return path


def test_pieces_come_in_order_with_their_lines(tmp_path):
    page = write(tmp_path, "---\ntitle: T\n---\nOne\n\n```{python}\n#| output: asis\nprint(1)\n```\nTwo\n")
    front_matter, pieces = read_page(page)
    assert front_matter == {"title": "T"}
    prose, cell, rest = pieces
    assert [line.text for line in prose.lines] == ["One", ""]
    assert isinstance(cell, Cell) and cell.prints_markdown and cell.number == 1
    assert [(line.text, line.number) for line in cell.lines] == [("print(1)", 8)]
    assert rest.lines[0].number == 10


def test_a_fenced_block_of_code_is_not_a_cell(tmp_path):
    page = write(tmp_path, "````\n```{python}\nprint(1)\n```\n````\n")
    _, pieces = read_page(page)
    assert pieces == [Prose(pieces[0].lines, is_code=True)]


@pytest.mark.parametrize(
    ("text", "complaint"),
    [
        ("---\ntitle: T\n", "no closing ---"),
        ("---\ntitle: [\n---\n", "front matter"),
        ("One\n```{python}\nx = 1\n", "line 2: this block is never closed"),
        ("```{r}\nx\n```\n", "line 1: a cell in r"),
        ("```{python}\n#| outptu: asis\n```\n", "unknown cell option outptu"),
        ("```{python}\n#| echo: true\n```\n", "pages show no code"),
        ("```{python}\n#| asis\n```\n", "written `#| name: value`"),
    ],
)
def test_faults_name_file_and_line(tmp_path, text, complaint):
    with pytest.raises(UserError, match="a.qmd") as caught:
        read_page(write(tmp_path, text))
    assert complaint in str(caught.value)


def test_a_page_that_is_not_there_or_not_text(tmp_path):
    with pytest.raises(UserError, match="no such page"):
        read_page(tmp_path / "none.qmd")
    (tmp_path / "a.qmd").write_bytes(b"\xff\xfe\x00")
    with pytest.raises(UserError, match="UTF-8"):
        read_page(tmp_path / "a.qmd")
