"""Daily weather of places as arrays, so that many windows are cut out of it at once."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
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
        places = sorted(days["place"].unique())
        dates = days["date"].to_numpy("datetime64[D]")
        first = dates.min() if len(dates) else np.datetime64("2000-01-01")
        row = days["place"].map({place: row for row, place in enumerate(places)})
        batch = {"row": row, "day": (dates - first).astype(int)} | {name: days[name] for name in MEASURED}
        n_days = int(batch["day"].max()) + 1 if len(dates) else 0
        return cls.gathered(first, n_days, places, [batch])

    @classmethod
    def gathered(
        cls, first_day: np.datetime64, n_days: int, places: Sequence[str], batches: Iterable[Mapping[str, np.ndarray]]
    ) -> DailyWeather:
        """From batches of row (of the place), day (0 is the first) and the columns of MEASURED: they never stand in
        memory all at once.
        """
        unknown = np.broadcast_to(np.nan, (len(places), n_days))
        values = dict.fromkeys(MEASURED, unknown)
        for batch in batches:
            at = np.asarray(batch["row"], int), np.asarray(batch["day"], int)
            for name in MEASURED:
                found = np.asarray(batch[name], float)
                if values[name] is unknown and not np.isnan(found).all():
                    values[name] = np.full(unknown.shape, np.nan)  # what nobody measures takes no room
                if values[name] is not unknown:
                    values[name][at] = found
        return cls(first_day, {place: row for row, place in enumerate(places)}, values)

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
