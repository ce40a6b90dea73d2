"""Intervals of optimum rates that hold near the edge of what was tested: profiles of the sum of squares.

The interval holds every value at which the best curve through it fits no worse than F(1, df) allows
(Bates and Watts 1988, Nonlinear Regression Analysis and Its Applications, chapter 6; for the economic
optimum Hernandez and Mulla 2008, Agronomy Journal 100:1221-1230; both from memory). A side on which the
profile never closes is None: open. Pages print one that passes the highest rate by less than a printed digit as that
rate. First-order (delta) standard errors stand beside them.

Measured on 5,000 simulated ladders in each of four settings (test_coverage.py, slow): 95% intervals of the economic
optimum held the truth in 94.2 to 95.4%, also where the join lay near the highest rate or beyond it; those of the join
in 94.2 to 95.5%, and in 99.5% where it lay beyond, since an open end cannot miss.
"""

from __future__ import annotations

from collections.abc import Callable
from functools import lru_cache

import numpy as np
from scipy import stats
from scipy.optimize import brentq

from pipeline.contract.units import KG_HA_PER_LB_AC
from pipeline.estimates.n_response.curves import QUADRATIC, SHAPES, Curve, projection, sse_of
from pipeline.estimates.n_response.rate_sums import RateSums

Interval = tuple[float | None, float | None]
LOCAL_POINTS = 101
ROUNDS = 5  # each looks at two steps of the one before, 50 times as close: the last at about 1e-6 kg/ha
PRINTED_ALIKE_KG_HA = (
    KG_HA_PER_LB_AC  # pages print whole lb/ac or kg/ha: a bound so little beyond the highest rate may print as it
)


@lru_cache(maxsize=16)  # asked of one curve at every price
def shape_interval(curve: Curve, sums: RateSums, conf_level: float) -> Interval:
    """Profile interval of the join of a plateau curve."""
    grid = SHAPES[curve.model].grid(sums.rates)
    limit = allowed_sse(curve, conf_level)
    inside = grid[sse_of(curve.model, sums, grid) <= limit]
    first, last = min([curve.shape, *inside]), max([curve.shape, *inside])

    def excess(shape: float) -> float:
        return float(sse_of(curve.model, sums, np.array([shape]))[0]) - limit

    below, above = grid[grid < first], grid[grid > last]
    low = _crossing(excess, first, below[-1]) if len(below) else None
    high = _crossing(excess, last, above[0]) if len(above) else None
    return low, high


def economic_interval(curve: Curve, sums: RateSums, price_ratio: float, conf_level: float) -> Interval:
    """Interval of the economic optimum, not clipped to the rates tested: profile, or Fieller for a quadratic.

    At each join in its own interval the optimum grows with b, and b may lie within -+ sqrt(spare sum of
    squares / squares of the basis): the ends are the extremes over the joins. A join that may lie below two
    rates leaves the low side open, one that may lie beyond the highest rate usually the high side.
    """
    if curve.model == QUADRATIC:
        return fieller(curve, sums, price_ratio, conf_level)
    limit = allowed_sse(curve, conf_level)
    first, last = shape_interval(curve, sums, conf_level)
    shapes = _shapes_within(curve, sums, first, last)

    def end(shape: np.ndarray, side: int) -> np.ndarray:
        squares, b, sse = projection(curve.model, sums, shape)
        b = np.maximum(b + side * np.sqrt(np.maximum(limit - sse, 0.0) / squares), 1e-12 * abs(curve.b))
        return SHAPES[curve.model].economic(shape, b, price_ratio)

    low = None if first is None else _smallest(lambda shape: end(shape, -1), shapes)
    high = -_smallest(lambda shape: -end(shape, +1), shapes)
    return low, None if last is None and high >= shapes[-1] else high


def fieller(curve: Curve, sums: RateSums, price_ratio: float, conf_level: float) -> Interval:
    """Exact interval of (price_ratio - b) / 2c of a quadratic (Fieller 1954, JRSS B 16:175-185).

    All rates at which the slope is not distinguishable from the price ratio. Where the curvature is not
    distinguishable from none, the side that runs through a straight line is open.
    """
    t2 = stats.t.ppf((1 + conf_level) / 2, curve.df) ** 2
    variance = covariance(curve, sums)[1:, 1:]
    rise = curve.b - price_ratio
    square = 4 * (curve.shape**2 - t2 * variance[1, 1])
    middle = 2 * (rise * curve.shape - t2 * variance[0, 1])
    constant = rise**2 - t2 * variance[0, 0]
    within = middle**2 - square * constant
    if within <= 0 or square == 0:
        return None, None
    roots = sorted((-middle + side * np.sqrt(within)) / square for side in (-1, 1))
    if square > 0:
        return float(roots[0]), float(roots[1])
    estimate = -rise / (2 * curve.shape)
    return (float(roots[1]), None) if estimate >= roots[1] else (None, float(roots[0]))


@lru_cache(maxsize=16)
def covariance(curve: Curve, sums: RateSums) -> np.ndarray:
    """First-order covariance matrix of (a, b, shape), from the derivatives at the fit."""
    if curve.model == QUADRATIC:
        slopes = np.column_stack([sums.rates, sums.rates**2])
    else:
        shape, parts = np.array([curve.shape]), SHAPES[curve.model]
        slopes = np.hstack([parts.basis(sums.rates, shape), curve.b * parts.slope(sums.rates, shape)])
    variance = curve.sse / curve.df
    inner = variance * np.linalg.pinv(slopes.T @ sums.sum_square @ slopes)
    at_mean = sums.mean_of(sums.shares) @ slopes
    of_means = variance * np.sum(sums.weights**2 / sums.sizes) / sums.weights.sum() ** 2
    a_variance = of_means + at_mean @ inner @ at_mean
    beside = -inner @ at_mean
    return np.block([[np.array([[a_variance]]), beside[None, :]], [beside[:, None], inner]])


def std_error(curve: Curve, sums: RateSums, gradient: tuple[float, float, float]) -> float:
    """Delta-method standard error of a function of (a, b, shape) with this gradient."""
    return float(np.sqrt(np.array(gradient) @ covariance(curve, sums) @ np.array(gradient)))


@lru_cache(maxsize=16)
def allowed_sse(curve: Curve, conf_level: float) -> float:
    return curve.sse * (1 + float(stats.f.ppf(conf_level, 1, curve.df)) / curve.df)


def _crossing(excess: Callable[[float], float], inside: float, outside: float) -> float:
    """Where the profile leaves the interval; plots that a curve fits exactly leave no inside."""
    if excess(inside) >= 0:
        return inside
    return float(brentq(excess, inside, outside, xtol=1e-10))


def _shapes_within(curve: Curve, sums: RateSums, first: float | None, last: float | None) -> np.ndarray:
    grid = SHAPES[curve.model].grid(sums.rates)
    low, high = first or grid[0], last or grid[-1]
    reach = min(high, max(sums.rates.max(), curve.shape))
    near = low + (reach - low) * (1 - np.cos(np.linspace(0, np.pi, LOCAL_POINTS))) / 2  # dense at the ends
    return np.unique(np.concatenate([grid[(grid > low) & (grid < high)], near, [curve.shape, high]]))


def _smallest(ends: Callable[[np.ndarray], np.ndarray], shapes: np.ndarray) -> float:
    """Smallest end over the shapes, looked for ever closer between the neighbors of the smallest so far.

    All points of a round are one call: an optimizer that asks for one at a time takes several times as long.
    """
    smallest = np.inf
    for _ in range(ROUNDS):
        found = ends(shapes)
        best = int(np.argmin(found))
        smallest = min(smallest, float(found[best]))
        low, high = shapes[max(best - 1, 0)], shapes[min(best + 1, len(shapes) - 1)]
        shapes = np.linspace(low, high, LOCAL_POINTS)
    return smallest
