"""The profiled REML criterion against the formula written out with whole matrices, and its derivatives against
differences.
"""

from __future__ import annotations

import numpy as np
import pytest

from pipeline.estimates.engines.profiled_reml import cross_products, lowest, slopes_left, solved_at


@pytest.fixture(scope="module")
def model():
    """Three crossed terms, three fixed effects, uneven weights."""
    rng = np.random.default_rng(5)
    n = 60
    groups = [np.r_[np.arange(size), rng.integers(0, size, n - size)] for size in (20, 6, 4)]
    x = np.column_stack([np.ones(n), rng.normal(size=n), groups[2] == 1])
    y = 300 + sum(rng.normal(size=codes.max() + 1)[codes] * 2 for codes in groups) + rng.normal(size=n)
    return y, x, groups, rng.uniform(0.5, 2, n)


def dense(model, phi: np.ndarray) -> tuple[float, np.ndarray, np.ndarray]:
    """(criterion, fixed effects, their covariance) by the covariance of all rows: Harville 1977."""
    y, x, groups, weights = model
    h = np.diag(1 / weights) + sum(f * np.equal.outer(codes, codes) for f, codes in zip(phi, groups, strict=True))
    inverse = np.linalg.inv(h)
    of_beta = np.linalg.inv(x.T @ inverse @ x)
    beta = of_beta @ x.T @ inverse @ y
    df = len(y) - x.shape[1]
    s2 = (y - x @ beta) @ inverse @ (y - x @ beta) / df
    determinants = np.linalg.slogdet(h)[1] - np.linalg.slogdet(of_beta)[1]
    return df * (1 + np.log(2 * np.pi * s2)) + determinants, beta, s2 * of_beta


@pytest.mark.parametrize("phi", [(0.3, 2.0, 5.0), (0.0, 1.0, 0.0), (0.0, 0.0, 0.0), (1e-8, 400.0, 1e3)])
def test_criterion_fixed_effects_and_covariance(model, phi):
    rows = cross_products(*model)
    at = solved_at(rows, np.array(phi))
    criterion, beta, covariance = dense(model, phi)
    assert at.criterion == pytest.approx(criterion, rel=1e-10)
    assert rows.ols + at.beta == pytest.approx(beta, rel=1e-8)
    assert at.ss / rows.residual_df * at.of_beta == pytest.approx(covariance, rel=1e-6, abs=1e-9)


def differences(function, at: np.ndarray) -> np.ndarray:
    """Central differences, one row per component of at."""
    steps = np.eye(len(at)) * 1e-5
    return np.array([(function(at + step) - function(at - step)) / 2e-5 for step in steps])


def test_derivatives(model):
    rows, phi = cross_products(*model), np.array([0.3, 2.0, 5.0])
    at = solved_at(rows, phi)
    assert at.gradient == pytest.approx(differences(lambda p: solved_at(rows, p).criterion, phi), rel=1e-5)
    assert at.curvature == pytest.approx(differences(lambda p: solved_at(rows, p).gradient, phi), rel=1e-5, abs=1e-8)
    of_beta = differences(lambda p: solved_at(rows, p).of_beta, phi)
    assert at.beta_gradients == pytest.approx(of_beta, rel=1e-5, abs=1e-7)


def test_the_minimum_is_flat_and_below_all_around(model):
    rows = cross_products(*model)
    at = lowest(rows)
    assert slopes_left(rows, at) < 1e-6
    around = np.random.default_rng(1).uniform(0.5, 1.5, (50, 3)) * at.phi
    assert all(solved_at(rows, phi).criterion > at.criterion for phi in around)


@pytest.mark.parametrize("phi", [(0.3, 2.0, 5.0), (0.3, 0.02, 5.0), (0.0, 2.0, 5.0), (0.0, 2.0, 0.0)])
def test_the_steepest_slope_left_is_that_of_whichever_variance_is_furthest_off(model, phi):
    """By differences of the whole-matrix criterion, in variances of a level's mean; up from zero none is down."""
    _, _, groups, weights = model
    unit = [len(np.unique(codes)) / weights.sum() for codes in groups]
    steps = [np.eye(3)[term] * 1e-6 for term in range(3)]
    ahead = [(dense(model, phi + step)[0] - dense(model, phi)[0]) / 1e-6 for step in steps]
    down = [-slope if at == 0 else abs(slope) for slope, at in zip(ahead, phi, strict=True)]
    expected = max(np.multiply(down, unit))
    found = slopes_left(cross_products(*model), solved_at(cross_products(*model), np.array(phi)))
    assert found == pytest.approx(expected, rel=1e-3)


def test_a_variance_that_wants_below_zero_is_zero():
    groups = [np.repeat(np.arange(6), 4), np.tile(np.arange(4), 6)]
    y = np.tile([1.0, -1, 1.2, -1.3], 6) + np.outer([1, -1] * 3, [0.1, -0.1, -0.1, 0.1]).ravel()
    at = lowest(cross_products(y, np.ones((24, 1)), groups, np.ones(24)))
    assert at.phi[0] == 0 and at.gradient[0] > 0 and at.phi[1] > 1
