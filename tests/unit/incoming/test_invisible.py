from __future__ import annotations

import pytest

from pipeline.incoming.invisible import invisible_notes
from pipeline.incoming.readers import read_file
from pipeline.incoming.sheet import Sheet, tidy_heading


def notes(*texts: str | None) -> list[tuple]:
    sheet = Sheet("plots", None, ["plot"], ["plot"], 1, {"plot": list(texts)}, list(range(2, len(texts) + 2)))
    return [(note.row, note.column, note.found) for note in invisible_notes(sheet)]


# names and numbers as in the Unicode character database
@pytest.mark.parametrize(
    ("text", "found"),
    [
        ("2091\u200b", "U+200B, zero width space, after '2091'"),
        ("20\u00ad91", "U+00AD, soft hyphen, after '20'"),
        ("\ufeff2091", "U+FEFF, zero width no-break space, at the start"),
        ("2091\u00a0A", "U+00A0, no-break space, after '2091'"),
        ("a\u200eb", "U+200E, left-to-right mark, after 'a'"),
        ("a\x85b", "U+0085, a control character, after 'a'"),
    ],
)
def test_a_character_that_cannot_be_seen_is_named(text, found):
    assert notes("2091", text) == [(3, "plot", found)]


def test_more_of_them_are_counted():
    assert notes("a\u200b", "b", None, "c\u200d") == [(2, "plot", "U+200B, zero width space, after 'a', and in 1 more")]


@pytest.mark.parametrize("text", ["2091", "Bi\u00e8vre", "two words", "two\nlines", "a\tb", "5\u2019", "\u0645\u0632"])
def test_what_can_be_seen_is_no_matter(text):
    assert notes(text) == []


def test_headings_are_known_without_them(tmp_path):
    assert tidy_heading("\u200bTrial\u00a0ID\u200e") == "trial_id"
    file = tmp_path / "sites.csv"
    file.write_text("site\u200b_id,place\nA,Al\u200bder\n", encoding="utf-8")
    (sheet,) = read_file(file, name="sites.csv")
    assert sheet.headings == ["site_id", "place"] and [n.what for n in sheet.notes] == ["invisible_character"]
