"""Weather covariates of many site-years and of their reference years, and how the time grows. Nothing is asserted.

    python -m tests.benchmarks.weather [site-years]

Each site-year has a site of its own at one of a few places, and 30 reference years. The goal: 1,000 in under 20 s on 2
cores.
"""

from __future__ import annotations

import os
import sys

import numpy as np
import pandas as pd

from pipeline.contract.vocabulary import COVARIATES
from pipeline.settings.weather import ReleaseTest
from pipeline.simulation.temperatures import with_temperatures
from pipeline.simulation.weather import REFERENCE_YEARS, day_gamma
from pipeline.simulation.weather_driven import metric, soils
from pipeline.site_years.weather import by_site_year, cases
from pipeline.site_years.weather.covariates import Known, worked_out
from pipeline.site_years.weather.days import DailyWeather

SITE_YEARS, PLACES, SEASON = 1_000, 12, 2091
TEST = ReleaseTest("coated urea", ((7, 8), (30, 45), (60, 77)), 2.0, None, "invented")


def cpu_seconds() -> float:
    times = os.times()
    return times.user + times.system


def daily_weather(rng: np.random.Generator, places: list[str]) -> pd.DataFrame:
    dates = pd.date_range(f"{REFERENCE_YEARS[0]}-01-01", f"{SEASON}-12-31")
    rain = pd.concat(
        pd.DataFrame({"place": place, "date": dates, "rain_in": rng.gamma(*day_gamma(dates))}) for place in places
    )
    rain = rain.reset_index(drop=True)
    return metric(with_temperatures(rng, rain).assign(soil_temp_f=np.nan))


def trial_cases(rng: np.random.Generator, n: int, places: list[str]) -> pd.DataFrame:
    planted = pd.Timestamp(f"{SEASON}-05-02") + pd.to_timedelta(rng.integers(-5, 6, n), unit="D")
    trials = pd.DataFrame(
        {
            "comparison_id": "blend-vs-urea",
            "trial_id": [f"t{i}" for i in range(n)],
            "site_id": [f"s{i}" for i in range(n)],
            "site_year_id": [f"y{i}" for i in range(n)],
            "place": np.resize(places, n),
            "season": SEASON,
            "crop": "corn",
            "drainage_group": "W",
            "latitude": 35.3,
            "texture": "silt loam",
            "irrigated": False,
            "planted": planted,
            "first_day": planted,
            "last_day": planted + pd.Timedelta(days=59),
            "kind": "exploratory",
        }
    )
    return trials.merge(pd.DataFrame({"covariate": COVARIATES}), how="cross")


def measured(n: int) -> tuple[float, int]:
    """(CPU seconds of the covariates of n site-years and their reference years, rows found)."""
    from pipeline.simulation.scenario import SITES

    rng = np.random.default_rng(n)
    places = [site.place for site in SITES][:PLACES]
    days = daily_weather(rng, places)
    of_trials = trial_cases(rng, n, places)
    coated = (
        of_trials[["comparison_id", "trial_id"]]
        .drop_duplicates()
        .assign(product="coated urea", offset_days=0.0, n_rate_kg_ha=60.0)
    )
    start = cpu_seconds()
    known = Known(
        DailyWeather.of(days),
        soils(),
        pd.DataFrame(columns=["trial_id", "date", "irrigation_mm"]),
        coated,
        {"coated urea": TEST},
        3,
    )
    found = by_site_year.by_site_year(worked_out(of_trials, known))
    of_years = by_site_year.by_reference_year(worked_out(cases.reference_cases(of_trials, *REFERENCE_YEARS), known))
    return cpu_seconds() - start, len(found) + len(of_years)


def main(n: int = SITE_YEARS) -> None:
    small, _ = measured(n // 4)
    seconds, rows = measured(n)
    print(f"weather covariates of {n:,} site-years, 30 reference years each   {seconds:8.2f} s of CPU, {rows:,} rows")
    print(f"that over a quarter of them                               {seconds / small:8.1f} x")


if __name__ == "__main__":
    main(*map(int, sys.argv[1:]))
