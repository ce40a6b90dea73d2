"""File names that every system takes, each its own also on a disk that knows no capitals."""

from __future__ import annotations

import re

import pytest
from hypothesis import given
from hypothesis import strategies as st

from pipeline.file_names import RESERVED, file_name, page_names


@given(st.text(max_size=200), st.text(max_size=200))
def test_a_file_name_is_safe_and_each_trial_has_its_own(one, other):
    names = [file_name(one), file_name(other)]
    for name in names:
        assert re.fullmatch(r"\w[\w .-]*", name) and len(name.encode()) < 245 and not RESERVED.fullmatch(name)
    assert (names[0] == names[1]) == (one == other)


@given(st.lists(st.text(max_size=80), unique=True, max_size=6))
def test_pages_have_names_that_no_disk_takes_for_one(words):
    names = page_names(words, taken=["review"], ends=("-slides",))
    assert list(names) == words
    assert len({name.casefold() for name in names.values()}) == len(words)
    for name in names.values():
        assert re.fullmatch(r"\w([\w-]*\w)?", name) and len(name.encode()) < 245
        assert not RESERVED.fullmatch(name) and name != "review" and not name.endswith("-slides")


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
    ],
)
def test_names_that_would_fall_together(words):
    assert len({name.casefold() for name in page_names(words).values()}) == len(words)


def test_an_ordinary_name_stays_as_it_is():
    assert page_names(["Alder Bench-2091", "corn"], taken=["review"]) == {
        "Alder Bench-2091": "alder-bench-2091",
        "corn": "corn",
    }
    assert page_names(["St. Mary/Upper 2091"]) == {"St. Mary/Upper 2091": "st-mary-upper-2091"}
