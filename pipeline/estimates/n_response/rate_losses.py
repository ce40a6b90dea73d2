"""What each tested N rate loses against the rate that pays best, in net return, read off the common curve.

One road for both: the rate that pays best and the losses come from the same curve and the same resamples of whole
site-years. In each resample the best rate is found anew, so that its uncertainty is part of every loss. A loss cannot
lie below zero, so its percentiles alone would never reach zero: the lower end is zero for the rates within the interval
of the rate that pays best, those not shown to pay less. As one interval decides that for all rates, the statement on
which rates pay less than the best holds at its confidence level for all of them together; the intervals of the losses
hold rate by rate.

Measured on simulated programs with the best rate at 142.5 kg/ha: 95% intervals held the true losses at 60, 120, 140,
180 and 240 kg/ha in 94.6, 93.5, 96.9, 93.6 and 93.6% of 1,800 programs of 12 site-years, and in 93.1, 92.4, 95.8, 92.6
and 92.6% of 900 programs of 6: a little short of 95%, as the percentiles of few site-years are (the slow test in
test_rate_losses.py asks it anew).
"""

from __future__ import annotations

import numpy as np
import pandas as pd

from pipeline.estimates.n_response.curves import PRIMARY
from pipeline.estimates.n_response.ladders import rate_levels
from pipeline.estimates.n_response.optimum import Optimum
from pipeline.estimates.n_response.pooled_curves import (
    BOOTSTRAP,
    PooledFit,
    around,
    pooled_optimum,
    resampled_for_interval,
)
from pipeline.estimates.n_response.resampling import ResampledCurves, percentiles
from pipeline.site_years.eligibility import SAME_RATE_KG_HA

LARGEST = np.finfo(float).max


def rate_losses(pooled: PooledFit, price_ratio: float | None, *, conf_level: float) -> list[dict]:
    """Rows of rate_losses, one per fertilized rate tested; none without a price, or a best rate within those tested.

    price_ratio: kg of yield per kg of N. Losses are net return in kg/ha of yield, above or equal to zero; without an
    interval where site-years are too few. A missing upper end is open: the best rate may lie where nothing was tested.
    """
    resampled = resampled_for_interval(pooled, PRIMARY)
    best = pooled_optimum(pooled, PRIMARY, price_ratio, conf_level, resampled)
    if best.eonr is None:
        return []
    rates, tested_by = _tested(pooled.means)
    curve = pooled.curves[PRIMARY]
    as_drawn = ResampledCurves(
        PRIMARY, *(np.array([part]) for part in (curve.a, curve.b, curve.shape)), np.array([False])
    )
    losses = _losses(as_drawn, np.array([best.eonr]), rates, price_ratio)[:, 0]
    base = {"crop": pooled.crop, "family": pooled.family, "price_ratio": price_ratio, "eonr": best.eonr}
    base |= {"conf_level": conf_level, "n_curve_site_years": len(pooled.site_years), "warnings": pooled.why_no_interval}
    base |= {"conf_low": None, "conf_high": None, "interval_method": None}
    rows = [
        base | {"n_rate_kg_ha": rate, "n_site_years": n, "loss_kg_ha": loss}
        for rate, n, loss in zip(rates, tested_by, losses, strict=True)
    ]
    if resampled is not None:
        drawn = _drawn_losses(resampled, rates, price_ratio, float(pooled.sums.rates.max()))
        for row, values in zip(rows, drawn, strict=True):
            row |= _interval(values, row, best, len(pooled.clusters)) | {"interval_method": BOOTSTRAP}
    return rows


def _tested(means: pd.DataFrame) -> tuple[np.ndarray, np.ndarray]:
    """The fertilized rates behind the curve and how many site-years tested each; rates planned alike are one."""
    fertilized = means[means["n_rate_kg_ha"] > 0]
    level = rate_levels(fertilized["n_rate_kg_ha"].to_numpy(float), SAME_RATE_KG_HA)
    counts = fertilized["site_year_id"].groupby(level).nunique()
    return counts.index.to_numpy(float), counts.to_numpy()


def _losses(curves: ResampledCurves, best: np.ndarray, rates: np.ndarray, price_ratio: float) -> np.ndarray:
    """Net return at each curve's best rate less that at each rate, (R, n); best: (n,), rates: (R,)."""
    at_best = curves.rises(best) - price_ratio * best
    return at_best - np.array([curves.rises(np.full(len(best), rate)) - price_ratio * rate for rate in rates])


def _drawn_losses(resampled: ResampledCurves, rates: np.ndarray, price_ratio: float, highest: float) -> np.ndarray:
    """Losses of each resample, (R, n); infinite where the best rate of the resample lies outside the rates tested."""
    best = resampled.economic_rates(price_ratio)
    losses = _losses(resampled, np.clip(best, 0.0, highest), rates, price_ratio)
    return np.where((best < 0) | (best > highest), np.inf, losses)


def _interval(values: np.ndarray, row: dict, best: Optimum, n_clusters: int) -> dict:
    bounds = percentiles(values, row["conf_level"], n_clusters=n_clusters, highest=LARGEST)
    low, high = around(row["loss_kg_ha"], bounds)
    above = best.eonr_low is None or row["n_rate_kg_ha"] >= best.eonr_low
    below = best.eonr_high is None or row["n_rate_kg_ha"] <= best.eonr_high
    return {"conf_low": 0.0 if above and below else low, "conf_high": high}
