"""The rate with the highest mean net return over all site-years, and the rates that come close to it.

Every site-year's own primary curve is used as fitted, whether or not it answers to N, so that no test tilts
the average. Averaging net returns over site-years rather than optima, and giving the rates within $1/ac of
the highest, is the practice of Iowa State and Ohio State University Extension.

Where site-years stop at different rates, each step up from one rate to the next is averaged over the
site-years that tested the higher one, and the steps are added up: no curve is extrapolated, and the mean does
not jump where poorer or richer site-years drop out. Within the rates that all tested it is the plain mean.
"""

from __future__ import annotations

from itertools import groupby

import numpy as np
import pandas as pd
from scipy import stats

from pipeline.estimates.columns import frame_of, joined
from pipeline.estimates.n_response.columns import NET_RETURN_BY_RATE
from pipeline.estimates.n_response.curves import PRIMARY
from pipeline.estimates.n_response.trial_curves import FittedLadder

STEP_KG_HA = 1.0
FEWEST_SITE_YEARS = 3
SAME_KG_HA = 1e-6  # what a conversion of units may leave
AT_TOP = "highest at the top of the rates tested"
NOT_ALL = "only {} of {} site-years tested the rate of the highest net return"


def net_returns(
    ladders: list[FittedLadder],
    ratio_of: dict[tuple[str, str], float],
    near_of: dict[tuple[str, str], float],
    *,
    conf_level: float,
) -> pd.DataFrame:
    """Columns NET_RETURN_BY_RATE: the rows of every crop and family that has a price ratio, kg of yield per kg of N."""
    rows = []
    for key, of_family in groupby(ladders, key=lambda ladder: (ladder.key["crop"], ladder.key["family"])):
        if key in ratio_of:
            rows += net_return_rows(list(of_family), ratio_of[key], near_of.get(key), conf_level=conf_level)
    found = frame_of(rows, NET_RETURN_BY_RATE)
    tops = found.groupby(["crop", "family"])["n_rate_kg_ha"].max().groupby("crop").min()
    return found.assign(is_tested_by_all_sources=found["n_rate_kg_ha"] <= found["crop"].map(tops) + SAME_KG_HA)


def net_return_rows(
    ladders: list[FittedLadder], price_ratio: float, near_highest: float | None, *, conf_level: float
) -> list[dict]:
    """Rows for one crop and family: mean net return over zero-N at each rate, in kg/ha of yield.

    Net return is the yield above zero-N less price_ratio x rate. Rates go up to the highest that 3 site-years
    tested; n_site_years says how many tested each. near_highest is the yield worth $1/ac, kg/ha: rates within
    it are marked near; None marks none. No row with fewer than 3 site-years.
    """
    fitted = sorted((ladder for ladder in ladders if ladder.curves), key=_site_year)
    by_site_year = [list(of_one) for _, of_one in groupby(fitted, key=_site_year)]
    if len(by_site_year) < FEWEST_SITE_YEARS:
        return []
    tops = np.array([min(float(ladder.rates.max()) for ladder in of_one) for of_one in by_site_year])
    rates = _rates(tops)
    returns = np.array(
        [np.mean([_return(one, rates, price_ratio) for one in of_one], axis=0) for of_one in by_site_year]
    )
    mean, error, k = _mean_over_site_years(returns, rates <= tops[:, None] + SAME_KG_HA)
    half = stats.t.ppf((1 + conf_level) / 2, k - 1) * error
    is_highest = np.arange(len(rates)) == np.argmax(mean)
    not_all = NOT_ALL.format(k[is_highest][0], len(tops)) if k[is_highest][0] < len(tops) else ""
    key = {name: fitted[0].key[name] for name in ("crop", "family")} | {
        "price_ratio": price_ratio,
        "conf_level": conf_level,
    }
    key |= {"warnings": joined([AT_TOP if is_highest[-1] else "", not_all]), "near_highest_kg_ha": near_highest}
    return [
        key
        | {
            "n_rate_kg_ha": rate, "net_return_kg_ha": mean[i], "std_error": error[i],
            "conf_low": mean[i] - half[i], "conf_high": mean[i] + half[i], "is_highest": bool(is_highest[i]),
            "is_near_highest": None if near_highest is None else bool(mean[i] >= mean.max() - near_highest),
            "n_site_years": k[i],
        }
        for i, rate in enumerate(rates)
    ]  # fmt: skip


def _rates(tops: np.ndarray) -> np.ndarray:
    """Every kg/ha up to the highest rate that enough site-years tested, and each rate at which one stops."""
    top = np.sort(tops)[-FEWEST_SITE_YEARS]
    rates = np.unique(np.concatenate([np.arange(0.0, top, STEP_KG_HA), tops[tops <= top]]))
    return rates[np.append(np.diff(rates) > SAME_KG_HA, True)]


def _mean_over_site_years(returns: np.ndarray, is_tested: np.ndarray) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Mean, its standard error and the number of site-years at each rate; returns and is_tested (K, R).

    The error adds up each site-year's share in the mean's deviation; where all were tested it is SD / sqrt(K).
    """
    k = is_tested.sum(axis=0)
    steps = np.where(is_tested, np.diff(returns, axis=1, prepend=0.0), 0.0)
    mean_step = steps.sum(axis=0) / k
    deviation = np.cumsum(np.where(is_tested, steps - mean_step, 0.0) / k, axis=1)
    return np.cumsum(mean_step), np.sqrt((deviation**2).sum(axis=0) * k / (k - 1)), k


def _site_year(ladder: FittedLadder) -> str:
    return str(ladder.key["site_year_id"])


def _return(ladder: FittedLadder, rates: np.ndarray, price_ratio: float) -> np.ndarray:
    curve = ladder.curves[PRIMARY]
    return curve.yield_at(rates) - curve.a - price_ratio * rates
