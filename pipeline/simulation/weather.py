"""Daily rain. Days are independent gamma draws of one scale within a stretch of the year (a gamma process), so
the total of any window is gamma too, with the sum of its days' shapes.

May-June totals are gamma with mean 8.6 in and SD 2.7 in, April-June 12.6 and 3.4 (invented region). Assumed beside
them: July has the daily rain of May and June, which sets the cotton and soybean windows; other months are invented.
"""

from __future__ import annotations

import numpy as np
import pandas as pd
from scipy import stats
from scipy.optimize import brentq
from scipy.special import digamma

from pipeline.simulation.scenario import SITES, SPI_RANGE, kind_of

REFERENCE_YEARS = (2061, 2090)
WINDOWS = {"corn": ("05-01", "06-30"), "cotton": ("05-15", "07-31"), "soybean": ("05-15", "07-15")}
SUMMER_SHAPE, SUMMER_SCALE = (
    10.15 / 61,
    0.848,
)  # per day, May to July: shape 10.15 over the 61 days of May and June
# April: 12.6 - 8.6 = 4.0 in with variance 3.4^2 - 2.7^2
APRIL_SHAPE, APRIL_SCALE = 4.0**2 / (3.4**2 - 2.7**2) / 30, (3.4**2 - 2.7**2) / 4.0
MONTH_MEAN_IN = {1: 2.6, 2: 2.5, 3: 3.5, 8: 3.6, 9: 3.2, 10: 2.9, 11: 2.8, 12: 2.7}  # INV
MOST_RAIN_IN_A_DAY_IN = 6.0  # INV, in the seasons tried
# Stretches that make up the windows: corn = first + shared, soybean = shared + third, cotton = soybean + last
STRETCHES = {
    "first": ("05-01", "05-14"),
    "shared": ("05-15", "06-30"),
    "third": ("07-01", "07-15"),
    "last": ("07-16", "07-31"),
}


def day_gamma(dates: pd.DatetimeIndex) -> tuple[np.ndarray, np.ndarray]:
    """Shape and scale (in) of each day's rain."""
    month = dates.month.to_numpy()
    mean = pd.Series(month).map(MONTH_MEAN_IN).to_numpy(float) / 30.4
    shape = np.where(month == 4, APRIL_SHAPE, np.where(np.isin(month, (5, 6, 7)), SUMMER_SHAPE, mean / SUMMER_SCALE))
    return shape, np.where(month == 4, APRIL_SCALE, SUMMER_SCALE)


def in_window(dates: pd.DatetimeIndex, window: tuple[str, str]) -> np.ndarray:
    """Which dates lie in a window of month-days, both ends included."""
    day_of_year = (dates.month * 100 + dates.day).to_numpy()  # 5 July is 705
    first, last = (int(month_day.replace("-", "")) for month_day in window)
    return (day_of_year >= first) & (day_of_year <= last)


def rain_history(rng: np.random.Generator) -> tuple[pd.DatetimeIndex, dict[str, np.ndarray]]:
    """Daily rain (in, to 0.01) of every place over the reference years."""
    dates = pd.date_range(f"{REFERENCE_YEARS[0]}-01-01", f"{REFERENCE_YEARS[1]}-12-31")
    shape, scale = day_gamma(dates)
    return dates, {site.place: rng.gamma(shape, scale).round(2) for site in SITES}


def reference_totals(dates: pd.DatetimeIndex, rain: np.ndarray) -> dict[str, np.ndarray]:
    """Window totals (in) of one place, one per reference year, by crop."""
    n_years = REFERENCE_YEARS[1] - REFERENCE_YEARS[0] + 1
    return {crop: rain[in_window(dates, window)].reshape(n_years, -1).sum(axis=1) for crop, window in WINDOWS.items()}


def total_at_spi(totals: np.ndarray, spi: float) -> float:
    """The window total (in) whose SPI is `spi`: quantile of the gamma fitted by maximum likelihood (WMO-No. 1090)."""
    log_gap = np.log(totals.mean()) - np.log(totals).mean()
    shape = brentq(lambda a: np.log(a) - digamma(a) - log_gap, 1e-3, 1e4)
    return float(stats.gamma.ppf(stats.norm.cdf(spi), shape, scale=totals.mean() / shape))


def season_classes(rng: np.random.Generator, season: int) -> dict[str, str]:
    """Rainfall class of every place in one season."""
    kind = kind_of(season)
    places = rng.permutation([site.place for site in SITES])
    return {
        str(place): kind.rainfall_class if turn < kind.class_places else "normal" for turn, place in enumerate(places)
    }


def season_rain(rng: np.random.Generator, dates: pd.DatetimeIndex, window_totals: dict[str, float]) -> np.ndarray:
    """Daily rain (in, to 0.01) of one place whose windows have the given totals (in) by crop."""
    rain = rng.gamma(*day_gamma(dates))
    corn, cotton, soybean = (window_totals[crop] for crop in ("corn", "cotton", "soybean"))
    shared = rng.uniform(0.70, 0.80) * min(corn, soybean)
    wanted = {"first": corn - shared, "shared": shared, "third": soybean - shared, "last": cotton - soybean}
    for name, total in wanted.items():
        days = in_window(dates, STRETCHES[name])
        rain[days] = _scaled(rng, dates[days], rain[days], total)
    return rain.round(2)


def _scaled(rng: np.random.Generator, dates: pd.DatetimeIndex, rain: np.ndarray, total: float) -> np.ndarray:
    """Daily rain scaled to a total; drawn again where all of it would fall on one day of a short stretch."""
    scaled = rain * total / rain.sum()
    while scaled.max() > MOST_RAIN_IN_A_DAY_IN:
        rain = rng.gamma(*day_gamma(dates))
        scaled = rain * total / rain.sum()
    return scaled


def simulate_weather(
    rng: np.random.Generator, seasons: tuple[int, ...]
) -> tuple[pd.DataFrame, pd.DataFrame, pd.DataFrame]:
    """rain_history, weather_daily (1 March to 31 October, with its season) and the class of each place x season.

    The class is made, not found: a target SPI inside the class is drawn for each place and season, and the
    daily rain is scaled so that every crop's window has that SPI against the place's own history.
    """
    history_dates, history = rain_history(rng)
    totals = {place: reference_totals(history_dates, rain) for place, rain in history.items()}
    days, classes = [], []
    for season in seasons:
        dates = pd.date_range(f"{season}-03-01", f"{season}-10-31")
        for place, rainfall_class in season_classes(rng, season).items():
            spi = rng.uniform(*SPI_RANGE[rainfall_class])
            rain = season_rain(rng, dates, {crop: total_at_spi(totals[place][crop], spi) for crop in WINDOWS})
            days.append(pd.DataFrame({"season": season, "place": place, "date": dates, "rain_in": rain}))
            classes.append((place, season, rainfall_class, spi))
    history_table = pd.DataFrame(history, index=history_dates).melt(
        ignore_index=False, var_name="place", value_name="rain_in"
    )
    history_table = history_table.rename_axis("date").reset_index()[["place", "date", "rain_in"]]
    weather = pd.concat(days, ignore_index=True).sort_values(["season", "place", "date"], ignore_index=True)
    return history_table, weather, pd.DataFrame(classes, columns=["place", "season", "rainfall_class", "spi"])
