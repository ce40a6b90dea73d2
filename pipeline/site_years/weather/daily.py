"""Day by day, for many cases at once: rain, irrigation, excess water, soil temperature and N released."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
import pandas as pd

from pipeline.site_years.weather import release, soil_warmth, soil_water
from pipeline.site_years.weather.cases import days_between
from pipeline.site_years.weather.days import COOLEST, RAIN, SOIL, WARMEST, DailyWeather

LEAD_DAYS = 30  # the water balance begins so long before the first N, with the soil at field capacity


@dataclass(frozen=True)
class Soils:
    """What soil and crop are known to hold and use: by texture mm available in 1 m; by crop its water use."""

    available_mm_per_m: Mapping[str, float]
    water_use: Mapping[str, soil_water.CropWaterUse]


@dataclass(frozen=True)
class Windows:
    """Cases cut out of the weather: arrays cases x (lead + longest window); `inside` marks the days of the window
    itself.
    """

    cases: pd.DataFrame
    lead: int
    inside: np.ndarray
    measured: Mapping[str, np.ndarray]
    irrigation: np.ndarray

    @property
    def up_to_its_end(self) -> np.ndarray:
        """The days of the lead and of the window."""
        before = np.zeros_like(self.inside)
        before[:, : self.lead] = True
        return self.inside | before

    @property
    def dates(self) -> np.ndarray:
        first = self.cases["first_day"].to_numpy("datetime64[D]")
        return first[:, None] + np.arange(-self.lead, self.inside.shape[1] - self.lead)


def cut_windows(
    cases: pd.DataFrame, weather: DailyWeather, irrigations: pd.DataFrame, *, lead: int = LEAD_DAYS
) -> Windows:
    """cases: with place, trial_id, first_day and last_day known. irrigations: trial_id, date, irrigation_mm."""
    first, last = (cases[name].to_numpy("datetime64[D]") for name in ("first_day", "last_day"))
    length = days_between(first, last)
    longest = int(length.max(initial=0))
    measured = weather.cut(cases["place"], first - np.timedelta64(lead, "D"), lead + longest)
    inside = np.zeros((len(cases), lead + longest), dtype=bool)
    inside[:, lead:] = np.arange(longest) < length[:, None]
    water = np.zeros(inside.shape)
    given = (
        cases.reset_index(drop=True)
        .reset_index(names="case")[["case", "trial_id", "first_day"]]
        .merge(irrigations, on="trial_id")
    )
    day = (pd.to_datetime(given["date"]) - pd.to_datetime(given["first_day"])).dt.days.to_numpy(int) + lead
    there = (day >= 0) & (day < inside.shape[1])
    np.add.at(water, (given["case"].to_numpy(int)[there], day[there]), given["irrigation_mm"].to_numpy(float)[there])
    return Windows(cases.reset_index(drop=True), lead, inside, measured, water)


def excess(windows: Windows, soils: Soils) -> np.ndarray:
    """Excess water (mm) by day; NaN where soil, crop, latitude, planting or a day's weather is not known."""
    cases, measured = windows.cases, windows.measured
    latitude = cases["latitude"].to_numpy(float)[:, None]
    day_of_year = (windows.dates - windows.dates.astype("datetime64[Y]")).astype(int) + 1
    reference = soil_water.reference_et(measured[WARMEST], measured[COOLEST], latitude, day_of_year)
    planted = cases["planted"].to_numpy("datetime64[D]")[:, None]
    since_planting = np.where(np.isnat(planted), np.nan, (windows.dates - planted).astype(float))
    kc, fraction = np.full(reference.shape, np.nan), np.full(len(cases), np.nan)
    for crop, use in soils.water_use.items():
        own = cases["crop"].eq(crop).to_numpy()
        kc[own] = soil_water.crop_coefficient(use, since_planting[own])
        fraction[own] = use.depletion_fraction
    available = cases["texture"].map(soils.available_mm_per_m).to_numpy(float) * soil_water.ROOT_ZONE_M
    return soil_water.excess_water(measured[RAIN] + windows.irrigation, kc * reference, available, fraction)


def soil_temperature(windows: Windows) -> tuple[np.ndarray, np.ndarray]:
    """(soil temperature in C by day, by case whether it is estimated): as measured where that has every day of the
    window.
    """
    measured = windows.measured[SOIL]
    lacks_days = (np.isnan(measured) & windows.inside).any(axis=1)
    from_air = soil_warmth.from_air(windows.measured[WARMEST], windows.measured[COOLEST])
    return np.where(lacks_days[:, None], from_air, measured), lacks_days


def released(windows: Windows, soil_c: np.ndarray, coated: pd.DataFrame, tests: Mapping[str, object]) -> np.ndarray:
    """Percent of the coated N out at the end of each day; NaN where no such N was given, or its day or a temperature is
    not known.

    coated: as cases.coated_given gives it. tests: product -> settings' ReleaseTest. The day of application counts
    whole.
    """
    out, total = np.zeros(soil_c.shape), np.zeros(len(windows.cases))
    numbered = windows.cases[["comparison_id", "trial_id"]].reset_index(names="case")
    given = numbered.merge(coated, on=["comparison_id", "trial_id"])
    for (product, offset), of_day in given.groupby(["product", "offset_days"], dropna=False):
        rows, rate = of_day["case"].to_numpy(int), of_day["n_rate_kg_ha"].to_numpy(float)
        total[rows] += rate
        if np.isnan(offset) or windows.lead + offset < 0:
            out[rows] = np.nan
            continue
        test = tests[product]
        speeds = release.speed(soil_c[rows], q10=test.q10, activation_energy_kj_mol=test.activation_energy_kj_mol)
        began = np.arange(soil_c.shape[1]) >= windows.lead + offset
        days = np.cumsum(np.where(began, speeds, 0.0), axis=1)
        out[rows] += rate[:, None] * release.percent_out(days, test.percent_out)
    with np.errstate(invalid="ignore", divide="ignore"):
        return np.where(total[:, None] > 0, out / total[:, None], np.nan)
