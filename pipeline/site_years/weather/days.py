"""Daily weather of places as arrays, so that many windows are cut out of it at once."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
import pandas as pd

RAIN, WARMEST, COOLEST, SOIL = "rain_mm", "temp_max_c", "temp_min_c", "soil_temp_c"
MEASURED = (RAIN, WARMEST, COOLEST, SOIL)


@dataclass(frozen=True)
class DailyWeather:
    """places: place -> its row; values: by column of MEASURED, places x days from first_day on, NaN where not known."""

    first_day: np.datetime64
    places: Mapping[str, int]
    values: Mapping[str, np.ndarray]

    @classmethod
    def of(cls, days: pd.DataFrame) -> DailyWeather:
        """days: place, date and the columns of MEASURED, one row per place and day."""
        dates = days["date"].to_numpy("datetime64[D]")
        places = {place: row for row, place in enumerate(sorted(days["place"].unique()))}
        first = dates.min() if len(dates) else np.datetime64("2000-01-01")
        n_days = int((dates.max() - first).astype(int)) + 1 if len(dates) else 0
        at = days["place"].map(places).to_numpy(int), (dates - first).astype(int)
        values = {}
        for name in MEASURED:
            values[name] = np.full((len(places), n_days), np.nan)
            values[name][at] = days[name].to_numpy(float)
        return cls(first, places, values)

    def cut(self, places: pd.Series, first_days: np.ndarray, n_days: int) -> dict[str, np.ndarray]:
        """By column of MEASURED, cases x n_days from each case's first day on; NaN at a place or on a day not
        delivered.
        """
        shape = len(first_days), n_days
        row = places.map(self.places).to_numpy(float)
        day = (first_days.astype("datetime64[D]") - self.first_day).astype(int)[:, None] + np.arange(n_days)
        length = self.values[RAIN].shape[1]
        there = ~np.isnan(row)[:, None] & (day >= 0) & (day < length)
        if not there.any():
            return {name: np.full(shape, np.nan) for name in MEASURED}
        rows = np.broadcast_to(np.nan_to_num(row).astype(int)[:, None], shape)
        inside = np.clip(day, 0, length - 1)
        return {name: np.where(there, self.values[name][rows, inside], np.nan) for name in MEASURED}
