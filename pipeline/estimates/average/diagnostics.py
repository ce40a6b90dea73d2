"""What lies behind a normal-theory interval: are site-year gains, and block gains within trials, roughly normal.

Quantiles are plotted at the positions (i - 3/8) / (n + 1/4) of Blom 1958, Statistical Estimates and Transformed
Beta-Variables, ch. 6 (from memory; scipy.stats and R's ppoints use close relatives).
"""

from __future__ import annotations

import numpy as np
import pandas as pd
from scipy import stats

from pipeline.contract.results import frame_of
from pipeline.contract.vocabulary import TESTED
from pipeline.estimates.engines.interval_rules import TWO_STAGE

SITE_YEAR, BLOCK = "site-year gain", "block gain"


def normal_quantiles(values: np.ndarray) -> np.ndarray:
    """The standard normal quantile expected at each value's rank; shape (n,)."""
    ranks = stats.rankdata(values, method="ordinal")
    return stats.norm.ppf((ranks - 0.375) / (len(values) + 0.25))


def diagnostics(
    pooled_gains: pd.DataFrame, site_year_gains: pd.DataFrame, block_gains: pd.DataFrame, trials: pd.DataFrame
) -> pd.DataFrame:
    """One row per comparison and pooled site-year, and per block of its trials; columns of diagnostics.

    residual (unit of the gains): a site-year's gain less the headline for the seasons tested, or a block's gain less
    its trial's mean gain. standardized: divided by what it is expected to scatter by (NaN where that is not known or
    zero); the spread between site-years is the headline's own, or that of the two-stage average if it has none.
    """
    found = []
    tested = pooled_gains[pooled_gains["moderator"].eq("all") & pooled_gains["target"].eq(TESTED)]
    two_stage = tested[tested["method"].eq(TWO_STAGE)].set_index("comparison_id")["tau2"]
    for row in tested[tested["is_headline"] & tested["estimate"].notna()].itertuples():
        used = site_year_gains[(site_year_gains["comparison_id"] == row.comparison_id) & site_year_gains["is_pooled"]]
        tau2 = two_stage.get(row.comparison_id) if pd.isna(row.tau2) else row.tau2
        found.append(_of_site_years(used, row.estimate, tau2))
        placed = trials.loc[trials["site_year_id"].isin(used["site_year_id"]), ["trial_id", "site_year_id"]]
        found.append(
            _of_blocks(block_gains[block_gains["comparison_id"] == row.comparison_id].merge(placed, on="trial_id"))
        )
    return frame_of(pd.concat(found, ignore_index=True) if found else [], "diagnostics")


def _of_site_years(used: pd.DataFrame, average: float, tau2: float | None) -> pd.DataFrame:
    residual = used["gain"] - average
    spread = np.sqrt(used["std_error"] ** 2 + (0.0 if pd.isna(tau2) else float(tau2)))
    return _with_quantiles(
        used[["comparison_id", "site_year_id"]].assign(
            kind=SITE_YEAR, trial_id=None, block=None, residual=residual, standardized=_over(residual, spread)
        )
    )


def _of_blocks(blocks: pd.DataFrame) -> pd.DataFrame:
    """A block's gain less its trial's mean has the variance of a block gain times (1 - 1/n)."""
    by_trial = blocks.groupby("trial_id")["gain"]
    n_blocks = by_trial.transform("size")
    blocks = blocks.assign(residual=blocks["gain"] - by_trial.transform("mean"))[n_blocks > 1]
    spread = np.sqrt(blocks["variance"] * (1 - 1 / n_blocks[n_blocks > 1]))
    kept = blocks[["comparison_id", "site_year_id", "trial_id", "block", "residual"]]
    return _with_quantiles(kept.assign(kind=BLOCK, standardized=_over(blocks["residual"], spread)))


def _over(residual: pd.Series, spread: pd.Series) -> pd.Series:
    """residual / spread; NaN without a spread: plots of equal yield have an error of zero, which is none to go by."""
    return residual / spread.where(spread > 0)


def _with_quantiles(frame: pd.DataFrame) -> pd.DataFrame:
    known = frame["standardized"].notna()
    quantiles = pd.Series(np.nan, index=frame.index)
    quantiles[known] = normal_quantiles(frame.loc[known, "standardized"].to_numpy(float))
    return frame.assign(normal_quantile=quantiles)
