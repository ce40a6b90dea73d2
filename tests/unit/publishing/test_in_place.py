"""The published folder as the last run left it, marked until the next has replaced it."""

from __future__ import annotations

from pipeline.publishing import in_place


def test_a_page_that_someone_saved_in_other_letters_is_marked_and_keeps_its_bytes(tmp_path):
    page, told = tmp_path / "corn.html", b'<html><body class="x">Caf\xe9\r\n</body>'
    page.write_bytes(told)
    (tmp_path / "data").mkdir()
    (tmp_path / in_place.LIST_OF_FILES).write_text("corn.html\n")
    for _ in range(2):
        in_place.mark_as_earlier(tmp_path)
    mark = f"\n{in_place.EARLIER}".encode()
    assert page.read_bytes() == told.replace(b'class="x">', b'class="x">' + mark)
    assert sorted(path.name for path in tmp_path.iterdir()) == ["corn.html", "data"]


def test_all_is_there_where_every_listed_file_stands_and_nowhere_else(tmp_path):
    """Else a report with nothing new to do would say that its pages are current."""
    assert not in_place.is_all_there(tmp_path), "nothing was published"
    (tmp_path / "data").mkdir()
    (tmp_path / in_place.LIST_OF_FILES).write_text("")
    assert not in_place.is_all_there(tmp_path), "the list was emptied"
    (tmp_path / in_place.LIST_OF_FILES).write_text("index.html\ncorn.html\n")
    for name, is_there in (("index.html", False), ("corn.html", True), ("mine.html", True)):
        (tmp_path / name).write_text("a page")
        assert in_place.is_all_there(tmp_path) == is_there
