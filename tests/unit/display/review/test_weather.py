"""A reviewer sees every slope, what could upset it, and the values behind it; what is exploratory is headed so."""

from __future__ import annotations

import pandas as pd

from pipeline.contract.vocabulary import EXCESS_WATER, EXPLORATORY, SOIL_WARMTH, WITHIN_SEASONS
from pipeline.display.review import weather
from tests.unit.display.rows import NONE, site_year_row
from tests.unit.display.weather_rows import check_row, covariate_row, expected_row, no_slope_row, slope_row

CHECKS = pd.DataFrame(
    [
        check_row("season", "2091", 0.5, -1.1),
        check_row("season", "2092", 1.1, 0.4),
        check_row("site-year", "elm-2091", NONE, NONE),
    ]
)
GAINS = pd.DataFrame([expected_row("all", 5.1, 0.07), expected_row("R", NONE, NONE, reason="no years")])
SITE_YEARS = pd.DataFrame([site_year_row("Alder", 2091, 4.0)])


def evidence(*slopes: dict, covariates=None) -> str:
    known = pd.DataFrame(covariates or [covariate_row("Alder", 2091, 1.5)])
    return weather.evidence(pd.DataFrame(slopes), CHECKS, GAINS, known, SITE_YEARS, label="weather-1")


def test_both_kinds_stand_apart_and_what_leads_is_bold():
    told = evidence(
        slope_row(),
        slope_row(estimate_id="part", part=WITHIN_SEASONS, is_headline=False, method="two-stage"),
        slope_row(estimate_id="warm", covariate=SOIL_WARMTH, kind=EXPLORATORY, is_shown=False),
    )
    declared, explored = told.index("Declared before yields"), told.index("Exploratory, not declared in time")
    assert declared < explored and "nothing is claimed from these slopes" in told
    lines = {line.split("#id-")[1].split("}")[0]: line for line in told.splitlines() if "{#id-" in line}
    assert "**mixed model**" in lines["5109e001-aaaa"] and "0.93 (0.10 to 1.72)" in lines["5109e001-aaaa"]
    assert "| two-stage |" in lines["part"] and "within seasons" in lines["part"]
    assert ".grey" in lines["warm"].split("mixed model")[1]
    assert "| 5.1 (3.1 to 7.1) |" in lines["9a1all-bbbb"] and "9a1r-bbbb" not in lines
    assert told.index("<summary>Exploratory") < explored, "it is collapsed"
    assert weather.NOT_LOST not in told and weather.NOT_LOST in evidence(slope_row(covariate=EXCESS_WATER))


def test_on_paper_stands_only_what_was_declared():
    on_screen = '::: {.content-visible when-format="html"}'
    assert evidence(slope_row()).startswith("### What the weather explains")
    assert evidence(slope_row(kind=EXPLORATORY, is_shown=False)).startswith(on_screen)


def test_what_could_upset_a_slope_is_told():
    told = " ".join(weather.told(slope_row(), CHECKS))
    for words in (
        "Rain after application: shown; carried by: within seasons.",
        "40% of its sum of squares lies within seasons.",
        "Permuted within seasons 999 times: p = 0.031",
        "Leave out one season: slopes from 0.50 to 1.10 bu/ac per in.; it moves by at most 1.1 standard errors (2091).",
        "6.10 bu/ac without it, 5.00 with it",
        "AICc: 210.3 for a straight line, 212.1 for a curve; told, never used to choose.",
    ):
        assert words in told, words
    assert "site-year: slopes" not in told
    bare = " ".join(weather.told(slope_row(p_permutation=NONE, aicc_curve=NONE, tau_after=NONE), CHECKS.iloc[:0]))
    assert not any(words in bare for words in ("Permuted", "AICc", "Leave out", "without it"))


def test_no_slope_is_told_with_its_reason():
    told = evidence(no_slope_row("Too few seasons."))
    assert "Rain after application: no slope. Too few seasons." in told and "nan" not in told


def test_the_values_of_site_years_with_window_inputs_and_reason():
    gains = SITE_YEARS.set_index("site_year_id")
    row = pd.Series(covariate_row("Alder", 2091, 1.5, n_days_missing=2))
    assert (
        weather.value_line(row, gains)
        == "Alder 2091, gain 4.0 bu/ac: 1.5 in.; 30 days from 2091-05-03 to 2091-06-01, 2 not known; from daily rain"
    )
    lacking = pd.Series(
        covariate_row("Elm", 2091, NONE, n_days=NONE, window_from=pd.NaT, inputs=None, reason="no date of application")
    )
    assert weather.value_line(lacking, gains) == "Elm 2091, not in the averages: no value; no date of application"
    page = evidence(slope_row(), covariates=[covariate_row("Alder", 2091, 1.5), covariate_row("Elm", 2091, NONE)])
    assert "<summary>Rain after application: 1 of 2 site-years with a value</summary>" in page


def test_how_often_a_slope_would_be_caught_and_shown_stands_with_its_error():
    row = {
        "covariate": EXCESS_WATER,
        "truth": "gain varies by site-year",
        "n_programs": 200,
        "coverage": 0.96,
        "coverage_mc_error": 0.015,
        "shown_falsely": 0.03,
        "slope": 1.5,
        "slope_digits": 1,
        "slope_unit": "bu/ac per in.",
        "shown_rightly": 0.62,
        "verdict": "as stated",
        "seed": 1,
    }
    unknown = row | {"coverage": NONE, "coverage_mc_error": NONE, "shown_falsely": NONE, "verdict": ""}
    told = weather.calibration_table(pd.DataFrame([row, unknown]), label="caught")
    assert "96%, as stated" in told and "62% for 1.5 bu/ac per in." in told and told.count("not known") == 2
    assert "200 simulated programs" in told and "up to 1.5%" in told
