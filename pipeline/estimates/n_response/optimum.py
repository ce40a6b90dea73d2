"""Agronomic and economic optimum of one fitted curve, or a word for why there is none.

AONR: the lowest rate of the highest yield. EONR: where one more kg of N just pays for itself; 0 where not
even the first does. Only what lies within the rates tested is given as found; nothing is extrapolated.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy import stats

from pipeline.estimates.n_response.curves import (
    LINEAR_PLATEAU,
    MITSCHERLICH,
    QUADRATIC,
    SHAPES,
    Curve,
    second_lowest,
)
from pipeline.estimates.n_response.intervals import (
    PRINTED_ALIKE_KG_HA,
    Interval,
    economic_interval,
    fieller,
    shape_interval,
    std_error,
)
from pipeline.estimates.n_response.rate_sums import RateSums

FOUND = "found"
NO_RESPONSE = "no response"
NEGATIVE = "negative response"
BEYOND = "join beyond the highest rate"
BELOW = "fewer than two rates below the join"
FEW_RATES = "fewer than 4 rates"
NO_ZERO_N = "no zero-N"
FEW_PLOTS = "too few plots"
NOT_RANDOMIZED = "not randomized"
NOT_REPLICATED = "no rate stands twice"
PRINTED = "printed means only"
NO_MEANS = "printed differences only"
NO_FERTILIZED = "no fertilized plot in use"
NOT_CONNECTED = "blocks do not connect the rates"
FEW_SITE_YEARS = "fewer than 3 site-years"
NOT_FITTED = (
    FEW_RATES,
    NO_ZERO_N,
    FEW_PLOTS,
    NOT_RANDOMIZED,
    NOT_REPLICATED,
    PRINTED,
    NO_MEANS,
    FEW_SITE_YEARS,
    NO_FERTILIZED,
    NOT_CONNECTED,
)
FEWEST_RATES = 4  # zero-N among them; common practice, no source
FEWEST_DF = 3
NO_VARIATION = 1e-12  # of the squared mean: plots that do not differ at all


@dataclass(frozen=True)
class Optimum:
    """Optimum rates in kg/ha within the rates tested; None where not found, or where a bound is open.

    An upper bound may pass the highest rate by less than PRINTED_ALIKE_KG_HA.
    """

    flag: str
    aonr: float | None = None
    aonr_std_error: float | None = None
    aonr_low: float | None = None
    aonr_high: float | None = None
    eonr: float | None = None
    eonr_std_error: float | None = None
    eonr_low: float | None = None
    eonr_high: float | None = None


def response_flag(primary: Curve, sums: RateSums, conf_level: float) -> str:
    """Whether yield answers to N at all, asked once, of the declared curve.

    Extra-sum-of-squares F test of the curve against no N effect, on 2 and df (Bates and Watts 1988, chapter 3,
    from memory). Without a response the join means nothing, so the test is not exact: its size is measured
    in the tests, and stays below the nominal one.
    """
    gain = sums.sum_total - primary.sse
    limit = 2 * stats.f.ppf(conf_level, 2, primary.df) * primary.sse / primary.df
    if gain <= limit or sums.sum_total <= NO_VARIATION * np.sum(sums.weights * sums.means**2):
        return NO_RESPONSE
    return FOUND if primary.b > 0 else NEGATIVE


def optimum(
    curve: Curve, sums: RateSums, price_ratio: float | None, conf_level: float, *, with_interval: bool = True
) -> Optimum:
    """Optimum rates of a curve that answers to N; price_ratio None gives the agronomic one alone.

    with_interval False leaves the intervals and standard errors to the caller: pooled curves, Mitscherlich
    among them, are resampled.
    """
    highest = float(sums.rates.max())
    flag = curve_flag(curve, sums, price_ratio)
    if flag == NEGATIVE:
        return Optimum(flag)
    aonr = curve.join if flag == FOUND else None
    eonr = economic_rate(curve, price_ratio, highest) if flag in (FOUND, BEYOND) else None
    if not with_interval:
        return Optimum(flag, aonr=aonr, eonr=eonr)
    aonr_low, aonr_high = _within(_join_interval(curve, sums, conf_level), highest)
    eonr_low, eonr_high = None, None
    if price_ratio is not None and not (curve.model == QUADRATIC and curve.shape >= 0):
        eonr_low, eonr_high = _within(economic_interval(curve, sums, price_ratio, conf_level), highest)
    return Optimum(
        flag, aonr, _aonr_std_error(curve, sums) if aonr is not None else None, aonr_low, aonr_high,
        eonr, _eonr_std_error(curve, sums, price_ratio) if eonr else None, eonr_low, eonr_high,
    )  # fmt: skip


def curve_flag(curve: Curve, sums: RateSums, price_ratio: float | None) -> str:
    """Where the top of the curve lies: within the rates tested, beyond them, below two of them, or at no N."""
    highest = float(sums.rates.max())
    if curve.model == MITSCHERLICH:
        return _mitscherlich_flag(curve, sums, price_ratio)
    if curve.model == QUADRATIC:
        if curve.join is None or curve.join <= 0:
            is_rising = curve.yield_at(np.array([highest]))[0] > curve.a
            return BEYOND if is_rising else NEGATIVE
    elif curve.shape <= second_lowest(sums.rates) * (1 + 1e-9):
        return BELOW
    at_edge = curve.model == LINEAR_PLATEAU and curve.join >= highest * (1 - 1e-9)
    return BEYOND if at_edge or curve.join > highest else FOUND


def economic_rate(curve: Curve, price_ratio: float | None, highest: float) -> float | None:
    """EONR, 0 where the first kg of N does not pay; None beyond the highest rate or without prices."""
    if price_ratio is None:
        return None
    if curve.model == QUADRATIC:
        rate = (price_ratio - curve.b) / (2 * curve.shape) if curve.shape < 0 else np.inf
    else:
        shape, b = np.array([curve.shape]), np.array([curve.b])
        rate = float(SHAPES[curve.model].economic(shape, b, price_ratio)[0])
    at_edge = curve.model == LINEAR_PLATEAU and rate >= highest * (1 - 1e-9)
    return None if at_edge or rate > highest else max(float(rate), 0.0)


def _mitscherlich_flag(curve: Curve, sums: RateSums, price_ratio: float | None) -> str:
    """An asymptote has no join: what can be found is the economic rate."""
    if curve.b <= 0:
        return NEGATIVE
    if curve.shape >= SHAPES[MITSCHERLICH].grid(sums.rates)[-1] * (1 - 1e-9):
        return BELOW
    if price_ratio is None:
        return FOUND
    return FOUND if economic_rate(curve, price_ratio, float(sums.rates.max())) is not None else BEYOND


def _join_interval(curve: Curve, sums: RateSums, conf_level: float) -> Interval:
    if curve.model == QUADRATIC:
        return fieller(curve, sums, 0.0, conf_level) if curve.shape < 0 else (None, None)
    return shape_interval(curve, sums, conf_level)


def _within(interval: Interval, highest: float) -> Interval:
    """Bounds no higher than the rates tested reach: one beyond what prints as the highest is open; one below zero is
    zero.
    """
    low, high = interval
    low = None if low is None else min(max(low, 0.0), highest)
    return low, (None if high is None or high > highest + PRINTED_ALIKE_KG_HA else max(high, 0.0))


def _aonr_std_error(curve: Curve, sums: RateSums) -> float:
    if curve.model == QUADRATIC:
        gradient = (0.0, -1 / (2 * curve.shape), curve.b / (2 * curve.shape**2))
        return std_error(curve, sums, gradient)
    return std_error(curve, sums, (0.0, 0.0, 1.0))


def _eonr_std_error(curve: Curve, sums: RateSums, price_ratio: float) -> float:
    """Delta-method standard error of the economic rate, gradients in closed form."""
    b, shape = curve.b, curve.shape
    if curve.model == QUADRATIC:
        gradient = (0.0, -1 / (2 * shape), (b - price_ratio) / (2 * shape**2))
    elif curve.model == LINEAR_PLATEAU:
        gradient = (0.0, 0.0, 1.0)
    else:
        gradient = (0.0, shape * price_ratio / b**2, 1 - price_ratio / b)
    return std_error(curve, sums, gradient)
