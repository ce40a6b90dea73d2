"""Each trial's own curves: one row per ladder and model, and its EONR over a grid of price ratios."""

from __future__ import annotations

from dataclasses import asdict, dataclass

import pandas as pd

from pipeline.estimates.frames import joined
from pipeline.estimates.n_response import optimum as opt
from pipeline.estimates.n_response.curves import PRIMARY, TRIAL_MODELS, Curve, distinct_rates, fit
from pipeline.estimates.n_response.ladders import LADDER, groups
from pipeline.estimates.n_response.optimum import Optimum
from pipeline.estimates.n_response.rate_sums import RateSums, rate_sums
from pipeline.estimates.n_response.resampling import distinct_draws, percentiles, resampled_curves

PROFILE = "profile"
FIELLER = "Fieller"
TRIAL = "trial"
NO_CURVE = dict.fromkeys(("a", "b", "c", "join", "plateau", "sse", "df", "aicc"))
NOT_RESAMPLED = {"eonr_boot_low": None, "eonr_boot_high": None}


@dataclass(frozen=True)
class FittedLadder:
    """A ladder with its sums and curves; no curves, and the reason as flag, where it cannot carry one."""

    key: dict[str, str]
    flag: str
    rates: pd.Series
    warnings: str
    sums: RateSums | None = None
    curves: dict[str, Curve] | None = None
    n_plots: int | None = None  # where it is not one plot a rate of `rates`


def fitted_ladders(ladders: pd.DataFrame, *, conf_level: float) -> list[FittedLadder]:
    """Fits every model to every ladder that has zero-N, 4 rates and plots enough.

    Strips and unreplicated trials, where no rate stands twice, have no plot error to judge a curve by: they
    have no curve of their own, and their rates count in the curve over site-years.
    """
    return [
        _fitted(dict(zip(LADDER, key, strict=True)), ladder, conf_level)
        for key, ladder in ladders.groupby(LADDER, sort=True)
    ]


def rows_of(ladder: FittedLadder, price_ratio: float | None, *, conf_level: float) -> list[dict]:
    """Rows for n_response, one per model; the primary one carries the bootstrap of the EONR as a check."""
    base = ladder.key | {"level": TRIAL, "price_ratio": price_ratio, "conf_level": conf_level}
    base |= {"warnings": ladder.warnings, "n_site_years": 1, "n_clusters": None} | NOT_RESAMPLED
    base |= rate_columns(ladder.rates)
    if ladder.n_plots is not None:
        base |= {"n_plots": ladder.n_plots}
    if ladder.curves is None:
        base |= {"interval_method": None} | NO_CURVE | asdict(Optimum(ladder.flag))
        return [base | {"model": model, "is_primary": model == PRIMARY} for model in TRIAL_MODELS]
    rows = []
    for model, curve in ladder.curves.items():
        found = optimum_of(ladder, curve, price_ratio, conf_level)
        method = FIELLER if model == "quadratic" else PROFILE
        row = base | {"model": model, "is_primary": model == PRIMARY, "interval_method": method}
        rows.append(row | curve_columns(curve, found.flag) | asdict(found))
    rows[0] |= _bootstrap_check(ladder, price_ratio, conf_level)
    return rows


def grid_rows_of(ladder: FittedLadder, price_ratios: dict[float, bool], *, conf_level: float) -> list[dict]:
    """EONR of the primary curve at each price ratio (ratio -> whether it is the planning one)."""
    base = ladder.key | {
        "level": TRIAL,
        "model": PRIMARY,
        "conf_level": conf_level,
        "interval_method": PROFILE,
    }
    rows = []
    for ratio, is_planning in price_ratios.items():
        found = Optimum(ladder.flag)
        if ladder.curves is not None:
            found = optimum_of(ladder, ladder.curves[PRIMARY], ratio, conf_level)
        rows.append(base | {"price_ratio": ratio, "is_planning_ratio": is_planning} | asdict(found))
    return rows


def optimum_of(ladder: FittedLadder, curve: Curve, price_ratio: float | None, conf_level: float) -> Optimum:
    """The optimum of a curve of this ladder, where the ladder answers to N."""
    if ladder.flag != opt.FOUND:
        return Optimum(ladder.flag)
    return opt.optimum(curve, ladder.sums, price_ratio, conf_level)


def curve_columns(curve: Curve, flag: str) -> dict:
    """Coefficients and fit; the join only where it lies within the rates tested."""
    is_inside = flag == opt.FOUND
    return {
        "a": curve.a,
        "b": curve.b,
        "c": curve.c,
        "join": curve.join if is_inside else None,
        "plateau": curve.plateau if is_inside else None,
        "sse": curve.sse,
        "df": curve.df,
        "aicc": curve.aicc,
    }


def rate_columns(rates: pd.Series) -> dict:
    """Number of plots and rates, lowest fertilized and highest rate, kg/ha."""
    fertilized = rates[rates > 0]
    return {
        "n_plots": len(rates),
        "n_rates": len(distinct_rates(rates.to_numpy(float))),
        "lowest_rate": fertilized.min() if len(fertilized) else None,
        "highest_rate": rates.max(),
    }


def _fitted(key: dict, ladder: pd.DataFrame, conf_level: float) -> FittedLadder:
    rates = ladder["n_rate_kg_ha"].astype(float)
    warnings = _warnings(ladder)
    flag = _unfit(ladder, rates)
    if flag:
        return FittedLadder(key, flag, rates, warnings)
    sums = rate_sums(rates.to_numpy(), ladder["value"].to_numpy(float), groups(ladder))
    curves = {model: fit(model, sums) for model in TRIAL_MODELS}
    return FittedLadder(key, opt.response_flag(curves[PRIMARY], sums, conf_level), rates, warnings, sums, curves)


def _unfit(ladder: pd.DataFrame, rates: pd.Series) -> str:
    """Why no curve is fitted to a ladder; '' where one is."""
    if ladder["design"].iloc[0] == "not randomized":
        return opt.NOT_RANDOMIZED
    if not (rates == 0).any():
        return opt.NO_ZERO_N
    if len(distinct_rates(rates.to_numpy())) < opt.FEWEST_RATES:
        return opt.FEW_RATES
    if not rates.duplicated().any():
        return opt.NOT_REPLICATED
    n_groups = len(set(groups(ladder)))
    return opt.FEW_PLOTS if len(rates) - n_groups - 2 < opt.FEWEST_DF else ""


def _warnings(ladder: pd.DataFrame) -> str:
    has_zero = ladder["n_rate_kg_ha"].eq(0).groupby(ladder["block"], dropna=False).any()
    without = has_zero.index[~has_zero].map(str)
    lacking = f"no zero-N in block {', '.join(without)}" if len(without) and has_zero.any() else ""
    is_split = ladder["design"].iloc[0] == "split-plot"
    is_spread = is_split and ladder.groupby("block", dropna=False)["main_plot"].nunique().max() > 1
    spread = "rates lie in different main plots: one error for both strata" if is_spread else ""
    return joined([lacking, spread])


def _bootstrap_check(ladder: FittedLadder, price_ratio: float | None, conf_level: float) -> dict:
    if ladder.flag != opt.FOUND or price_ratio is None or len(ladder.sums.labels) < 3:
        return {}
    n_blocks = len(ladder.sums.labels)
    distinct, draw = distinct_draws(n_blocks)
    rates = resampled_curves(ladder.sums, distinct, PRIMARY).economic_rates(price_ratio)[draw]
    low, high = percentiles(rates, conf_level, n_clusters=n_blocks, highest=float(ladder.sums.rates.max()))
    return {"eonr_boot_low": low, "eonr_boot_high": high}
