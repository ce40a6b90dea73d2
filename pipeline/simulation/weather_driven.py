"""Gains that follow excess water with known slopes, for programs that must give the slopes back."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np
import pandas as pd

from pipeline.contract.units import MM_PER_INCH, UNITS
from pipeline.contract.vocabulary import EXCESS_WATER
from pipeline.contract.words import reference_column, reference_words
from pipeline.site_years.weather import daily
from pipeline.site_years.weather.days import MEASURED, DailyWeather
from pipeline.site_years.weather.soil_water import CropWaterUse
from pipeline.site_years.weather.windows import USUAL_DAYS

GAIN_WITHOUT_EXCESS = 1.0  # INV, in the crop's yield unit


def soils() -> daily.Soils:
    """The hand-kept soils and crops, as the pipeline's own step reads them from the warehouse."""
    names = [name for name in CropWaterUse.__dataclass_fields__]
    columns = {name: reference_column("crop_water_use", name) for name in names}
    uses = {
        crop: CropWaterUse(**{name: float(columns[name][crop]) for name in names})
        for crop in reference_words("crop_water_use")
    }
    available = {word: float(mm) for word, mm in reference_column("textures", "available_mm_per_m").items()}
    return daily.Soils(available, uses)


def excess_inches(trials: pd.DataFrame, tables: Mapping[str, pd.DataFrame]) -> pd.Series:
    """Excess water (in) of each trial over the usual days from planting on, when its first N goes out.

    trials: trial_id, place, season, site_id, crop, planted. tables: sites, weather_daily and irrigations as delivered.
    """
    days = USUAL_DAYS[EXCESS_WATER]
    sites = tables["sites"].set_index("site_id")[["latitude", "texture"]]
    cases = trials.join(sites, on="site_id").assign(
        first_day=trials["planted"], last_day=trials["planted"] + pd.Timedelta(days=days - 1)
    )
    water = tables["irrigations"].assign(irrigation_mm=lambda t: t["irrigation_in"] * MM_PER_INCH)
    windows = daily.cut_windows(cases, DailyWeather.of(metric(tables["weather_daily"])), water)
    excess = np.where(windows.inside, daily.excess(windows, soils()), 0.0).sum(axis=1)
    return pd.Series(excess / MM_PER_INCH, index=trials.index)


def metric(weather: pd.DataFrame) -> pd.DataFrame:
    """Delivered weather in US units with the stored columns beside: rain_mm, temp_max_c, temp_min_c, soil_temp_c."""
    to_c = UNITS["f"]
    celsius = {
        name: weather[name.replace("_c", "_f")] * to_c.factor + to_c.offset for name in MEASURED if name.endswith("_c")
    }
    return weather.assign(rain_mm=weather["rain_in"] * MM_PER_INCH, **celsius)


def following_excess(site_years: pd.DataFrame, excess: pd.Series, slope_by_group: Mapping[str, float]) -> pd.DataFrame:
    """The site-years with gains over urea once that follow excess water, each with its own deviation as before.

    slope_by_group: yield units per inch, by drainage group. Adds excess_in.
    """
    expected = GAIN_WITHOUT_EXCESS + site_years["drainage_group"].map(slope_by_group) * excess
    deviation = site_years["gain_over_urea_once"] - site_years["cell_gain_over_urea_once"]
    return site_years.assign(
        excess_in=excess, cell_gain_over_urea_once=expected, gain_over_urea_once=expected + deviation
    )
