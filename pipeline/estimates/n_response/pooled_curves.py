"""One curve for a program, in two stages: block-adjusted rate means of each ladder, then a common curve.

The common curve is fitted to the rate means with an intercept for each ladder, so that site-years tested at
other rates do not tilt it; a site-year weighs the same however many ladders and blocks it has. Its interval
resamples whole site-years (those on the same plots together), which carries the spread of their responses (a nonlinear
mixed model would name that spread, at the price of assuming its form and of fits that fail: Wallach 1995, Biometrics
51:338-346, from memory). Means known only by print count as those of plots do. It reaches as far as 3 site-years
tested: one or two alone do not settle the plateau of all. Site-years that do not answer to N stay in. The optimum of
the average curve is not the average of the optima, which stands beside it with the counts behind it (site_year_optima).
"""

from __future__ import annotations

from dataclasses import asdict, dataclass

import numpy as np
import pandas as pd

from pipeline.estimates.engines.cluster_robust import clustered_mean
from pipeline.estimates.n_response import optimum as opt
from pipeline.estimates.n_response.clusters import few
from pipeline.estimates.n_response.curves import (
    MITSCHERLICH,
    POOLED_MODELS,
    PRIMARY,
    SAME_RATE_SHARE,
    Curve,
    distinct_rates,
    fit,
)
from pipeline.estimates.n_response.intervals import Interval
from pipeline.estimates.n_response.ladders import LADDER
from pipeline.estimates.n_response.optimum import Optimum
from pipeline.estimates.n_response.rate_sums import RateSums, rate_sums
from pipeline.estimates.n_response.resampling import (
    ResampledCurves,
    drawn_counts,
    percentiles,
    resampled_curves,
)
from pipeline.estimates.n_response.trial_curves import NO_CURVE, NOT_RESAMPLED, curve_columns, rate_columns

POOLED = "pooled"
BOOTSTRAP = "site-year bootstrap"
FEWEST_SITE_YEARS = 3
FEWEST_FOR_INTERVAL = 6  # below it whole site-years cannot be resampled to any purpose


@dataclass(frozen=True)
class PooledFit:
    """Common curves of one family; site_years (K,), clusters (C,), cluster_of the groups of sums as indices into
    clusters.
    """

    crop: str
    family: str
    flag: str
    means: pd.DataFrame
    site_years: np.ndarray
    clusters: np.ndarray
    cluster_of: np.ndarray
    sums: RateSums | None
    curves: dict[str, Curve]

    @property
    def why_no_interval(self) -> str:
        """Empty where there are site-years enough to resample."""
        return few(len(self.site_years), len(self.clusters), FEWEST_FOR_INTERVAL)

    def resampled(self, model: str, counts: np.ndarray) -> ResampledCurves:
        """Refits with each cluster counted as drawn; counts (n, C)."""
        return resampled_curves(self.sums, counts[:, self.cluster_of], model)


def usable_means(means: pd.DataFrame) -> pd.DataFrame:
    """Rate means of the ladders that have zero-N and a fertilized rate: the others say nothing of a response."""
    of_ladder = means.groupby(["family", "trial_id", "variant"])["n_rate_kg_ha"]
    return means[of_ladder.transform("min").eq(0) & of_ladder.transform("max").gt(0)]


def pooled_fit(means: pd.DataFrame, *, conf_level: float) -> PooledFit:
    """Fits the common curves of one family of one crop to its usable rate means, which have their `cluster`."""
    first, means = means.iloc[0], means[is_tested_enough(means)]
    label = means["site_year_id"].astype(str) + "\n" + means["trial_id"].astype(str) + "\n" + means["variant"]
    n_ladders = label.groupby(means["site_year_id"].astype(str)).transform("nunique")
    weights = dict(zip(label, 1 / n_ladders, strict=True))
    sums = rate_sums(means["n_rate_kg_ha"].to_numpy(float), means["mean"].to_numpy(float), label, weights)
    site_years, of_groups = np.unique([text.split("\n")[0] for text in sums.labels], return_inverse=True)
    cluster_of_site_year = means.drop_duplicates("site_year_id").set_index("site_year_id")["cluster"][site_years]
    clusters, of_site_years = np.unique(cluster_of_site_year.to_numpy(str), return_inverse=True)
    flag = _flag(means, len(site_years), conf_level)
    curves = {} if flag in opt.NOT_FITTED else {model: fit(model, sums) for model in POOLED_MODELS}
    groups = {"clusters": clusters, "cluster_of": of_site_years[of_groups]}
    return PooledFit(first["crop"], first["family"], flag, means, site_years, **groups, sums=sums, curves=curves)


def is_tested_enough(means: pd.DataFrame) -> np.ndarray:
    """Which rates at least 3 site-years reach (or all, where there are fewer); rates 3% apart are one."""
    rates = means["n_rate_kg_ha"].to_numpy(float)
    tops = np.sort(means.groupby("site_year_id")["n_rate_kg_ha"].max().to_numpy(float))
    reached = tops[-min(FEWEST_SITE_YEARS, len(tops))]
    return rates <= reached * (1 + SAME_RATE_SHARE)


def pooled_rows(pooled: PooledFit, price_ratio: float | None, *, conf_level: float) -> list[dict]:
    """Rows for n_response, one per model."""
    base = _base(pooled, conf_level) | NOT_RESAMPLED | {"price_ratio": price_ratio, "warnings": _warnings(pooled)}
    base |= rate_columns(pooled.means["n_rate_kg_ha"]) | {"n_plots": pooled.means["n_plots"].sum()}
    if not pooled.curves:
        base |= NO_CURVE | asdict(Optimum(pooled.flag))
        return [base | {"model": model, "is_primary": model == PRIMARY} for model in POOLED_MODELS]
    rows = []
    for model, curve in pooled.curves.items():
        found = pooled_optimum(pooled, model, price_ratio, conf_level, resampled_for_interval(pooled, model))
        row = base | {"model": model, "is_primary": model == PRIMARY}
        rows.append(row | curve_columns(curve, found.flag) | asdict(found))
    return rows


def rows_without_curve(
    steps: pd.DataFrame | None, of_print: pd.DataFrame | None, price_ratio: float | None, *, conf_level: float
) -> list[dict]:
    """Rows for n_response of a family none of whose ladders can enter a common curve, and why.

    steps, of_print: its plots as ladders() has them and its printed rate means; None where it has none.
    """
    every = pd.concat(
        [rows[[*LADDER, "design", "n_rate_kg_ha", "value"]] for rows in (steps, of_print) if rows is not None]
    )
    n_plots = {"n_plots": 0 if steps is None else len(steps), "n_site_years": every["site_year_id"].nunique()}
    base = {name: every.iloc[0][name] for name in ("crop", "family")} | {"level": POOLED, "variant": ""}
    base |= {"conf_level": conf_level, "price_ratio": price_ratio, "warnings": ""} | NO_CURVE | NOT_RESAMPLED
    base |= {"site_year_id": None, "trial_id": None, "n_clusters": None, "interval_method": None}
    base |= asdict(Optimum(_why_not_usable(every)))
    base |= rate_columns(every["n_rate_kg_ha"].astype(float)) | n_plots
    return [base | {"model": model, "is_primary": model == PRIMARY} for model in POOLED_MODELS]


def _why_not_usable(every: pd.DataFrame) -> str:
    if every["design"].eq("not randomized").all():
        return opt.NOT_RANDOMIZED
    randomized = every[~every["design"].eq("not randomized")]
    if randomized["value"].isna().all():
        return opt.NO_MEANS
    randomized = randomized.dropna(subset="value")
    if not randomized["n_rate_kg_ha"].gt(0).any():
        return opt.NO_FERTILIZED
    return opt.NOT_CONNECTED if len(usable_means(randomized)) else opt.NO_ZERO_N


def pooled_grid_rows(pooled: PooledFit, price_ratios: dict[float, bool], *, conf_level: float) -> list[dict]:
    """EONR of the common primary curve at each price ratio (ratio -> whether it is the planning one)."""
    base = _base(pooled, conf_level) | {"model": PRIMARY}
    resampled = resampled_for_interval(pooled, PRIMARY)
    return [
        base
        | {"price_ratio": ratio, "is_planning_ratio": is_planning}
        | asdict(pooled_optimum(pooled, PRIMARY, ratio, conf_level, resampled))
        for ratio, is_planning in price_ratios.items()
    ]


def draw_rows(pooled: PooledFit) -> list[dict]:
    """The resampled primary curves that the interval of the economic optimum is read off, at whatever prices."""
    resampled = resampled_for_interval(pooled, PRIMARY)
    if resampled is None:
        return []
    parts = zip(resampled.b, resampled.shape, resampled.is_below, strict=True)
    return [
        {"crop": pooled.crop, "family": pooled.family, "draw": i, "b": b, "join": join, "is_below": bool(is_below)}
        for i, (b, join, is_below) in enumerate(parts)
    ]


def pooled_optimum(
    pooled: PooledFit,
    model: str,
    price_ratio: float | None,
    conf_level: float,
    resampled: ResampledCurves | None,
) -> Optimum:
    """Optimum of a common curve, its interval from its resamples; no interval where those are None."""
    if pooled.flag != opt.FOUND:
        return Optimum(pooled.flag)
    found = opt.optimum(pooled.curves[model], pooled.sums, price_ratio, conf_level, with_interval=False)
    if resampled is None or found.flag == opt.NEGATIVE:
        return found
    tested = {"n_clusters": len(pooled.clusters), "highest": float(pooled.sums.rates.max())}
    bounds = {}
    if model != MITSCHERLICH:
        of_joins = percentiles(resampled.joins(), conf_level, **tested)
        bounds["aonr_low"], bounds["aonr_high"] = around(found.aonr, of_joins)
    if price_ratio is not None:
        of_rates = percentiles(resampled.economic_rates(price_ratio), conf_level, **tested)
        bounds["eonr_low"], bounds["eonr_high"] = around(found.eonr, of_rates)
    return Optimum(**(asdict(found) | bounds))


def around(rate: float | None, interval: Interval) -> Interval:
    """An interval that holds its estimate: resamples are fitted on a grid, whose step may lie beside it."""
    low, high = interval
    if rate is None:
        return interval
    return None if low is None else min(low, rate), None if high is None else max(high, rate)


def resampled_for_interval(pooled: PooledFit, model: str) -> ResampledCurves | None:
    """Refits to resampled site-years; None where there are too few, or nothing to refit."""
    if pooled.why_no_interval or pooled.flag != opt.FOUND:
        return None
    return pooled.resampled(model, drawn_counts(len(pooled.clusters)))


def _base(pooled: PooledFit, conf_level: float) -> dict:
    return {
        "crop": pooled.crop,
        "family": pooled.family,
        "level": POOLED,
        "site_year_id": None,
        "trial_id": None,
        "variant": "",
        "conf_level": conf_level,
        "n_site_years": len(pooled.site_years),
        "n_clusters": len(pooled.clusters),
        "interval_method": None if pooled.why_no_interval else BOOTSTRAP,
    }


def _flag(means: pd.DataFrame, n_site_years: int, conf_level: float) -> str:
    if len(distinct_rates(means["n_rate_kg_ha"].to_numpy(float))) < opt.FEWEST_RATES:
        return opt.FEW_RATES
    if n_site_years < FEWEST_SITE_YEARS:
        return opt.FEW_SITE_YEARS
    return _response_flag(means, conf_level)


def _response_flag(means: pd.DataFrame, conf_level: float) -> str:
    """Whether yield answers to N over site-years: t interval of the mean fertilized yield minus zero-N."""
    is_zero = means["n_rate_kg_ha"] == 0
    of_site_year = means.assign(is_zero=is_zero).groupby(["site_year_id", "is_zero"])["mean"].mean().unstack()
    rise = (of_site_year[False] - of_site_year[True]).to_numpy(float)
    clusters = means.drop_duplicates("site_year_id").set_index("site_year_id")["cluster"][of_site_year.index].to_numpy()
    if len(np.unique(clusters)) == 1:
        clusters = np.arange(len(rise))  # one set of plots: what its seasons show holds for those plots
    half = clustered_mean(rise, np.ones(len(rise)), clusters).half_width(conf_level)
    rounding = np.sqrt(opt.NO_VARIATION) * means["mean"].abs().mean()
    if abs(rise.mean()) <= max(half, rounding):
        return opt.NO_RESPONSE
    return opt.FOUND if rise.mean() > 0 else opt.NEGATIVE


def _warnings(pooled: PooledFit) -> str:
    return pooled.why_no_interval if len(pooled.site_years) >= FEWEST_SITE_YEARS else ""
