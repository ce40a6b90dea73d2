"""How far soil temperature estimated from the air is off, by hand."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest

from pipeline.site_years.weather.days import DailyWeather
from pipeline.site_years.weather.soil_warmth import error_of_air
from tests.unit.site_years.weather.made_by_hand import days


def test_error_of_the_air_over_the_days_that_have_both():
    """Air of 20 C throughout, so 20 from the seventh day on; soil of 18, unknown and 23 then: off by +2 and -3."""
    soil = np.array([5.0] * 6 + [18.0, np.nan, 23.0])
    weather = pd.concat([days(np.zeros(9), soil=soil), days(np.zeros(9), place="Birch")])
    (row,) = error_of_air(DailyWeather.of(weather)).itertuples()
    assert (row.place, row.n_days, row.bias_c) == ("Alder", 2, pytest.approx(-0.5))
    assert row.rmse_c == pytest.approx(np.sqrt(6.5))
