"""File names that every system takes, each its own also on a disk that knows no capitals."""

from __future__ import annotations

import re
import unicodedata

import pytest
from hypothesis import given
from hypothesis import strategies as st

from pipeline.file_names import LONGEST, file_name, file_names, page_names

# as Windows takes them for its devices, whatever their suffix
DEVICES = ("con", "PRN", "aux.2091", "Nul", "com1", "COM\u00b9", "lpt9.plan", "con .2091", "com0")


def is_a_device(name: str) -> bool:
    before = name.split(".")[0].rstrip().lower()
    return before in ("con", "prn", "aux", "nul") or (before[:3] in ("com", "lpt") and before[3:].isdigit())


def as_a_disk_sees(name: str) -> str:
    return unicodedata.normalize("NFC", name).casefold()


@given(st.text(max_size=200), st.text(max_size=200))
def test_a_file_name_is_safe_and_each_trial_has_its_own(one, other):
    names = [file_name(one), file_name(other)]
    for name in names:
        assert re.fullmatch(r"\w[\w .-]*", name) and len(name.encode()) < 245 and not is_a_device(name)
    assert (names[0] == names[1]) == (one == other)


@pytest.mark.parametrize("name", ["2093-A-corn", "2093 St. Mary_2", "\u00c9t\u00e9", "comb1", "com", "x" * LONGEST])
def test_a_name_that_every_system_takes_stays_as_it_is(name):
    assert file_name(name) == name and file_names([name]) == {name: name}


@pytest.mark.parametrize("name", ["", ".", "2093.", " 2093", "-2093", "x" * (LONGEST + 1), *DEVICES])
def test_a_name_that_some_system_would_not_take_as_it_is(name):
    assert not is_a_device(page_names([name])[name])
    for found in (file_name(name), file_names([name])[name]):
        assert re.fullmatch(r".+-[0-9a-f]{8}", found) and found[0].isalnum() and len(found) <= LONGEST + 9


@pytest.mark.parametrize(
    ("one", "other"),
    [
        ("\u00e9", "e\u0301"),
        ("\ud55c", "\u1112\u1161\u11ab"),  # one syllable, whole and in its letters
        ("\u212a", "K"),  # the sign of a unit
        ("a/b", "a-b"),
        ("a:b", "a*b"),
        ("a\nb", "a-b"),
        ("x" * LONGEST + "1", "x" * LONGEST + "2"),
        ("a.", "a"),
    ],
)
def test_a_file_name_is_none_of_another_trial_on_any_disk(one, other):
    assert as_a_disk_sees(file_name(one)) != as_a_disk_sees(file_name(other))


@given(st.lists(st.text(max_size=80), unique=True, max_size=6))
def test_several_files_have_names_that_no_disk_takes_for_one(words):
    names = file_names(words)
    assert list(names) == words and len(set(map(as_a_disk_sees, names.values()))) == len(words)
    for name in names.values():
        assert re.fullmatch(r"\w[\w .-]*", name) and len(name.encode()) < 245 and not is_a_device(name)


@given(st.lists(st.text(max_size=80), unique=True, max_size=6))
def test_pages_have_names_that_no_disk_takes_for_one(words):
    names = page_names(words, taken=["review"], ends=("-slides",))
    assert list(names) == words
    assert len({name.casefold() for name in names.values()}) == len(words)
    for name in names.values():
        assert re.fullmatch(r"\w([\w-]*\w)?", name) and len(name.encode()) < 245
        assert not is_a_device(name) and name != "review" and not name.endswith("-slides")


@pytest.mark.parametrize(
    "words",
    [
        ("Alder", "alder"),
        ("Alder Bench", "Alder.Bench"),
        ("\u00c9t\u00e9", "E\u0301te\u0301"),
        ("Stra\u00dfe", "Strasse"),
        ("con", "CON"),
        ("a ", "a."),
        ("../x", "x"),
        ("a/b", "a-b", "A-b"),
    ],
)
@pytest.mark.parametrize("names_of", [page_names, file_names])
def test_names_that_would_fall_together(words, names_of):
    assert len(set(map(as_a_disk_sees, names_of(words).values()))) == len(words)


def test_a_folder_in_a_folder_keeps_its_words():
    assert file_names(["2094-north/field 2", "2094-north"]) == {
        "2094-north/field 2": "2094-north-field 2",
        "2094-north": "2094-north",
    }


def test_an_ordinary_name_stays_as_it_is():
    assert page_names(["Alder Bench-2091", "corn"], taken=["review"]) == {
        "Alder Bench-2091": "alder-bench-2091",
        "corn": "corn",
    }
    assert page_names(["St. Mary/Upper 2091"]) == {"St. Mary/Upper 2091": "st-mary-upper-2091"}


def test_a_name_that_another_page_has_or_ends_in_is_not_taken():
    """A crop may be called review, or corn slides."""
    names = page_names(["Review", "corn slides", "corn"], taken=["review"], ends=("-slides",))
    assert [len(name) for name in names.values()] == [len("review") + 9, len("corn-slides") + 9, len("corn")]
