"""N saved at equal yield: how much less of one source gives the yield that the other gives at a stated rate."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
import pandas as pd

from pipeline.contract.results import frame_of
from pipeline.contract.vocabulary import AT_NAMED_RATE
from pipeline.estimates.n_response import optimum as opt
from pipeline.estimates.n_response.curves import PRIMARY
from pipeline.estimates.n_response.efficiencies import ESTIMATED
from pipeline.estimates.n_response.ladders import families
from pipeline.estimates.n_response.pooled_curves import PooledFit, around, pooled_fit
from pipeline.estimates.n_response.resampling import ResampledCurves, drawn_counts, percentiles

AT_EONR = "comparator's EONR"
# what a row leaves empty that says only why nothing is estimated
NOTHING = dict.fromkeys(("same_yield_rate", "nitrogen_saved", "conf_low", "conf_high"))
NOT_SHARED = "not estimable: no site-year has both sources with zero-N"
NO_CURVE = "not estimable: {family}: {flag}"
NO_EONR = "not estimable: the comparator's EONR is not known"
OUTSIDE = "not estimable: the named rate is above the rates tested"
ON_PLATEAU = "not estimable: the comparator is on its plateau at this rate"
NOT_REACHED = "not estimable: the source does not reach this yield within the rates tested"
NO_NITROGEN = "not estimable: the source has this yield without N"


def nitrogen_saved(
    means: pd.DataFrame,
    arms: pd.DataFrame,
    treatments: pd.DataFrame,
    *,
    ratio_of: dict[tuple[str, str], float],
    conf_level: float,
) -> pd.DataFrame:
    """One row per comparison and rate: comparator's rate minus the source's rate of the same yield, kg/ha.

    From the common primary curves of the two families over the site-years that have both; the interval
    resamples those site-years, both curves together. Comparisons whose arms are not one family each are
    left out. A resample in which the source never reaches the yield counts as minus infinity. ratio_of: price
    ratio by crop and family; the comparator's own sets its EONR.
    """
    rows = []
    for comparison_id, family, comparator, named_rates in source_pairs(arms, treatments):
        eligible = arms.loc[arms["comparison_id"] == comparison_id, "trial_id"]
        of_trials = means[means["trial_id"].isin(eligible)]
        ours, theirs = (of_trials[of_trials["family"] == name] for name in (family, comparator))
        both = set(ours["site_year_id"]) & set(theirs["site_year_id"])
        fits = [_fit_on(side, both, conf_level) for side in (ours, theirs)] if both else None
        crop = fits[0].crop if fits else None
        key = {
            "comparison_id": comparison_id,
            "crop": crop,
            "family": family,
            "comparator_family": comparator,
        }
        key |= {"conf_level": conf_level, "n_site_years": len(both), "warnings": ""}
        ratio = ratio_of.get((crop, comparator))
        for at, rate in [(AT_EONR, None), *((AT_NAMED_RATE, rate) for rate in named_rates)]:
            found = _saved(*fits, rate, ratio, conf_level) if fits else {"status": NOT_SHARED}
            rows.append(NOTHING | key | {"at": at, "comparator_rate": rate} | found)
    return frame_of(rows, "nitrogen_saved")


def source_pairs(arms: pd.DataFrame, treatments: pd.DataFrame) -> Iterator[tuple[str, str, str, list[float]]]:
    """(comparison, family, comparator's family, named rates) of comparisons between two families."""
    labeled = arms.merge(families(treatments)[["trial_id", "treatment_code", "family"]])
    for comparison_id, of_comparison in labeled.groupby("comparison_id", sort=True):
        sides = of_comparison.groupby("arm")["family"].unique()
        if {"treatment", "comparator"} <= set(sides.index) and all(len(side) == 1 for side in sides):
            if sides["treatment"][0] != sides["comparator"][0]:
                named = sorted(of_comparison["rate_kg_ha"].dropna().unique())
                yield comparison_id, sides["treatment"][0], sides["comparator"][0], named


def _fit_on(means: pd.DataFrame, site_years: set, conf_level: float) -> PooledFit:
    return pooled_fit(means[means["site_year_id"].isin(site_years)], conf_level=conf_level)


def _saved(
    ours: PooledFit, theirs: PooledFit, named_rate: float | None, price_ratio: float | None, conf_level: float
) -> dict:
    for fit in (ours, theirs):
        flag = fit.flag if fit.flag != opt.FOUND else opt.curve_flag(fit.curves[PRIMARY], fit.sums, price_ratio)
        if flag not in (opt.FOUND, opt.BEYOND):
            return {"status": NO_CURVE.format(family=fit.family, flag=flag)}
    curve, highest = theirs.curves[PRIMARY], float(theirs.sums.rates.max())
    rate = opt.economic_rate(curve, price_ratio, highest) if named_rate is None else named_rate
    reason = _why_not(rate, curve.join, highest)
    if reason:
        return {"status": reason}
    found = {"comparator_rate": rate}
    same = float(_rate_of(_as_arrays(ours.curves[PRIMARY]), curve.yield_at(np.array([rate])))[0])
    if same == 0:
        return found | {"status": NO_NITROGEN}
    interval = _interval(ours, theirs, named_rate, price_ratio, conf_level)
    if same > ours.sums.rates.max():
        return found | {"status": NOT_REACHED} | interval
    if "conf_low" in interval:
        low, high = around(rate - same, (interval["conf_low"], interval["conf_high"]))
        interval = {"conf_low": low, "conf_high": high}
    return found | {"status": ESTIMATED, "same_yield_rate": same, "nitrogen_saved": rate - same} | interval


def _why_not(rate: float | None, join: float, highest: float) -> str:
    if rate is None or rate == 0:
        return NO_EONR
    if rate > highest:
        return OUTSIDE
    return ON_PLATEAU if rate >= join else ""


def _interval(ours: PooledFit, theirs: PooledFit, named_rate, price_ratio, conf_level: float) -> dict:
    """Percentiles over resampled site-years; no lower bound where many of them never reach the yield."""
    if ours.why_no_interval:
        return {"warnings": ours.why_no_interval}
    counts = drawn_counts(len(ours.clusters))
    mine, other = ours.resampled(PRIMARY, counts), theirs.resampled(PRIMARY, counts)
    highest = float(theirs.sums.rates.max())
    rates = np.full(len(counts), named_rate) if named_rate else np.clip(other.economic_rates(price_ratio), 0, highest)
    same = _rate_of(mine, other.a + other.rises(rates))
    is_unknown = (same > ours.sums.rates.max()) | mine.is_below | other.is_below
    saved = np.where(is_unknown, -np.inf, rates - same)
    low, high = percentiles(saved, conf_level, n_clusters=len(ours.clusters), highest=highest)
    return {"conf_low": low, "conf_high": high}


def _as_arrays(curve) -> ResampledCurves:
    parts = (np.array([part]) for part in (curve.a, curve.b, curve.shape))
    return ResampledCurves(curve.model, *parts, np.array([False]))


def _rate_of(curves: ResampledCurves, yields: np.ndarray) -> np.ndarray:
    """Rate at which a quadratic-plateau gives this yield: 0 at or below zero-N, inf above the plateau."""
    rise = yields - curves.a
    left = 1 - rise / np.where(curves.b > 0, curves.b * curves.shape / 2, np.nan)
    within = curves.shape * (1 - np.sqrt(np.maximum(left, 0.0)))
    return np.where(rise <= 0, 0.0, np.where(left >= 0, within, np.inf))
