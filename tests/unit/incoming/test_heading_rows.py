from __future__ import annotations

import pytest

from pipeline.incoming.heading_rows import ROWS_SEARCHED, find_headings
from pipeline.incoming.headings import SendersWords

HEADS = ["site_id", "place", "drainage_class", "organic_matter"]


def found(*rows, **options):
    return find_headings([(number, list(row)) for number, row in enumerate(rows, start=1)], **options)


def kinds(headings) -> list[tuple[str, int | None, str | None]]:
    return [(note.what, note.row, note.found) for note in headings.notes]


def test_headings_in_the_first_row():
    headings = found(HEADS, ["A", "Alder", "well drained", "2.4"])
    assert (headings.row, headings.last_row, headings.verbatim) == (1, 1, HEADS)
    assert headings.notes == [] and headings.problems == []


@pytest.mark.parametrize(("typed", "ending"), [("%", "pct"), ("(%)", "pct"), ("Percent", "pct"), ("pct", "pct")])
def test_a_title_and_a_row_of_units(typed, ending):
    headings = found(
        ["Soils", None, "of 2094", None], HEADS, [None, "-", "(word)", typed], ["A", "Alder", "well drained", "2.4"]
    )
    assert (headings.row, headings.last_row) == (2, 3)
    assert headings.verbatim == [*HEADS[:3], f"organic_matter {ending}"]
    assert kinds(headings) == [("title_row", 1, "Soils | of 2094"), ("unit_row", 3, f"- | (word) | {typed}")]


@pytest.mark.parametrize(
    ("heading", "unit", "read"),
    [
        ("harvest_weight", "lbs", "harvest_weight lb"),
        ("yield", "bu/ac", "yield bu_ac"),
        ("yield", "bu./acre", "yield bu_ac"),
        ("n_rate", "lb/A", "n_rate lb_ac"),
        ("n_rate", "kg ha-1", "n_rate kg_ha"),
        ("yield", "Mg/ha", "yield t_ha"),
        ("temp_max", "°F", "temp_max f"),
        ("rain", "inches", "rain in"),
        ("rain", "mm", "rain mm"),
        ("row_spacing_in", "in.", "row_spacing_in"),
    ],
)
def test_spellings_of_units(heading, unit, read):
    assert found([*HEADS, heading], [None, None, None, None, unit]).verbatim[-1] == read


@pytest.mark.parametrize(
    "row",
    [["A", "Alder", "well drained", "%"], [None, None, None, "2.4"], [None, None, None, None], ["-", "-", "-", "-"]],
)
def test_rows_that_hold_more_or_less_than_units_are_data(row):
    headings = found(HEADS, row)
    assert headings.last_row == 1 and headings.notes == []


def test_a_unit_that_contradicts_the_heading():
    headings = found([*HEADS[:3], "weight_lb"], [None, None, None, "kg"])
    assert headings.problems == [
        "row 2, column D: 'kg' stands under 'weight_lb' (row 1). Keep the unit that was meant, in the heading, and"
        " delete row 2."
    ]


def test_no_row_fits():
    headings = found(["title"], ["number", "length"], [None, "lb"])
    assert (headings.row, headings.last_row, headings.verbatim, headings.notes) == (1, 1, ["title"], [])


def test_headings_of_which_some_stand_a_row_lower():
    headings = found(
        ["site_id", "Where", "Soil", None], [None, "place", "drainage_class", "texture"], ["A", "B", "c", "d"]
    )
    assert (headings.row, headings.last_row) == (1, 2)
    assert headings.verbatim == ["site_id", "place", "drainage_class", "texture"]
    assert kinds(headings) == [("headings_in_two_rows", 1, "site_id | Where | Soil")]


def test_where_no_row_fits_the_one_with_most_known_headings_is_taken():
    headings = found(["Harvest at two sites"], ["Plot", "Rep", "Trt No.", "Weight"], ["101", "1", "3", "41.2"])
    assert headings.row == 2 and kinds(headings) == [("title_row", 1, "Harvest at two sites")]


DATA = ["A", "Alder", "well drained", "2.4"]


@pytest.mark.parametrize(
    "rows",
    [
        [DATA, HEADS, DATA],
        [["B", "Birch", "clay", None], HEADS, DATA],
        [["A", None, "well drained", None, None, None], [*HEADS, "x", "y"], [*DATA, "1", "2"]],
        [["Soils"], DATA, HEADS],
        [*[DATA] * ROWS_SEARCHED, HEADS],
    ],
)
def test_rows_of_the_table_above_the_headings_are_no_titles(rows):
    (problem,) = found(*rows).problems
    at = rows.index(HEADS) if HEADS in rows else 1
    assert problem.startswith("row") and f"above the headings (row {at + 1}) stands what may be data ('" in problem
    assert "Move the headings above all rows of the table." in problem


@pytest.mark.parametrize(
    "title", [["Soils of 2094"], ["Soils", "2094"], ["Where", None, None, "Soil"], ["A", None, None, "lab, 2094"]]
)
def test_a_title_is_no_row_of_the_table(title):
    headings = found(title, HEADS, DATA)
    assert headings.row == 2 and headings.problems == [] and kinds(headings)[0][:2] == ("title_row", 1)


@pytest.mark.parametrize(("n_titles", "row"), [(ROWS_SEARCHED - 1, ROWS_SEARCHED), (ROWS_SEARCHED, 1)])
def test_how_far_is_looked(n_titles, row):
    assert found(*[["title"]] * n_titles, HEADS).row == row


def test_a_senders_own_headings():
    words = SendersWords(headings={("weather_daily", "ort"): "place", ("weather_daily", "tag"): "date"})
    theirs = found(["Feld 3"], ["Ort", "Tag", "Regen"], words=words)
    assert theirs.row == 2 and kinds(theirs) == [("title_row", 1, "Feld 3")]


@pytest.mark.parametrize(
    ("headings", "fits"),
    [
        (["place", "date"], True),
        (["place", "date", "rain_mm", "other"], True),
        (["place"], False),
        (["trial_id", "block", "plot", "treatment_code"], False),
        (["trial_id", "block", "plot", "treatment_code", "outcome"], True),
    ],
)
def test_what_fits_a_declared_table(headings, fits):
    assert SendersWords().fit(headings) is fits
