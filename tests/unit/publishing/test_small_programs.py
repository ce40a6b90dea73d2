"""Programs that are young or stand in few places: every page can be woven, and says nothing its tables contradict."""

from __future__ import annotations

import re
from itertools import product

import pandas as pd
import pytest

from pipeline.estimates.engines import mixed
from tests.tiny_program import TinyProgram, write_tiny_program
from tests.unit.publishing.woven import figures_left_blank, woven_pages

MARGIN = """\
    question: as good
    noninferiority: {margin: 3.0, unit: bu/ac, basis: half a least significant difference, fixed_on: 2090-11-15}
"""
PLACES = ("Alder", "Birch", "Cedar", "Dogwood", "Elm", "Fir")
# places, seasons | what its season page says | what it must not say
PROGRAMS = {
    "first season": (
        PLACES,
        (2091,),
        (
            "Half-coated blend against urea: what it takes to show as good within 3.0 bu/ac in future seasons cannot be"
            " planned. Not estimable",
            "No average in future seasons can be estimated, so all are only counted.",
            "**none**",
        ),
        ("There are no variances to plan from yet. There", "Few places."),
    ),
    "two seasons": (
        PLACES,
        (2091, 2092),
        ("cannot be planned. Not estimable", "In seasons like those tested, the true gain of one more field"),
        ("How much the true gain differs between fields is not estimable",),
    ),
    "one place": (
        PLACES[:1],
        (2091, 2092, 2093),
        (
            "All site-years come from one place. The average holds for that place",
            "3 site-years in 3 seasons are too few to claim that half-coated blend is as good as",
        ),
        ("In future seasons, half-coated blend is as good as", "In future seasons half-coated blend yielded"),
    ),
    "two places": (
        PLACES[:2],
        (2091, 2092, 2093),
        ("The average holds at these 2 places.",),
        ("For the first comparison",),
    ),
}
MISSING = re.compile(r"\b(nan|NaN|NA|None|NaT)\b|^\s*- *$|\binf\b", re.MULTILINE)


def written(tiny: TinyProgram, places, seasons) -> TinyProgram:
    """One corn trial at every place in every season, like the tiny program's first, its blend plots heavier here and
    lighter there.
    """
    tiny.settings("half-coated blend against urea, both at planting", "half-coated blend against urea")
    tiny.settings("target: seasons tested", "target: seasons to come")
    tiny.settings_file.write_text(tiny.settings_file.read_text(encoding="utf-8") + MARGIN, encoding="utf-8")
    of_first = {
        table: tiny.rows(table) for table in ("trials", "treatments", "nitrogen_applications", "plots", "weather_daily")
    }
    sites, rain = tiny.rows("sites"), tiny.rows("rain_history")
    tiny.write("sites", [sites[0], *([f"{place} Bench", place, *sites[1][2:]] for place in places)])
    tiny.write("rain_history", [rain[0], *([place, *row[1:]] for place in places for row in rain if row[0] == "Alder")])
    for season in {2091, 2092, *seasons}:
        for table, (heads, *rows) in of_first.items():
            tiny.write(
                table, [heads, *_grown(table, heads, rows, places, season if season in seasons else None)], season
            )
    return tiny


def estimated(tiny: TinyProgram) -> dict[str, pd.DataFrame]:
    """Its report views. The program's own code fits the models: what pages say of them does not hang on who did."""
    with mixed.by(mixed.OWN):
        return dict(tiny.load_and_estimate())


def _grown(table: str, heads: list[str], rows: list[list[str]], places, season: int | None) -> list[list[str]]:
    """The rows of the first trial, or of its place's weather, once for every place; none where there is no season."""
    key, mine = ("place", "Alder") if table == "weather_daily" else ("trial_id", "2091-A-corn")
    grown = []
    for (i, place), row in product(enumerate(places) if season else (), rows):
        cells = dict(zip(heads, row, strict=True))
        if cells[key] != mine:
            continue
        cells |= {key: place if key == "place" else f"{season}-{place}-corn"}
        cells |= {"season": str(season), "site_id": f"{place} Bench"} if table == "trials" else {}
        cells |= {
            name: cells[name].replace("2091", str(season)) for name in ("date", "planted", "harvested") if name in cells
        }
        if cells.get("treatment_code") == "C-120" and table == "plots":
            effect = (i * 7 + season * 3) % 5 - 2
            cells["harvest_weight_lb"] = f"{float(cells['harvest_weight_lb']) + effect:.1f}"
        if table == "plots":  # no two plots alike
            noise = 0.1 * ((int(cells["plot"]) * 37 + i * 11 + season) % 13)
            cells["harvest_weight_lb"] = f"{float(cells['harvest_weight_lb']) + noise:.1f}"
        grown.append([cells[name] for name in heads])
    return grown


@pytest.fixture(scope="module", params=PROGRAMS)
def woven(request, tmp_path_factory):
    """The Markdown of a program's pages by path, and its row of PROGRAMS."""
    folder = tmp_path_factory.mktemp("small")
    places, seasons, *_ = PROGRAMS[request.param]
    tables = estimated(written(write_tiny_program(folder / "program"), places, seasons))
    text = woven_pages(tables, folder, leave_out=("methods", "data_dictionary"))
    return text, PROGRAMS[request.param]


def test_no_page_prints_what_is_missing(woven):
    text, _ = woven
    assert {"corn", "review", "index"} < set(text)
    for path, page in text.items():
        found = [page[max(0, at.start() - 80) : at.end() + 20] for at in MISSING.finditer(page)]
        assert not found, (path, found)


def test_the_season_page_says_what_is_true_of_so_small_a_program(woven):
    text, (_, _, says, says_not) = woven
    for words in says:
        assert words in text["corn"], words
    for words in says_not:
        assert words not in text["corn"], words


def test_a_review_doubts_no_figure_that_is_not_there(woven):
    text, (_, seasons, _, _) = woven
    has_to_come = len(seasons) > 2
    assert ("the figure for future seasons rests on few of them" in text["review"]) == has_to_come
    assert "0 declared tests" not in text["review"] and "0 exploratory tests" not in text["review"]


# what a trial's row of trials lacks, by its place
LACKING = {"Birch": "season", "Cedar": "design", "Dogwood": "crop", "Elm": "site_id"}


def test_a_row_that_lacks_what_must_be_delivered_stops_no_page(tiny, tmp_path):
    written(tiny, PLACES, (2091,))
    trials = [row[0] for row in tiny.rows("trials")]
    for place, column in LACKING.items():
        tiny.change("trials", trials.index(f"2091-{place}-corn") + 1, column, "")
    plots = [row[0] for row in tiny.rows("plots")]
    for k, column in enumerate(("block", "treatment_code", "plot"), start=1):
        tiny.change("plots", plots.index("2091-Fir-corn") + k, column, "")
    with figures_left_blank():
        text = woven_pages(estimated(tiny), tmp_path, leave_out=("methods", "data_dictionary"), every_place=True)
    assert {f"site-years/{place.lower()}-2091" for place in PLACES} - set(text) == {
        "site-years/birch-2091", "site-years/elm-2091"
    }  # fmt: skip
    for path, page in text.items():
        found = [page[max(0, at.start() - 80) : at.end() + 20] for at in MISSING.finditer(page)]
        assert not found and "<NA>" not in page, (path, found)
    assert "Crop not known: trial 2091-Dogwood-corn" in text["site-years/dogwood-2091"]
    assert "Place not known, 2091 (2091-Elm-corn)" in text["corn"]
