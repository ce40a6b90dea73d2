"""How the site-years' own optima fall: counts by flag, and the mean of those that were found."""

from __future__ import annotations

import pandas as pd

from pipeline.contract.results import frame_of
from pipeline.estimates.n_response import optimum as opt
from pipeline.estimates.n_response.clusters import mean_interval


def site_year_optima(of_trials: pd.DataFrame) -> pd.DataFrame:
    """One row per crop, family and model, from the trial rows of n_response, which have their `cluster`.

    The mean leaves out every ladder whose optimum was not found (no response, beyond the highest rate), so
    it is no average over all site-years; the counts say how many it leaves out.
    """
    rows = []
    for (crop, family, model), found in of_trials.groupby(["crop", "family", "model"], sort=True):
        first = found.iloc[0]
        row = {"crop": crop, "family": family, "model": model, "n_ladders": len(found)}
        row |= {"price_ratio": first["price_ratio"], "conf_level": first["conf_level"]}
        rows.append(row | _counts(found["flag"]) | _mean(found, "aonr") | _mean(found, "eonr"))
    return frame_of(rows, "site_year_optima")


def _counts(flags: pd.Series) -> dict[str, int]:
    return {
        "n_found": flags.eq(opt.FOUND).sum(),
        "n_no_response": flags.eq(opt.NO_RESPONSE).sum(),
        "n_negative_response": flags.eq(opt.NEGATIVE).sum(),
        "n_beyond_highest_rate": flags.eq(opt.BEYOND).sum(),
        "n_below_two_rates": flags.eq(opt.BELOW).sum(),
        "n_not_fitted": flags.isin(opt.NOT_FITTED).sum(),
    }


def _mean(found: pd.DataFrame, rate: str) -> dict[str, float | None]:
    """Mean over site-years (two ladders of one are averaged first) with its t interval."""
    mean = mean_interval(found, rate, found["conf_level"].iloc[0])
    row = {f"n_{rate}": mean.get("n_site_years", 0), f"mean_{rate}": mean.get("estimate")}
    return row | {f"{rate}_low": mean.get("conf_low"), f"{rate}_high": mean.get("conf_high")}
