from __future__ import annotations

import duckdb
import pytest
from hypothesis import given
from hypothesis import strategies as st

from pipeline.contract.staging import text_of
from pipeline.errors import UserError
from pipeline.incoming.csv_reader import read_csv
from pipeline.incoming.invisible import invisible_notes
from pipeline.incoming.readers import read_file
from pipeline.incoming.sheet import Sheet, tidy_heading


def notes(*texts: str | None) -> list[tuple]:
    sheet = Sheet("plots", None, ["plot"], ["plot"], 1, {"plot": list(texts)}, list(range(2, len(texts) + 2)))
    return [(note.row, note.column, note.found) for note in invisible_notes(sheet, sheet.distinct_texts())]


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


@pytest.mark.parametrize("space", ["\u00a0", "\u2007", "\u202f", "\u3000"])
def test_an_unusual_space_at_either_end_is_no_matter(space):
    """Staging takes it off, so that the text matches: nothing need be deleted."""
    assert notes(f"2091{space}", f"{space} 2091", f"{space}2091{space} ") == []
    cell = f"select {text_of('plot')} from (select {{'plot': ?}} as delivered)"
    assert duckdb.execute(cell, [f"{space}2091 {space}"]).fetchall() == [("2091",)]
    assert notes(f"20{space}91{space}")[0][2].endswith("after '20'")


def test_a_heading_that_shows_nothing_is_blank(tmp_path):
    file = tmp_path / "sites.csv"
    file.write_text("site_id,\u200b\u00a0,place,\ufeff\nA,,Alder,\n", encoding="utf-8")
    (sheet,) = read_file(file, name="sites.csv")
    assert sheet.headings == ["site_id", "place"]
    file.write_text("site_id,\u200b\u00a0,place\nA,2.4,Alder\n", encoding="utf-8")
    with pytest.raises(UserError, match=r"row 2, column B: '2.4' stands under no heading .* Type a heading in cell B1"):
        read_file(file, name="sites.csv")


UNSEEN = st.text(
    st.sampled_from(" \t\u00a0\u00ad\u200b\u200e\u2060\u2800\u3000\u3164\ufeff\ufff9\U000e0041"), max_size=3
)


@given(st.lists(st.tuples(UNSEEN, st.sampled_from(["", "place", "/", "n"]), UNSEEN), min_size=2, max_size=4))
def test_headings_are_as_they_look(around):
    """What shows nothing is blank, and no heading is without a name."""
    heads = ["".join(each) for each in around]
    content = ",".join(["site_id", *heads, "x"]) + "\nA" + "," * len(heads) + ",1\n"
    shown = [word for _, word, _ in around if word]
    try:
        sheet = read_csv(content.encode(), stem="sites", name="sites.csv")
    except UserError as error:
        assert len(set(shown)) < len(shown) and "are all headed" in str(error)
    else:
        assert sheet.headings == ["site_id", *shown, "x"]


def test_headings_are_known_without_them(tmp_path):
    assert tidy_heading("\u200bTrial\u00a0ID\u200e") == "trial_id"
    file = tmp_path / "sites.csv"
    file.write_text("site\u200b_id,place\nA,Al\u200bder\n", encoding="utf-8")
    (sheet,) = read_file(file, name="sites.csv")
    assert sheet.headings == ["site_id", "place"] and [n.what for n in sheet.notes] == ["invisible_character"]
