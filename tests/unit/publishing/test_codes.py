"""Codes in place of names: one each, kept, and refused where the file that keeps them is not whole."""

from __future__ import annotations

import pytest

from pipeline.errors import UserError
from pipeline.publishing.codes import FILE, PLACE, TRIAL, Codes


def test_a_name_keeps_its_code_and_new_ones_get_the_next(tmp_path):
    codes = Codes(tmp_path / FILE)
    first = codes.of(PLACE, ["Alder", "Birch", "Alder"])
    codes.keep()
    again = Codes(tmp_path / FILE)
    assert sorted(first.values()) == ["Place 01", "Place 02"]
    assert again.of(PLACE, ["Birch", "Aal"]) == {"Birch": first["Birch"], "Aal": "Place 03"}
    assert again.of(TRIAL, ["Alder"]) == {"Alder": "T001"}
    assert sorted(path.name for path in tmp_path.iterdir()) == [FILE]


def test_a_new_code_is_kept_beside_those_of_before_whatever_is_asked_after_it(tmp_path):
    """Also in a file that a spreadsheet program saved, which puts a mark in front."""
    codes = Codes(tmp_path / FILE)
    codes.of(PLACE, ["Alder"])
    codes.keep()
    saved = (tmp_path / FILE).read_text(encoding="utf-8")
    (tmp_path / FILE).write_text(saved, encoding="utf-8-sig")
    later = Codes(tmp_path / FILE)
    later.of(PLACE, ["Birch"])
    later.of(TRIAL, [])
    later.keep()
    rows = (tmp_path / FILE).read_text(encoding="utf-8").splitlines()
    assert rows == ["kind,name,code", "place,Alder,Place 01", "place,Birch,Place 02"]


def test_codes_do_not_tell_the_order_of_the_names(tmp_path):
    names = [f"{letter}lder" for letter in "ABCDEFGHIJKLMNOPQRSTUVWXYZ"]
    orders = [tuple(Codes(tmp_path / FILE).of(PLACE, names).values()) for _ in range(3)]
    assert len(set(orders)) > 1


def test_no_code_is_the_name_of_another(tmp_path):
    codes = Codes(tmp_path / FILE).of(TRIAL, ["T001", "T002", "x"])
    assert not set(codes.values()) & set(codes)


def test_nothing_new_leaves_the_file_as_it_is(tmp_path):
    Codes(tmp_path / FILE).keep()
    assert not (tmp_path / FILE).exists()


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("place,Alder\n", "row 1: found place, Alder; expected kind, name, code"),
        ("kind,name,code\nplace,Alder\n", "row 2: found place, Alder; expected one of place, site"),
        ("kind,name,code\nplace,Alder,\n", "row 2: found place, Alder, ; expected one of place, site"),
        ("kind,name,code\nplce,Alder,Place 01\n", "row 2: found plce, Alder, Place 01"),
        (
            "kind,name,code\nplace,Alder,Place 01\nplace,Birch,Place 01\n",
            "row 3: the place Birch or the code Place 01 stands here twice",
        ),
        ("kind,name,code\nplace,Alder,Place 01\nplace,Alder,Place 02\n", "row 3: the place Alder"),
        ("\udcff", "row 1: "),
    ],
)
def test_a_file_that_is_not_ours_is_refused(tmp_path, text, said):
    """Else other codes would stand for the same places from one edition to the next."""
    (tmp_path / FILE).write_text(text, encoding="utf-8", errors="surrogateescape")
    with pytest.raises(UserError) as problem:
        Codes(tmp_path / FILE)
    assert said in str(problem.value) and "Take it back from a copy" in str(problem.value)


def test_a_folder_that_cannot_be_written_is_told(tmp_path):
    codes = Codes(tmp_path / "not there" / FILE)
    codes.of(PLACE, ["Alder"])
    with pytest.raises(UserError, match="the codes cannot be written here"):
        codes.keep()
