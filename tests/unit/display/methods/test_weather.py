"""The methods page has a row for every covariate there is, and tells sizes in the units of the program's readers."""

from __future__ import annotations

import re

import pandas as pd

from pipeline.contract.units import METRIC, US
from pipeline.contract.vocabulary import COVARIATES, EXCESS_WATER
from pipeline.display.methods import weather
from pipeline.display.words.tables import escaped
from pipeline.estimates.where import weather_rules

NO_SOIL = pd.DataFrame(columns=["place", "n_days", "bias", "rmse", "unit"])
US_SIZES = re.compile(r"\bin\.|°F")


def test_every_covariate_is_explained_and_only_those_that_are_used():
    assert set(weather.COVARIATES) == set(COVARIATES)
    table = weather.covariates_table(pd.Series([EXCESS_WATER]), US)
    assert "Excess water" in table and "Soil warmth" not in table


def test_sizes_are_in_the_readers_units():
    for units, has_us in ((US, True), (METRIC, False)):
        table = weather.covariates_table(pd.Series(COVARIATES), units)
        release = next(sentence for sentence in weather.worked_out(units, NO_SOIL) if "EN 13266" in sentence)
        for text in (table, release):
            assert bool(US_SIZES.search(text)) == has_us and "{heavy}" not in text and "{test}" not in text
            assert re.search(r"20 mm|25 °C", text)


def test_cautions_are_there():
    told = " ".join(weather.worked_out(US, NO_SOIL))
    assert "Excess water is not nitrogen lost." in told and "nothing is claimed about the environment" in told


def test_the_rules_are_those_of_the_estimates():
    told = weather.slopes()
    for sentence in (*weather_rules.RESTS_ON.values(), *(check.sentence for check in weather_rules.CHECKS)):
        assert escaped(sentence) in told
    assert f"at least {weather_rules.FEWEST_SITE_YEARS} site-years" in told and "20%" in told


def test_the_error_of_soil_temperature_from_air_is_that_of_all_days():
    rows = pd.DataFrame(
        {"place": ["Alder", "Birch"], "n_days": [100, 300], "bias": [-1.0, 0.2], "rmse": [2.0, 1.0], "unit": "°F"}
    )
    told = weather.worked_out(US, rows)[-1]
    assert "on 400 days at 2 places" in told and "off by 1.3 °F" in told and "0.1 °F too cool" in told
