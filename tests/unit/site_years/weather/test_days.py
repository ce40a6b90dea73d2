"""Daily weather as arrays, put together in batches."""

from __future__ import annotations

import numpy as np
import pandas as pd

from pipeline.site_years.weather.days import COOLEST, MEASURED, RAIN, SOIL, WARMEST, DailyWeather

DAYS = pd.DataFrame(
    [
        ("Birch", "2091-05-01", 1.0, 20.0, 10.0),
        ("Alder", "2091-05-03", 2.0, np.nan, np.nan),
        ("Alder", "2091-05-01", np.nan, 25.0, 12.0),
    ],
    columns=["place", "date", RAIN, WARMEST, COOLEST],
).assign(date=lambda days: pd.to_datetime(days["date"]), **{SOIL: np.nan})


def test_a_value_stands_at_its_place_and_day():
    found = DailyWeather.of(DAYS)
    assert (found.first_day, found.places) == (np.datetime64("2091-05-01"), {"Alder": 0, "Birch": 1})
    np.testing.assert_array_equal(found.values[RAIN], [[np.nan, np.nan, 2.0], [1.0, np.nan, np.nan]])
    np.testing.assert_array_equal(found.values[WARMEST], [[25.0, np.nan, np.nan], [20.0, np.nan, np.nan]])


def test_batches_make_the_same_as_all_days_at_once():
    whole = DailyWeather.of(DAYS)
    rows = {"row": np.array([1, 0, 0]), "day": np.array([0, 2, 0])} | {name: DAYS[name].to_numpy() for name in MEASURED}
    batches = [{name: values[[n]] for name, values in rows.items()} for n in range(3)]
    found = DailyWeather.gathered(whole.first_day, 3, ["Alder", "Birch"], batches)
    assert (found.first_day, found.places) == (whole.first_day, whole.places)
    for name in MEASURED:
        np.testing.assert_array_equal(found.values[name], whole.values[name])


def test_what_nobody_measured_takes_no_room_and_is_not_known():
    found = DailyWeather.of(DAYS)
    assert found.values[SOIL].shape == (2, 3) and found.values[SOIL].strides == (0, 0)
    cut = found.cut(pd.Series(["Birch", "Cedar"]), np.array(["2091-05-01"] * 2, "datetime64[D]"), 2)
    assert np.isnan(cut[SOIL]).all() and cut[SOIL].shape == (2, 2)
    np.testing.assert_array_equal(cut[RAIN], [[1.0, np.nan], [np.nan, np.nan]])


def test_without_a_day_there_is_no_place():
    found = DailyWeather.of(DAYS.iloc[:0])
    assert found.places == {} and found.values[RAIN].shape == (0, 0)
