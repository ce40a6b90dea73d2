"""The daily water balance of the root zone by FAO-56: what crops use, what the soil holds, and the excess.

Allen, Pereira, Raes & Smith 1998, Crop evapotranspiration, FAO Irrigation and drainage paper 56: reference
evapotranspiration from temperatures (Hargreaves, eq. 52), a single crop coefficient (eqs. 58 and 66), less use from dry
soil (eq. 84), the balance (eqs. 85 and 88). Runoff and capillary rise are not known and left out. Excess water is
water, not nitrogen lost.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from refet import calcs

ROOT_ZONE_M = 0.6  # 24 in: where most early N and roots are (common practice, no source)
MJ_TO_MM = 0.408  # FAO-56 eq. 20: mm of water evaporated by 1 MJ per m2


@dataclass(frozen=True)
class CropWaterUse:
    """Single crop coefficients, the days of the four stages from planting on, and the share of available water taken
    unhindered.
    """

    kc_initial: float
    kc_mid: float
    kc_end: float
    initial_days: float
    development_days: float
    mid_days: float
    late_days: float
    depletion_fraction: float


def reference_et(warmest: np.ndarray, coolest: np.ndarray, latitude: np.ndarray, day_of_year: np.ndarray) -> np.ndarray:
    """Reference evapotranspiration (mm/day) from the day's temperatures (C), latitude (degrees, north above 0) and day
    of the year.

    0.0023 (mean + 17.8) (highest - lowest)^0.5 Ra, Ra as water (FAO-56 eq. 52); never below zero. Arrays of one shape,
    or that broadcast; NaN where one is not known.
    """
    radiation = calcs.ra_daily(lat=np.radians(latitude), doy=day_of_year, method="asce") * MJ_TO_MM
    mean = (warmest + coolest) / 2
    with np.errstate(invalid="ignore"):
        return np.maximum(0.0023 * (mean + 17.8) * np.sqrt(warmest - coolest) * radiation, 0.0)


def crop_coefficient(use: CropWaterUse, days_from_planting: np.ndarray) -> np.ndarray:
    """Kc by day: bare soil before planting, then initial, development (a straight line), mid-season, and late (a
    straight line).
    """
    ends = np.cumsum([use.initial_days, use.development_days, use.mid_days, use.late_days])
    return np.interp(days_from_planting, ends, [use.kc_initial, use.kc_mid, use.kc_mid, use.kc_end])


def excess_water(
    water: np.ndarray, crop_et: np.ndarray, available_mm: np.ndarray, depletion_fraction: np.ndarray
) -> np.ndarray:
    """Water that the root zone could not hold, mm by day; cases x days.

    water: rain and irrigation, mm. crop_et: what the crop uses unhindered, mm. available_mm: what the root zone holds
    between field capacity and wilting point, by case. The soil is at field capacity before the first day. A day whose
    water or use is not known makes all from then on unknown.
    """
    excess = np.empty_like(water)
    depleted = np.zeros(len(water))
    for day in range(water.shape[1]):
        hindered = (available_mm - depleted) / ((1 - depletion_fraction) * available_mm)
        depleted = depleted - water[:, day] + crop_et[:, day] * np.clip(hindered, 0, 1)
        excess[:, day] = np.maximum(-depleted, 0)
        depleted = np.clip(depleted, 0, available_mm)
    return excess
