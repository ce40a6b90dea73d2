"""A kept study: how often the interval for future seasons holds the truth where the season variance is estimated as
zero.

`python -m tests.simulated.season_zero` makes the study and writes FILE.
"""

from __future__ import annotations

from functools import cache
from pathlib import Path

import pandas as pd

FILE = Path(__file__).with_suffix(".csv")
NOT_ALIKE = "A season variance estimated as zero does not show that seasons are alike."
DIFFER = (0.25, 1.0)  # both ends included: season variance over that between site-years of a season


@cache
def kept() -> pd.DataFrame:
    """A row per layout and ratio: n_seasons, per_season (site-years), ratio, n (programs), zero_share, and coverage of
    all programs, of those with a season variance of zero (coverage_zero) and of the others (coverage_above_zero), with
    the simulation error of each.
    """
    return pd.read_csv(FILE)


def where_seasons_differ(most_seasons: int) -> pd.DataFrame:
    """The rows in which seasons differ, of layouts with no more seasons than these; 3 is the fewest simulated."""
    rows = kept()
    return rows[rows["ratio"].between(*DIFFER) & rows["n_seasons"].le(most_seasons)]
