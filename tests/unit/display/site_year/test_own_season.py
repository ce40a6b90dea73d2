"""What a cooperator is told of the days that their nitrogen met, and why there is no picture."""

from __future__ import annotations

import pandas as pd

from pipeline.contract.vocabulary import EXCESS_WATER, EXPLORATORY, NITROGEN_RELEASED
from pipeline.display.site_year import own_season
from tests.unit.display.rows import NONE
from tests.unit.display.weather_rows import covariate_row, season_day_rows

LACKING = {"covariate": EXCESS_WATER, "reason": "latitude is not known."}
DAYS = season_day_rows()


def test_the_comparison_is_drawn_whose_coated_nitrogen_is_known():
    first = season_day_rows(released_pct=NONE, comparison_id="first")
    second = season_day_rows(comparison_id="second", position=1)
    unknown = season_day_rows(comparison_id="unknown", position=2, rain_mm=NONE)
    drawn = own_season.most_known(pd.concat([first, second, unknown]))
    assert set(drawn["comparison_id"]) == {"second"} and len(drawn) == len(second)
    assert set(own_season.most_known(first)["comparison_id"]) == {"first"}
    assert own_season.most_known(unknown).empty and own_season.most_known(first.iloc[:0]).empty


def test_why_there_is_no_picture():
    released = covariate_row("Alder", 2092, NONE, covariate=NITROGEN_RELEASED, reason="no release test is declared")
    rows = pd.DataFrame([released, covariate_row("Alder", 2092, NONE, **LACKING)])
    assert own_season.why_not(rows) == "We cannot draw your season day by day: latitude is not known."
    assert own_season.why_not(rows.iloc[:0]) == own_season.why_not(rows.assign(kind=EXPLORATORY)) == ""
    reserve = pd.DataFrame([covariate_row("Alder", 2092, 3.0, reason="the mean of 1 of 2 trials")])
    assert own_season.why_not(reserve) == "We cannot draw your season day by day: its daily rain is not known."


def test_models_are_named_with_what_they_were_worked_out_from():
    rows = pd.DataFrame([covariate_row("Alder", 2092, 1.0, covariate=EXCESS_WATER, inputs="rain and soil texture")])
    water, inputs, release = own_season.worked_out_from(rows, DAYS)
    assert "not measured. It is not nitrogen lost." in water and inputs == "Inputs: rain and soil texture."
    assert "the product's own test, not measured" in release
    assert own_season.worked_out_from(rows, DAYS.assign(excess_mm=0.0, released_pct=NONE)) == []
