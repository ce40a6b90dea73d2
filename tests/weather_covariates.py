"""Site-years with a weather covariate, for tests of the slopes: from drawn arrays, or from R's rows."""

from __future__ import annotations

import numpy as np
import pandas as pd

from pipeline.contract.vocabulary import DECLARED, RAIN_AFTER
from pipeline.estimates.where.weather_values import Values, values_of


def frames(
    gains: np.ndarray, seasons: np.ndarray, places: np.ndarray | None = None, *, noise: float = 1.0, seed: int = 1
) -> tuple[pd.DataFrame, pd.DataFrame]:
    """Site-years with these true gains and 4 blocks each, whose error has this standard deviation."""
    n = len(gains)
    places = np.arange(n) if places is None else places
    site_years = pd.DataFrame(
        {
            "comparison_id": "c",
            "site_year_id": [f"s{i:02d}" for i in range(n)],
            "place": [f"p{p}" for p in places],
            "season": np.asarray(seasons),
            "drainage_group": ["WP"[p % 2] for p in places],
            "n_trials": 1,
            "std_error": noise / 2,
        }
    )
    blocks = site_years.loc[np.repeat(np.arange(n), 4)].reset_index(drop=True)
    blocks = blocks.assign(trial_id=blocks["site_year_id"], variance=noise**2)
    blocks["gain"] = np.repeat(gains, 4) + np.random.default_rng(seed).normal(0, noise, 4 * n)
    return site_years.assign(gain=blocks.groupby("site_year_id")["gain"].mean().to_numpy()), blocks


def covariate(site_years: pd.DataFrame, x: np.ndarray, name: str = RAIN_AFTER, kind: str = DECLARED) -> pd.DataFrame:
    """Rows of trials.weather_covariates, as far as the estimates read them."""
    return site_years[["comparison_id", "site_year_id"]].assign(covariate=name, kind=kind, value=x, unit="mm")


def values(x: np.ndarray, gains: np.ndarray, seasons: np.ndarray, places: np.ndarray | None = None, **told) -> Values:
    site_years, blocks = frames(gains, seasons, places, **told)
    return next(values_of(covariate(site_years, x), site_years, blocks))


def of_rows(rows: pd.DataFrame) -> Values:
    """Block gains of one trial per site-year, with x: as R's answers have them."""
    blocks = rows.assign(comparison_id="c", trial_id=rows["site_year_id"])
    by_site_year = blocks.groupby(["comparison_id", "site_year_id", "place", "season", "x"], as_index=False)
    site_years = by_site_year.agg(
        gain=("gain", "mean"), std_error=("variance", lambda v: np.sqrt(v.iloc[0] / len(v)))
    ).assign(n_trials=1)
    return next(values_of(covariate(site_years, site_years["x"].to_numpy()), site_years, blocks))
