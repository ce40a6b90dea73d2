import itertools

import numpy as np
import pytest
import statsmodels.api as sm

from pipeline.estimates.engines.two_stage import Mean
from pipeline.estimates.where import weather_checks
from tests.weather_covariates import values

RNG = np.random.default_rng(4)
SEASONS = 2091 + np.array([0] * 3 + [1] * 4 + [2] * 2 + [3] * 5)
GIVEN = values(RNG.normal(size=14) + SEASONS % 3, RNG.normal(size=14), SEASONS)
WEIGHTS, SEASON_VARIANCE = RNG.uniform(0.5, 2, 14), 0.7


def by_hand(kept: np.ndarray) -> tuple[float, float]:
    """Slope and its error by generalized least squares with the whole covariance, of the rows that are kept."""
    v = np.diag(1 / WEIGHTS) + SEASON_VARIANCE * np.equal.outer(SEASONS, SEASONS)
    fit = sm.GLS(GIVEN.gains[kept], sm.add_constant(GIVEN.x[kept]), sigma=v[np.ix_(kept, kept)]).fit()
    return fit.params[1], fit.bse[1] / np.sqrt(fit.scale)


def test_each_season_and_site_year_left_out_is_the_regression_without_it():
    whole = by_hand(np.ones(14, bool))
    found = weather_checks.left_out(GIVEN, Mean(whole[0], whole[1], 10.0), WEIGHTS, SEASON_VARIANCE)
    assert [one.kind for one in found] == ["season"] * 4 + ["site-year"] * 14
    names = {str(season): SEASONS != season for season in np.unique(SEASONS)}
    names |= {name: np.arange(14) != n for n, name in enumerate(GIVEN.site_years["site_year_id"])}
    for one in found:
        assert (one.slope.estimate, one.slope.std_error) == pytest.approx(by_hand(names[one.left_out]), rel=1e-9)


def test_a_season_that_alone_has_the_differences_leaves_none():
    x = np.array([1.0, 2, 3, 4, 5, 6, *np.full(6, 3.5)])
    given = values(x, RNG.normal(size=12), 2091 + np.repeat([0, 1, 2], [6, 3, 3]))
    found = weather_checks.left_out(given, Mean(1.0, 1.0, 5.0), np.ones(12), 0.0)
    assert np.isnan(found[0].slope.estimate) and not np.isnan(found[1].slope.estimate)


def test_permutations_come_near_the_share_of_all_orders():
    """6 x 6 x 6 orders within three seasons of 3: every one of them by hand, against 20,000 draws."""
    rng = np.random.default_rng(14)
    seasons = np.repeat([0, 1, 2], 3)
    x, weights = rng.normal(size=9), rng.uniform(0.5, 2, 9)
    gains = 0.2 * x + rng.normal(size=9)
    given = values(x, gains, 2091 + seasons, noise=1e-6)
    dummies = (seasons[:, None] == np.arange(3)).astype(float)

    def steepness(order: np.ndarray) -> float:
        design = np.column_stack([x[order], dummies])
        return abs(sm.WLS(given.gains, design, weights=weights).fit().params[0])

    orders = [
        np.concatenate(order)
        for order in itertools.product(*(list(itertools.permutations(range(s, s + 3))) for s in (0, 3, 6)))
    ]
    found = np.array([steepness(order) for order in orders])
    exact = np.mean(found >= steepness(np.arange(9)) * (1 - 1e-9))
    assert 0.1 < exact < 0.9
    assert weather_checks.permuted(given, weights, 20000) == pytest.approx(exact, abs=0.015)


def test_permutations_are_the_same_each_time_and_small_for_a_slope_within_seasons():
    seasons = np.repeat(np.arange(4), 6)
    x = np.random.default_rng(5).normal(size=24)
    given = values(x, 4 * x, 2091 + seasons)
    share = weather_checks.permuted(given, np.ones(24))
    assert share == 1 / (1 + weather_checks.N_PERMUTATIONS) == weather_checks.permuted(given, np.ones(24))


def test_a_curve_has_the_lower_aicc_where_gains_are_bent():
    x = np.linspace(-2, 2, 20)
    straight, curved = weather_checks.line_and_curve(values(x, 3 * x**2, 2091 + np.arange(20) % 4))
    assert curved < straight - 10
    straight, curved = weather_checks.line_and_curve(values(x, x, 2091 + np.arange(20) % 4, noise=0.2))
    assert straight < curved
