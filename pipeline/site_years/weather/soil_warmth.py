"""Daily soil temperature: as measured, else estimated from the air by a trailing mean."""

from __future__ import annotations

import numpy as np
import pandas as pd

from pipeline.contract.results import frame_of
from pipeline.site_years.weather.days import COOLEST, SOIL, WARMEST, DailyWeather

TRAILING_DAYS = (
    7  # soil at 4 in (10 cm) follows the air of about a week (common practice, no source); the error is told
)


def from_air(warmest: np.ndarray, coolest: np.ndarray) -> np.ndarray:
    """Mean air temperature of the day and the 6 before it, cases x days; NaN until 7 known days are together."""
    mean = (warmest + coolest) / 2
    trailing = np.full_like(mean, np.nan)
    if mean.shape[1] >= TRAILING_DAYS:
        windows = np.lib.stride_tricks.sliding_window_view(mean, TRAILING_DAYS, axis=1)
        trailing[:, TRAILING_DAYS - 1 :] = windows.mean(axis=2)
    return trailing


def error_of_air(weather: DailyWeather) -> pd.DataFrame:
    """How far the estimate is off where soil was measured too, columns of soil_from_air; one row per such place."""
    rows = []
    for place, row in weather.places.items():
        soil, warmest, coolest = (weather.values[name][row : row + 1] for name in (SOIL, WARMEST, COOLEST))
        off = (from_air(warmest, coolest) - soil).ravel()
        off = off[~np.isnan(off)]
        if off.size:
            rows.append(
                {
                    "place": place,
                    "n_days": off.size,
                    "bias_c": float(off.mean()),
                    "rmse_c": float(np.sqrt((off**2).mean())),
                }
            )
    return frame_of(rows, "soil_from_air")
