"""How often does the interval for seasons to come hold the truth where the season variance is estimated as zero, and
how often where it is not?

`python -m tests.simulated.season_zero [draws]` simulates balanced programs (40,000 for each row by default, seed 1) and
writes the file that the pages quote. With as many site-years in each season, each at a place of its own, with the same
error and blocks, REML has a closed form: mean squares of blocks, site-years and seasons, of which neighbors that
stand in the wrong order are pooled (Thompson 1962, Annals of Mathematical Statistics 33:273-289). The average does not
hang on the mean squares, so that the coverage given them is exact.
"""

from __future__ import annotations

import sys
from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
import pandas as pd
from scipy.special import ndtr, stdtrit

from pipeline.estimates.engines.interval_rules import CONF_LEVEL
from pipeline.simulation.season_zero import FILE

SEED, N_BLOCKS = 1, 3
N_SEASONS, PER_SEASON = (3, 4, 6, 10), (3, 8)
RATIOS = (0.0, 0.1, 0.25, 0.5, 1.0, 3.0)  # season variance over that between site-years of a season


@dataclass(frozen=True)
class MeanSquares:
    """Of block gains; arrays of one shape."""

    blocks: np.ndarray
    site_years: np.ndarray
    seasons: np.ndarray


def half_widths(squares: MeanSquares, n_seasons: int, per_season: int) -> tuple[np.ndarray, np.ndarray]:
    """(half-width of the published interval for seasons to come, whether the season variance is estimated as zero)."""
    k = n_seasons * per_season
    of_blocks, of_site_years, of_seasons = k * (N_BLOCKS - 1), n_seasons * (per_season - 1), n_seasons - 1
    is_zero = squares.seasons <= _above(squares.blocks, of_blocks, squares.site_years, of_site_years)[0]
    # without seasons, as for the seasons tested: where their variance is zero, this is the model too
    all_site_years = (squares.site_years * of_site_years + squares.seasons * of_seasons) / (k - 1)
    without, df = _above(squares.blocks, of_blocks, all_site_years, k - 1)
    tested = _half(without / (k * N_BLOCKS), np.minimum(df, k - 1))
    # the season means' own interval: that of the model where their variance is above zero, else its guard
    return np.maximum(_half(squares.seasons / (k * N_BLOCKS), of_seasons), tested), is_zero


def _above(lower: np.ndarray, lower_df: int, upper: np.ndarray, upper_df: int) -> tuple[np.ndarray, np.ndarray]:
    """The upper mean square and its df, or both pooled where it lies below the lower one."""
    pooled = (lower * lower_df + upper * upper_df) / (lower_df + upper_df)
    is_below = upper <= lower
    return np.where(is_below, pooled, upper), np.where(is_below, lower_df + upper_df, upper_df)


def _half(variance_of_mean: np.ndarray, df: np.ndarray | int) -> np.ndarray:
    return stdtrit(df, 0.5 + CONF_LEVEL / 2) * np.sqrt(variance_of_mean)


def study(n: int) -> Iterator[dict]:
    """A row for each layout and ratio: site-years whose error variance equals that between their true gains."""
    for n_seasons in N_SEASONS:
        for per_season in PER_SEASON:
            for ratio in RATIOS:
                yield simulated(n_seasons, per_season, ratio, n)


def simulated(n_seasons: int, per_season: int, ratio: float, n: int, seed: int = SEED) -> dict:
    """Coverage, over all n draws and in both halves, with Monte Carlo errors."""
    rng = np.random.default_rng([seed, n_seasons, per_season, round(100 * ratio)])
    k, expected = n_seasons * per_season, N_BLOCKS * np.array([1.0, 2.0, 2.0 + per_season * ratio])
    dfs = (k * (N_BLOCKS - 1), n_seasons * (per_season - 1), n_seasons - 1)
    squares = MeanSquares(*(size * rng.chisquare(df, n) / df for size, df in zip(expected, dfs, strict=True)))
    half, is_zero = half_widths(squares, n_seasons, per_season)
    covers = 2 * ndtr(half / np.sqrt(expected[-1] / (k * N_BLOCKS))) - 1
    row = {"n_seasons": n_seasons, "per_season": per_season, "ratio": ratio, "n": n, "zero_share": is_zero.mean()}
    for name, of in (("", covers), ("_zero", covers[is_zero]), ("_above_zero", covers[~is_zero])):
        row |= {f"coverage{name}": of.mean(), f"mc_error{name}": of.std() / np.sqrt(len(of))}
    return row


if __name__ == "__main__":
    draws = int(sys.argv[1]) if len(sys.argv) > 1 else 40_000
    pd.DataFrame(study(draws)).round(4).to_csv(FILE, index=False)
