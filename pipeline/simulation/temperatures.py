"""Daily temperatures beside the rain, and irrigation. All invented: a warm, humid lowland at about 35 degrees north."""

from __future__ import annotations

import numpy as np
import pandas as pd

from pipeline.simulation.scenario import CROPS, POSITIONS, SITE_NAMED, SITES

MEAN_F, SWING_F, WARMEST_DAY = 60.0, 21.0, 202  # INV: of the year's mean, of the half year's swing, and 21 July
F_PER_DEGREE_NORTH, MIDDLE_LATITUDE = -1.5, 35.3  # INV
SD_OF_A_YEAR_F, SD_OF_A_DAY_F, PERSISTENCE = 1.2, 5.0, 0.7  # INV: by place and year; by day, like the day before
DRY_RANGE_F, WET_RANGE_F = 23.0, 15.0  # INV: highest less lowest of a day
SOIL_MEMORY, SOIL_NOISE_F, SOIL_WARMER_F = 0.80, 0.8, 1.0  # INV: 4 in deep, under a crop that is not closed yet
SOIL_MEASURED_AT = tuple(site.place for site in SITES[::2])
IRRIGATION_IN, FIRST_IRRIGATION_DAY, LAST_IRRIGATION_DAY, EACH_DAYS = (0.8, 1.2), 35, 98, 7  # INV: days after planting


def with_temperatures(rng: np.random.Generator, rain: pd.DataFrame, *, has_soil: bool = False) -> pd.DataFrame:
    """The rain table (place, date, rain_in) with temp_max_f and temp_min_f, whole degrees; with soil_temp_f where a
    place measures it.
    """
    parts = [_of_stretch(rng, days, has_soil) for _, days in rain.groupby(["place", rain["date"].dt.year], sort=True)]
    return pd.concat(parts).loc[rain.index]


def _of_stretch(rng: np.random.Generator, days: pd.DataFrame, has_soil: bool) -> pd.DataFrame:
    """One place and year, its days in order."""
    place, n = days["place"].iloc[0], len(days)
    of_year = days["date"].dt.dayofyear.to_numpy()
    north = POSITIONS[place][0] - MIDDLE_LATITUDE
    usual = MEAN_F + F_PER_DEGREE_NORTH * north + SWING_F * np.cos(2 * np.pi * (of_year - WARMEST_DAY) / 365.25)
    shocks = SD_OF_A_DAY_F * np.sqrt(1 - PERSISTENCE**2) * rng.standard_normal(n)
    mean = usual + SD_OF_A_YEAR_F * rng.standard_normal() + _trailing(shocks, PERSISTENCE, 1.0)
    spread = np.where(days["rain_in"].to_numpy() >= 0.1, WET_RANGE_F, DRY_RANGE_F) * rng.uniform(0.7, 1.3, n)
    found = days.assign(temp_max_f=(mean + spread / 2).round(), temp_min_f=(mean - spread / 2).round())
    if not has_soil:
        return found
    soil = SOIL_WARMER_F + mean[0] + _trailing(mean - mean[0], SOIL_MEMORY, 1 - SOIL_MEMORY)
    noisy = (soil + SOIL_NOISE_F * rng.standard_normal(n)).round(1)
    return found.assign(soil_temp_f=noisy if place in SOIL_MEASURED_AT else np.nan)


def _trailing(values: np.ndarray, kept: float, added: float) -> np.ndarray:
    """Each day what is kept of the day before, and what is added of its own."""
    found = np.empty(len(values))
    level = 0.0
    for i, value in enumerate(values):
        level = kept * level + added * value
        found[i] = level
    return found


def irrigations_table(rng: np.random.Generator, trials: pd.DataFrame) -> pd.DataFrame:
    """What the irrigated trials were given: trial_id, date, irrigation_in."""
    rows = []
    for trial in trials.itertuples():
        if SITE_NAMED[trial.site_id].irrigated == "yes" and trial.crop in CROPS:
            for day in range(FIRST_IRRIGATION_DAY, LAST_IRRIGATION_DAY, EACH_DAYS):
                date = trial.planted + pd.Timedelta(days=day)
                rows.append((trial.trial_id, date, round(rng.uniform(*IRRIGATION_IN), 2)))
    return pd.DataFrame(rows, columns=["trial_id", "date", "irrigation_in"])
