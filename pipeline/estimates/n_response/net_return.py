"""The rate with the highest mean net return over all site-years, and the rates that come close to it.

Every site-year's own primary curve is used as fitted, whether or not it answers to N, so that no test tilts
the average. Averaging net returns over site-years rather than optima, and giving the rates within $1/ac of
the highest, is the practice of Iowa State and Ohio State University Extension.
"""

from __future__ import annotations

from itertools import groupby

import numpy as np
from scipy import stats

from pipeline.estimates.n_response.curves import PRIMARY
from pipeline.estimates.n_response.trial_curves import FittedLadder

STEP_KG_HA = 1.0
FEWEST_SITE_YEARS = 3


def net_return_rows(
    ladders: list[FittedLadder], price_ratio: float, near_highest: float | None, *, conf_level: float
) -> list[dict]:
    """Rows for one crop and family: mean net return over zero-N at each rate, in kg/ha of yield.

    Net return is the yield above zero-N less price_ratio x rate. Rates go up to the highest that every
    site-year tested. near_highest is the yield worth $1/ac, kg/ha: rates within it are marked near; None
    marks none. No row with fewer than 3 site-years.
    """
    fitted = sorted((ladder for ladder in ladders if ladder.curves), key=_site_year)
    by_site_year = [list(of_one) for _, of_one in groupby(fitted, key=_site_year)]
    if len(by_site_year) < FEWEST_SITE_YEARS:
        return []
    top = min(float(ladder.rates.max()) for ladder in fitted)
    rates = np.append(np.arange(0.0, top, STEP_KG_HA), top)
    returns = np.array(
        [np.mean([_return(one, rates, price_ratio) for one in of_one], axis=0) for of_one in by_site_year]
    )
    mean, k = returns.mean(axis=0), len(returns)
    error = returns.std(axis=0, ddof=1) / np.sqrt(k)
    half = stats.t.ppf((1 + conf_level) / 2, k - 1) * error
    is_highest = np.arange(len(rates)) == np.argmax(mean)
    at_top = "highest at the top of the rates that every site-year tested" if is_highest[-1] else ""
    key = {name: fitted[0].key[name] for name in ("crop", "family")}
    key |= {"price_ratio": price_ratio, "conf_level": conf_level, "n_site_years": k, "warnings": at_top}
    return [
        key
        | {
            "n_rate_kg_ha": rate, "net_return_kg_ha": mean[i], "std_error": error[i],
            "conf_low": mean[i] - half[i], "conf_high": mean[i] + half[i], "is_highest": bool(is_highest[i]),
            "near_highest_kg_ha": near_highest,
            "is_near_highest": None if near_highest is None else bool(mean[i] >= mean.max() - near_highest),
        }
        for i, rate in enumerate(rates)
    ]  # fmt: skip


def _site_year(ladder: FittedLadder) -> str:
    return str(ladder.key["site_year_id"])


def _return(ladder: FittedLadder, rates: np.ndarray, price_ratio: float) -> np.ndarray:
    curve = ladder.curves[PRIMARY]
    return curve.yield_at(rates) - curve.a - price_ratio * rates
