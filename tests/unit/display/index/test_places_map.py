"""The schematic map: names beside their dots that touch nothing, and words for who does not see it."""

from __future__ import annotations

import re

import pandas as pd
import pytest

from pipeline.display.index import places_map as maps
from tests import figure_words


def places(*positions: tuple[float, float]) -> pd.DataFrame:
    names = ["Alder", "Birch", "Cedar", "Elm", "Fir"][: len(positions)]
    return pd.DataFrame(
        {
            "place": names,
            "latitude": [y for y, _ in positions],
            "longitude": [x for _, x in positions],
            "n_site_years": 3,
        }
    )


def test_a_map_needs_two_places(tmp_path):
    assert maps.places_map(places(), 0, folder=tmp_path) == maps.places_map(places((35, -40)), 1, folder=tmp_path) == ""
    said = maps.places_map(places((35.0, -40.0), (36.0, -41.0)), 2, folder=tmp_path)
    assert (tmp_path / "places.png").is_file() and "2 places, north at the top. Positions as delivered." in said
    assert "From north to south: Birch (3 site-years) and Alder (3 site-years)" in said


def test_places_without_a_position_are_counted_beside_the_map(tmp_path):
    for n_in_all, told in ((3, "1 other place with trials has none."), (4, "2 other places with trials have none.")):
        said = maps.places_map(places((35.0, -40.0), (36.0, -41.0)), n_in_all, folder=tmp_path)
        assert f"2 places, north at the top. Positions as delivered; {told}" in said


def test_places_at_one_spot_are_drawn_too(tmp_path):
    assert maps.places_map(places((35.0, -40.0), (35.0, -40.0)), 2, folder=tmp_path)


@pytest.mark.parametrize("apart", [0.0, 0.001, 0.05, 0.5])
def test_a_name_without_room_is_left_out_and_counted(monkeypatch, tmp_path, apart):
    """Forty places on a line, the last of them by itself."""
    found = figure_words.seen_in(monkeypatch)
    at = [(35.0 + apart * i, -40.0) for i in range(39)] + [(60.0, -30.0)]
    many = pd.DataFrame(at, columns=["longitude", "latitude"]).assign(
        place=[f"Place {i}" for i in range(40)], n_site_years=3
    )
    said = maps.places_map(many, 40, folder=tmp_path)
    assert found == []
    told = re.search(r"(\d+) of them without room for (?:its|their) names?", said)
    sides = maps.placed(many)[0]["side"]
    assert int(told[1]) == sides.isna().sum() > 0 and sides.notna().iloc[-1]


def test_where_room_is_short_the_places_with_the_most_site_years_have_their_names():
    many = pd.DataFrame({"place": [f"Place {i}" for i in range(40)], "latitude": 35.0, "longitude": -40.0})
    sides = maps.placed(many.assign(n_site_years=[1] * 36 + [9] * 4))[0].set_index("place")["side"]
    assert set(sides[sides.notna()].index) == {f"Place {i}" for i in range(36, 40)}


@pytest.mark.parametrize("gap", [0.0, 0.4, 1.0])
def test_a_name_touches_no_dot_and_no_other_name_where_there_is_room(gap):
    """Dots in a row, `gap` of a name's width apart."""
    inch = 1.0
    width = 5 * maps.LETTER_INCH
    rows = pd.DataFrame(
        {"place": ["Alder", "Birch", "Cedar"], "x": [i * (gap + 0.7) * width for i in range(3)], "y": 0.0}
    )
    found = maps._labeled(rows, inch, (-10.0, 10.0, -10.0, 10.0))
    boxes = [maps._box(row, row.side, inch) for row in found.itertuples()]
    assert not [1 for i, a in enumerate(boxes) if maps._touches(a, boxes[:i])]
    dots = [(x, 0.0, maps.DOT_INCH, maps.DOT_INCH) for x in found["x"]]
    assert not [1 for i, a in enumerate(boxes) for j, dot in enumerate(dots) if i != j and maps._touches(a, [dot])]
