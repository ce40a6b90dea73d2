"""Simulated rain against the climatology it should have and the class the pipeline finds in it."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest

from pipeline.simulation.weather import (
    REFERENCE_YEARS,
    WINDOWS,
    in_window,
    rain_history,
    season_rain,
    simulate_weather,
    total_at_spi,
)
from pipeline.site_years.rainfall import classify_rainfall, spi

CUT_POINTS = {
    "dry_at_or_below": -1.0,
    "wet_at_or_above": 1.0,
    "max_missing_days": 3,
    "min_reference_years": 20,
}


def window_totals(table: pd.DataFrame, crop: str) -> pd.DataFrame:
    """Rain (mm) of a crop's window by place and year, summed straight from a daily table."""
    first, last = WINDOWS[crop]
    month_day = table["date"].dt.strftime("%m-%d")
    inside = table[(month_day >= first) & (month_day <= last)]
    sums = inside.groupby(["place", inside["date"].dt.year.rename("year")])["rain_in"].agg(["sum", "size"])
    return sums.reset_index().assign(crop=crop, rain_mm=lambda t: t["sum"] * 25.4, n_days_missing=0)


@pytest.mark.parametrize("random_seed", [1, 2, 2091])
def test_the_pipeline_finds_the_intended_class_in_every_window(random_seed):
    history, weather, intended = simulate_weather(np.random.default_rng(random_seed), (2091, 2092, 2093, 2094))
    reference = pd.concat(window_totals(history, crop) for crop in WINDOWS)
    windows = pd.concat(window_totals(weather, crop) for crop in WINDOWS).rename(
        columns={"year": "season", "size": "n_days"}
    )
    windows = windows.assign(site_year_id="", window_from="", window_to="")
    found = classify_rainfall(windows, reference, cut_points=CUT_POINTS)
    both = found.merge(intended, on=["place", "season"], suffixes=("", "_meant"))
    assert len(both) == 12 * 4 * 3
    assert (both["rainfall_class"] == both["rainfall_class_meant"]).all()
    assert (both["spi"] - both["spi_meant"]).abs().max() < 0.05  # rounding of daily rain to 0.01 in


def test_seasons_are_dry_normal_wet_and_mixed():
    _, _, classes = simulate_weather(np.random.default_rng(3), (2091, 2092, 2093, 2094))
    counts = classes.groupby(["season", "rainfall_class"]).size().to_dict()
    assert counts == {
        (2091, "dry"): 10,
        (2091, "normal"): 2,
        (2092, "normal"): 12,
        (2093, "normal"): 3,
        (2093, "wet"): 9,
        (2094, "normal"): 9,
        (2094, "wet"): 3,
    }


@pytest.mark.parametrize(("window", "mean", "sd"), [(("05-01", "06-30"), 8.6, 2.7), (("04-01", "06-30"), 12.6, 3.4)])
def test_history_follows_the_climatology(window, mean, sd):
    dates, rain = rain_history(np.random.default_rng(11))
    n_years = REFERENCE_YEARS[1] - REFERENCE_YEARS[0] + 1
    days = in_window(dates, window)
    totals = np.concatenate([r[days].reshape(n_years, -1).sum(axis=1) for r in rain.values()])
    assert totals.size == 360
    # four standard errors; the SD's is near sd / sqrt(2 n) for a gamma this close to normal
    assert totals.mean() == pytest.approx(mean, abs=4 * sd / np.sqrt(360))
    assert totals.std(ddof=1) == pytest.approx(sd, abs=4 * sd / np.sqrt(720))


def test_window_total_and_spi_are_inverse():
    totals = np.random.default_rng(5).gamma(10.15, 0.848, 30)
    for index in (-1.7, -0.3, 0.8, 1.8):
        assert spi(total_at_spi(totals, index), totals) == pytest.approx(index, abs=1e-6)


def test_season_rain_meets_every_window_total():
    dates = pd.date_range("2093-03-01", "2093-10-31")
    wanted = {"corn": 12.0, "cotton": 15.5, "soybean": 12.4}
    rain = season_rain(np.random.default_rng(8), dates, wanted)
    assert (rain >= 0).all() and rain.max() <= 6
    for crop, total in wanted.items():
        assert rain[in_window(dates, WINDOWS[crop])].sum() == pytest.approx(total, abs=0.1)
