"""Every page of a program whose trials say what the weather explains; and of one that declares nothing, which says
nothing.
"""

from __future__ import annotations

import re

import pytest

from pipeline import trace
from pipeline.display.review import short_trace
from pipeline.display.review import trace as trace_words
from tests.tiny_program import write_tiny_program
from tests.unit.publishing.test_small_programs import MISSING, PLACES, estimated, written
from tests.unit.publishing.weather_told import FEW, with_weather
from tests.unit.publishing.woven import figures_left_blank, woven_pages

LINKED = re.compile(r"\(review\.html#id-([^)]+)\)")
HEADINGS = ("What the weather explains", "What your nitrogen met", "What to expect on your land")


@pytest.fixture(scope="module")
def tables(tmp_path_factory):
    folder = tmp_path_factory.mktemp("weather") / "program"
    return estimated(written(write_tiny_program(folder), PLACES, (2091, 2092, 2093)))


@pytest.fixture(scope="module")
def woven(tables, tmp_path_factory):
    with figures_left_blank():
        return woven_pages(with_weather(tables), tmp_path_factory.mktemp("told"), leave_out=("data_dictionary",))


def test_pages_say_it_where_it_belongs(woven):
    site_year = next(text for path, text in woven.items() if path.startswith("site-years/"))
    says = {
        "corn": ("went with 0.9 bu/ac more gain", FEW, *HEADINGS[::2]),
        "corn-handout": ("One thing stood out: each extra inch",),
        "review": ("Exploratory, not declared in time", HEADINGS[0]),
        "methods": ("Excess water is not nitrogen lost", "FAO Irrigation and drainage paper 56", HEADINGS[0]),
    }
    for path, words in says.items():
        assert [word for word in words if word not in woven[path]] == [], path
    assert HEADINGS[1] in site_year and "not nitrogen lost" in site_year
    assert "soil warmth" not in woven["corn"].lower(), "what was explored is for the reviewer"
    for path, page in woven.items():
        found = [page[max(0, at.start() - 80) : at.end() + 20] for at in MISSING.finditer(page)]
        assert not found, (path, found)


def test_each_id_leads_to_where_the_review_file_has_it(woven):
    linked = {found for path in ("corn", "corn-handout") for found in LINKED.findall(woven[path])}
    assert {"5109e001-aaaa", "9a1all-bbbb", "9a1alder-bbbb"} <= linked
    assert linked <= set(re.findall(r"\{#id-([^}]+)\}", woven["review"]))


def test_a_slope_is_traced_to_site_years_days_files_and_plots(tables):
    views = {name.removeprefix("reports."): frame for name, frame in with_weather(tables).items()}
    slope, expected = (trace.walk(views, known) for known in ("5109e001-aaaa", "9a1alder-bbbb"))
    told = "\n".join(trace_words.lines(slope))
    for words in (
        "Slope of the gain on rain after application (declared), shown: 0.93 bu/ac per in. (0.10 to 1.72)",
        "18 site-years behind it",
        (
            "Rain after application of each site-year:\n  Alder 2091: 1.0 in.; 30 days from 2091-05-03 to 2091-06-01;"
            " from daily rain"
        ),
        (
            "alder-2091, window: 30 days from 2091-05-03 to 2091-06-01, 1.0 in (25 mm); seasons/2091/weather_daily.csv"
            " rows 3 to 32, sha256 ef"
        ),
        "plot 102, block 1",
    ):
        assert words in told, words
    assert slope.rests_on == () and [row["estimate_id"] for row in expected.rests_on] == ["5109e001-aaaa"]
    said = short_trace.lines(expected)
    assert any("Worked out from 5109e001-aaaa, slope on rain after application: 0.93" in line for line in said)
    assert len(said) <= 10


def test_only_site_years_with_a_value_stand_behind_a_slope(tables):
    views = {name.removeprefix("reports."): frame for name, frame in with_weather(tables).items()}
    values = views["weather_covariates"]
    is_first = values["site_year_id"].eq("alder-2091")
    views["weather_covariates"] = values.assign(value=values["value"].mask(is_first))
    found = trace.walk(views, "5109e001-aaaa")
    for rows in (found.site_years, found.weather, found.rain, found.plots):
        assert "alder-2091" not in set(rows["site_year_id"]) and "alder-2092" in set(rows["site_year_id"])


def test_a_program_that_declares_nothing_reads_as_before(tables, tmp_path):
    with figures_left_blank():
        text = woven_pages(tables, tmp_path, leave_out=("data_dictionary",))
    for path, page in text.items():
        assert not [heading for heading in HEADINGS if heading in page], path
        assert "balance of FAO-56" not in page and "stood out" not in page
