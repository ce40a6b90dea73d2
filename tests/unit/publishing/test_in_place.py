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
