"""What the weather explains in sentences: 'went with' where a slope is shown, and no more than that where none is."""

from __future__ import annotations

import pandas as pd
import pytest

from pipeline.contract.vocabulary import (
    BETWEEN_SEASONS,
    COVARIATES,
    EXCESS_WATER,
    EXPLORATORY,
    HEAVY_RAIN_DAYS,
    NITROGEN_RELEASED,
    SOIL_WARMTH,
    WETTEST_5_DAYS,
    WITHIN_SEASONS,
)
from pipeline.display.words import weather
from tests.unit.display.rows import NONE
from tests.unit.display.weather_rows import covariate_row, no_slope_row, slope_row

RAIN = "rain in the month after application"
SHOWN = "Each extra inch of rain in the month after application went with 0.9 bu/ac more gain (0.1 to 1.7)."


def values(*n_days: int) -> pd.DataFrame:
    return pd.DataFrame([covariate_row("Alder", 2090 + i, 1.0, n_days=n) for i, n in enumerate(n_days)])


@pytest.mark.parametrize(
    ("n_days", "said"),
    [
        ((30, 30), RAIN),
        ((45, 45), "rain in the 45 days after application"),
        ((45, 52), "rain after application"),
        ((), "rain after application"),
    ],
)
def test_the_days_that_count_are_named_where_they_are_as_many_everywhere(n_days, said):
    assert weather.said("rain after application", values(*n_days) if n_days else values(1).iloc[:0]) == said


def test_site_years_without_a_value_do_not_count_in_the_days_that_are_named():
    rows = pd.concat([values(30), values(0).assign(value=NONE)])
    assert weather.said("rain after application", rows) == RAIN


@pytest.mark.parametrize("covariate", COVARIATES)
def test_every_covariate_has_its_words(covariate):
    assert weather.said(covariate, values(30)).endswith(" in the month after application")


@pytest.mark.parametrize(
    ("changed", "said"),
    [
        ({}, SHOWN),
        (
            {"estimate": -0.93, "conf_low": -1.72, "conf_high": -0.1},
            SHOWN.replace("more", "less"),
        ),
        ({"covariate_unit": "°F"}, SHOWN.replace("inch", "degree Fahrenheit")),
        ({"covariate_unit": "%"}, SHOWN.replace("inch", "10%")),
        ({"covariate_unit": "mm", "unit": "kg/ha"}, SHOWN.replace("inch", "10 mm").replace("bu/ac", "kg/ha")),
    ],
)
def test_a_slope_that_is_shown(changed, said):
    assert weather.slope_sentence(slope_row(**changed), RAIN) == said
    assert weather.limits_sentence(slope_row(**changed)) == "", "its limits stand in the sentence"


def test_a_slope_that_is_not_shown_is_told_by_its_limits():
    row = slope_row(is_shown=False, conf_low=-0.5)
    assert weather.slope_sentence(row, RAIN) == f"We can't yet say that {RAIN} explains the gain."
    told = "For each extra inch, the trials fit anything from 0.5 bu/ac less to 1.7 bu/ac more gain."
    assert weather.limits_sentence(row) == told


def test_no_slope_says_why():
    row = no_slope_row("Too few seasons: a slope needs 3.")
    told = weather.sentences(row, values(30))
    assert told == [f"We can't yet say whether {RAIN} explains the gain. Too few seasons: a slope needs 3."]


@pytest.mark.parametrize(
    ("changed", "said"),
    [
        ({"carried_by": BETWEEN_SEASONS}, "This rests on 4 seasons: wet seasons against dry ones."),
        (
            {"carried_by": BETWEEN_SEASONS, "covariate": SOIL_WARMTH},
            "This rests on 4 seasons: warm seasons against cool ones.",
        ),
        ({"carried_by": "neither", "within_share": 0.01}, "This rests on 4 seasons: wet seasons against dry ones."),
        ({"carried_by": "neither", "is_shown": False}, ""),
        ({"carried_by": WITHIN_SEASONS}, "It shows within seasons: wet places against dry ones."),
        ({"carried_by": WITHIN_SEASONS, "is_shown": False}, ""),
        ({"carried_by": "both"}, "It shows between wet and dry seasons, and between places in the same season."),
        ({"carried_by": None}, ""),
        ({"estimate": NONE, "carried_by": BETWEEN_SEASONS}, ""),
    ],
)
def test_what_carries_a_slope(changed, said):
    assert weather.carried(slope_row(**changed)) == said


def test_names_that_do_not_say_it_are_explained_and_excess_water_is_not_lost_nitrogen():
    assert "It is not nitrogen lost" in " ".join(weather.sentences(slope_row(covariate=EXCESS_WATER), values(30)))
    assert "not measured" in weather.explained(slope_row(covariate=NITROGEN_RELEASED))
    assert "0.8 inch (20 mm)" in weather.explained(slope_row(covariate=HEAVY_RAIN_DAYS))
    metric = weather.explained(slope_row(covariate=HEAVY_RAIN_DAYS, unit="kg/ha"))
    assert "20 mm" in metric and "inch" not in metric
    assert weather.explained(slope_row(covariate=WETTEST_5_DAYS)) == ""


def test_site_years_without_weather_are_counted_with_each_reason_once():
    lacking = [
        covariate_row("Alder", 2090 + i, NONE, reason=why) for i, why in enumerate(("no rain", "no date", "no rain"))
    ]
    rows = pd.DataFrame([*lacking, covariate_row("Birch", 2091, 1.0, reason="the mean of 1 of 2 trials")])
    assert weather.unknown(slope_row(n_unknown=3), rows) == "3 site-years are left out: no rain; no date."
    assert weather.unknown(slope_row(n_unknown=1), values(30)).startswith("1 site-year is left out: the weather there")
    assert weather.unknown(slope_row(), rows) == ""


def test_the_line_of_a_sheet_is_of_the_best_declared_slope_or_there_is_none():
    rows = [
        slope_row(estimate_id="second", covariate=EXCESS_WATER, p_value_holm=0.03),
        slope_row(estimate_id="first"),
        slope_row(estimate_id="explored", covariate=SOIL_WARMTH, kind=EXPLORATORY, p_value_holm=0.001),
        slope_row(estimate_id="other target", is_declared=False, p_value_holm=0.001),
        slope_row(estimate_id="other method", is_headline=False, p_value_holm=0.001),
        slope_row(estimate_id="not shown", covariate=WETTEST_5_DAYS, is_shown=False, p_value_holm=0.001),
    ]
    best = weather.best_shown(pd.DataFrame(rows))
    assert best["estimate_id"] == "first"
    assert weather.stood_out(best, values(30)) == f"One thing stood out: e{SHOWN[1:]}"
    assert weather.best_shown(pd.DataFrame(rows[2:])) is None
    assert weather.best_shown(pd.DataFrame(rows).iloc[:0]) is None


def test_a_value_in_its_unit():
    days = covariate_row("Alder", 2091, 1.0, covariate_unit="days", covariate_digits=0)
    assert weather.value(days).startswith("1 day; 30 days from 2091-05-03 to 2091-06-01; from daily rain")
    assert weather.value(days | {"value": 2.0}).startswith("2 days;")
    assert "; modeled from daily rain" in weather.value(days | {"is_modeled": True})
