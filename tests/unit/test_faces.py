"""The type that pages carry: every face, cut down, the same on every run, and asked of nobody."""

from __future__ import annotations

import base64
import io
import re

import pytest
from fontTools.ttLib import TTFont

from pipeline import faces
from pipeline.kept import kept_in


def test_the_style_sheet_carries_every_face_and_asks_the_network_for_nothing():
    sheet = faces.style_sheet()
    assert sheet.count("@font-face") == len(faces.FACES)
    assert set(re.findall(r'url\("([^:]+:)', sheet)) == {"data:"}


@pytest.mark.parametrize("face", faces.FACES, ids=lambda face: face.file)
def test_a_cut_face_has_the_letters_that_pages_print_in_figures_of_one_width(face):
    cut = TTFont(io.BytesIO(faces._subset(face.path)))
    letters = cut.getBestCmap()
    assert {ord(letter) for letter in "AZaz09$%−–×≥’“µ\u00a0"} <= set(letters)
    assert len({cut["hmtx"][letters[ord(digit)]][0] for digit in "0123456789"}) == 1


def test_the_same_bytes_on_every_run():
    first = faces._rule(faces.FACES[0])
    assert first == faces._rule(faces.FACES[0])
    assert len(base64.b64decode(re.search(r"base64,([^\"]+)", first)[1])) < 40_000


def test_a_later_run_carries_the_faces_that_the_one_before_it_cut(tmp_path, monkeypatch):
    with kept_in(tmp_path) as files:
        first = faces.style_sheet()
        files.forget_unused()
    monkeypatch.setattr(faces, "_rules", lambda: pytest.fail("cut again"))
    with kept_in(tmp_path):
        assert faces.style_sheet() == first
