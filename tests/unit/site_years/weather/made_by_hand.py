"""One place's days and one trial's window, made by hand for the tests of covariates."""

from __future__ import annotations

import numpy as np
import pandas as pd

from pipeline.settings.weather import ReleaseTest
from pipeline.simulation.weather_driven import soils
from pipeline.site_years.weather.covariates import Known
from pipeline.site_years.weather.days import DailyWeather

FIRST = pd.Timestamp("2091-05-01")
COMPARISON, TRIAL = "blend-vs-urea", "2091-A-corn"
POINTS = ((10.0, 20.0), (30.0, 50.0), (60.0, 80.0))


def days(rain, *, highest=27.0, lowest=13.0, soil=np.nan, first: pd.Timestamp = FIRST, place: str = "Alder"):
    """The days from `first` on, with this rain (mm); temperatures (C) alike for all days, or one by day."""
    dates = pd.date_range(first, periods=len(rain))
    return pd.DataFrame(
        {
            "place": place,
            "date": dates,
            "rain_mm": np.asarray(rain, float),
            "temp_max_c": highest,
            "temp_min_c": lowest,
            "soil_temp_c": soil,
        }
    )


def case(covariate: str, *, n_days: int = 30, **own) -> pd.DataFrame:
    """One trial whose window begins on FIRST."""
    usual = {
        "comparison_id": COMPARISON, "trial_id": TRIAL, "site_id": "Alder Bench", "site_year_id": "alder-2091",
        "place": "Alder",
        "season": 2091, "crop": "corn", "drainage_group": "W", "latitude": 35.3, "texture": "silt loam",
        "irrigated": False,
        "planted": FIRST, "covariate": covariate, "kind": "declared", "first_day": FIRST,
        "last_day": FIRST + pd.Timedelta(days=n_days - 1),
    }  # fmt: skip
    return pd.DataFrame([usual | own])


def release_test(**factor) -> ReleaseTest:
    return ReleaseTest(
        **{
            "product": "coated urea",
            "percent_out": POINTS,
            "q10": None,
            "activation_energy_kj_mol": None,
            "source": "made by hand",
        }
        | factor
    )


def coated(offset: float = 0.0, n_rate: float = 60.0, product: str = "coated urea") -> pd.DataFrame:
    return pd.DataFrame(
        {
            "comparison_id": [COMPARISON],
            "trial_id": [TRIAL],
            "product": [product],
            "offset_days": [offset],
            "n_rate_kg_ha": [n_rate],
        }
    )


def known(
    weather: pd.DataFrame,
    *,
    given: pd.DataFrame | None = None,
    test: ReleaseTest | None = None,
    irrigations=(),
    most_missing_days: int = 3,
) -> Known:
    return Known(
        weather=DailyWeather.of(weather),
        soils=soils(),
        irrigations=pd.DataFrame(irrigations, columns=["trial_id", "date", "irrigation_mm"]),
        coated=coated().iloc[:0] if given is None else given,
        tests={"coated urea": test} if test else {},
        most_missing_days=most_missing_days,
    )
