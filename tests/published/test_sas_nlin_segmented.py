"""The quadratic plateau of 16 points; other curves, errors and intervals on the same points. Price ratios are of its
own units.

Source and standing of each number: pipeline/contract/published_checks.yml.
"""

import numpy as np
import pytest

from pipeline.estimates.n_response import intervals, optimum
from pipeline.estimates.n_response.curves import (
    LINEAR_PLATEAU,
    MITSCHERLICH,
    QUADRATIC,
    QUADRATIC_PLATEAU,
    fit,
)
from pipeline.estimates.n_response.rate_sums import rate_sums

RATES = [1, 2, 3, 4, 5, 6, 7, 8, 9, 10, 11, 12, 13, 13, 15, 16]
YIELDS = [0.46, 0.47, 0.57, 0.61, 0.62, 0.68, 0.69, 0.78, 0.70, 0.74, 0.77, 0.78, 0.74, 0.80, 0.80, 0.78]
NONLINEAR = 1e-6  # relative: nonlinear least squares
CLOSED = 1e-7  # relative: closed form


@pytest.fixture(scope="module")
def sums():
    return rate_sums(np.array(RATES, float), np.array(YIELDS), np.full(16, "all"))


@pytest.fixture(scope="module")
def curve(sums):
    return fit(QUADRATIC_PLATEAU, sums)


def test_published_join_and_plateau(curve):
    assert curve.join == pytest.approx(12.7477, abs=5e-5)
    assert curve.plateau == pytest.approx(0.7775, abs=5e-5)


def test_quadratic_plateau(curve):
    found = [curve.a, curve.b, curve.c, curve.join, curve.plateau, curve.sse, curve.aic]
    expected = [0.392115260, 0.0604631882, -0.00237154046, 12.7476611, 0.777497376, 0.0100659905, -64.5328715]
    assert found == pytest.approx(expected, rel=NONLINEAR)
    assert curve.df == 13


def test_standard_errors(curve, sums):
    errors = np.sqrt(np.diag(intervals.covariance(curve, sums)))
    assert errors == pytest.approx([0.0266741580, 0.00842305068, 1.27813928], rel=NONLINEAR)
    curvature = (0.0, -1 / (2 * curve.shape), curve.b / (2 * curve.shape**2))
    assert intervals.std_error(curve, sums, curvature) == pytest.approx(0.000551318614, rel=NONLINEAR)
    plateau = (1.0, curve.shape / 2, curve.b / 2)
    assert intervals.std_error(curve, sums, plateau) == pytest.approx(0.0123189923, rel=NONLINEAR)


def test_profile_interval_of_the_join(curve, sums):
    assert intervals.shape_interval(curve, sums, 0.95) == pytest.approx((10.0991872, 16.8590780), rel=NONLINEAR)


@pytest.mark.parametrize("ratio, expected", [(0.01, 10.6393268), (0.02, 8.53099258), (0.03, 6.42265832)])
def test_economic_optimum(curve, ratio, expected):
    assert optimum.economic_rate(curve, ratio, 16.0) == pytest.approx(expected, rel=NONLINEAR)


def test_an_upper_bound_just_beyond_the_highest_rate_is_kept_for_print_to_decide(curve, sums):
    found = optimum.optimum(curve, sums, 0.02, 0.95)
    assert found.flag == optimum.FOUND
    assert found.eonr_std_error == pytest.approx(0.438591765, rel=NONLINEAR)
    assert found.aonr_low == pytest.approx(10.0991872, rel=NONLINEAR)
    assert found.aonr_high == pytest.approx(16.8590780, rel=NONLINEAR)  # the highest rate is 16


@pytest.mark.parametrize("ratio", [0.01, 0.02, 0.03])
def test_economic_interval_agrees_with_a_search_over_all_curves(curve, sums, ratio):
    """Every (b, join) on a fine net that fits well enough: the least and the greatest optimum among them."""
    slopes, joins = np.linspace(0.03, 0.12, 1501), np.linspace(9.5, 18, 1501)
    basis = np.minimum.outer(np.array(RATES, float), joins)
    basis -= basis**2 / (2 * joins)
    centered, yields = basis - basis.mean(axis=0), np.array(YIELDS) - np.mean(YIELDS)
    squares, cross = (centered**2).sum(axis=0), yields @ centered
    sse = yields @ yields - 2 * slopes[:, None] * cross + slopes[:, None] ** 2 * squares
    within = sse <= intervals.allowed_sse(curve, 0.95)
    optima = (joins * (1 - ratio / slopes[:, None]))[within]
    expected = (optima.min(), optima.max())
    assert intervals.economic_interval(curve, sums, ratio, 0.95) == pytest.approx(expected, abs=0.02)


def test_linear_plateau(sums):
    curve = fit(LINEAR_PLATEAU, sums)
    found = [curve.a, curve.b, curve.join, curve.plateau, curve.sse, curve.aic]
    expected = [0.412857144, 0.0438095234, 8.00951093, 0.76375, 0.0117779762, -62.0197691]
    assert found == pytest.approx(expected, rel=NONLINEAR)
    assert optimum.economic_rate(curve, 0.02, 16.0) == curve.join
    assert optimum.economic_rate(curve, 0.05, 16.0) == 0  # dearer than the slope


def test_quadratic_and_fieller(sums):
    curve = fit(QUADRATIC, sums)
    found = [curve.a, curve.b, curve.c, curve.join, curve.sse, curve.aic]
    expected = [0.402369679, 0.0560091454, -0.00204843397, 13.6712108, 0.0105083713, -63.8447156]
    assert found == pytest.approx(expected, rel=CLOSED)
    at_prices = optimum.optimum(curve, sums, 0.02, 0.95)
    assert at_prices.eonr == pytest.approx(8.78943278, rel=CLOSED)
    assert at_prices.eonr_std_error == pytest.approx(0.388225854, rel=CLOSED)
    assert (at_prices.eonr_low, at_prices.eonr_high) == pytest.approx((7.94247544, 9.77826439), rel=CLOSED)
    assert intervals.fieller(curve, sums, 0.0, 0.95) == pytest.approx((12.0127087, 17.3323431), rel=CLOSED)


def test_mitscherlich(sums):
    """Written there as asymptote - drop x exp(-constant x rate)."""
    curve = fit(MITSCHERLICH, sums)
    found = [curve.plateau, curve.b, curve.c, curve.sse, curve.aic]
    assert found == pytest.approx([0.812968226, 0.455161729, 0.195959512, 0.00996802289, -64.6893548], rel=NONLINEAR)
    assert curve.a == pytest.approx(curve.plateau - curve.b)
    assert optimum.economic_rate(curve, 0.02, 16.0) == pytest.approx(7.62950113, rel=NONLINEAR)
    assert optimum.economic_rate(curve, 0.001, 16.0) is None  # past the highest rate
