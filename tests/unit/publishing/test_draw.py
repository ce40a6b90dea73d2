from __future__ import annotations

from pathlib import Path

import pytest

from pipeline.errors import UserError
from pipeline.publishing.draw import draw
from pipeline.publishing.page import Page


def simple_page(folder: Path, published: Path, name: str, text: str = "Text.") -> Page:
    markdown = folder / name / "page.md"
    markdown.parent.mkdir(parents=True)
    markdown.write_text(f"---\ntitle: {name}\n---\n\n{text}\n", encoding="utf-8")
    return Page(markdown, published, name)


def test_every_page_is_drawn_in_every_format_and_counted(tmp_path):
    pages = [simple_page(tmp_path, tmp_path / "published", name) for name in ("alder", "birch", "cedar")]
    seen: list[Page] = []
    drawn = draw(pages, formats=("html", "pdf"), progress=seen.append)
    assert [(row.page.name, row.format) for row in drawn] == [
        (name, format) for name in ("alder", "birch", "cedar") for format in ("html", "pdf")
    ]
    assert seen == pages
    for row in drawn:
        assert row.path == tmp_path / "published" / f"{row.page.name}.{row.format}"
        assert row.path.stat().st_size > 500
    assert '<h1 class="title">birch</h1>' in (tmp_path / "published" / "birch.html").read_text(encoding="utf-8")


def test_no_workshop_is_left_beside_the_pages(tmp_path):
    draw([simple_page(tmp_path, tmp_path / "published", "alder")], formats=("html",))
    assert [path.name for path in (tmp_path / "published").iterdir()] == ["alder.html"]


def test_a_failing_page_leaves_what_was_published(tmp_path):
    published = tmp_path / "published"
    published.mkdir()
    (published / "alder.html").write_text("old")
    good = simple_page(tmp_path, published, "alder")
    bad = simple_page(tmp_path, published, "birch", "See @fig-none.")
    with pytest.raises(UserError, match="birch: pandoc could not draw .*@fig-none refers to no figure"):
        draw([good, bad], formats=("html",))
    assert [path.name for path in published.iterdir()] == ["alder.html"]
    assert (published / "alder.html").read_text() == "old"


def test_files_appear_in_place_only_when_all_are_drawn(tmp_path):
    published = tmp_path / "published"
    pages = [simple_page(tmp_path, published, name) for name in ("alder", "birch")]
    in_place: list[list[str]] = []
    workshops: list[Path] = []

    def look(_: Page) -> None:
        in_place.append([path.name for path in published.glob("*.html")])
        workshops.extend(published.glob(".publishing-*"))

    draw(pages, formats=("html",), progress=look)
    assert in_place == [[], []]
    assert len(workshops) == 2  # on the published folder's own disk, so that moving is one rename


def test_relative_folders_work(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    page = simple_page(Path("woven"), Path("published"), "alder")
    assert draw([page], formats=("html",))[0].path.is_file()


def test_names_and_formats_are_checked_first(tmp_path):
    page = simple_page(tmp_path, tmp_path / "published", "alder")
    with pytest.raises(UserError, match="cannot draw epub"):
        draw([page], formats=("epub",))
    with pytest.raises(UserError, match="two pages would be published as .*alder"):
        draw([page, page])
    assert draw([]) == []


def test_a_folder_that_cannot_be_made_is_named(tmp_path):
    (tmp_path / "published").write_text("a file in the way")
    with pytest.raises(UserError, match="published: pages cannot be written here"):
        draw([simple_page(tmp_path, tmp_path / "published", "alder")])


def test_a_page_is_written_in_turn_and_a_page_that_cannot_be_leaves_nothing(tmp_path):
    """The first page is drawn on another thread while the second is written."""
    published = tmp_path / "published"
    pages = [Page(tmp_path / name / "page.md", published, name) for name in ("alder", "birch")]
    written: list[str] = []

    def write(page: Page) -> None:
        written.append(page.name)
        simple_page(tmp_path, published, page.name)
        if page.name == "birch":
            raise UserError("birch: no rain")

    with pytest.raises(UserError, match="birch: no rain"):
        draw(pages, formats=("html",), write=write)
    assert written == ["alder", "birch"] and list(published.iterdir()) == []
    draw(pages[:1], formats=("html",), write=lambda page: None)
    assert [path.name for path in published.iterdir()] == ["alder.html"]
