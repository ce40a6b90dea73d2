import numpy as np
import pytest
from scipy import stats

from pipeline.estimates.n_response import curves
from pipeline.estimates.n_response.rate_sums import rate_sums
from pipeline.estimates.n_response.resampling import (
    ResampledCurves,
    drawn_counts,
    percentiles,
    resampled_curves,
)

RATES, BLOCKS = np.tile([0.0, 60, 120, 180, 240], 4), np.repeat(list("abcd"), 5)


@pytest.fixture(scope="module")
def values(make):
    return 5000 + 50 * make.bend(RATES, 160) + np.random.default_rng(2).normal(0, 300, 20)


@pytest.mark.parametrize("model", curves.POOLED_MODELS)
def test_a_resample_is_a_fit_to_the_blocks_drawn(values, model):
    """Blocks a, a, c, d drawn: as if block b were not there and a stood twice, to a step of the grid."""
    found = resampled_curves(rate_sums(RATES, values, BLOCKS), np.array([[2.0, 0, 1, 1]]), model)
    rows = [np.flatnonzero(BLOCKS == block) for block in "aacd"]
    drawn = rate_sums(RATES[:20], values[np.concatenate(rows)], np.repeat(list("aAcd"), 5))
    expected = curves.fit(model, drawn)
    step = 1.2 if model in (curves.QUADRATIC_PLATEAU, curves.LINEAR_PLATEAU) else 0.05 * abs(expected.shape)
    assert found.shape[0] == pytest.approx(expected.shape, abs=1e-9 if model == curves.QUADRATIC else step)
    assert found.b[0] == pytest.approx(expected.b, rel=0.03)
    assert found.a[0] == pytest.approx(expected.a, rel=0.01)


def test_counts_are_the_same_every_time_and_draw_as_many_as_there_are():
    counts = drawn_counts(6, n_resamples=50)
    assert np.array_equal(counts, drawn_counts(6, n_resamples=50))
    assert set(counts.sum(axis=1)) == {6}
    assert counts.std() > 0


def test_economic_rates_of_odd_resamples():
    """Falling yield: 0. N too dear: 0. Join under two rates: below all. Quadratic bending up: above all."""
    odd = ResampledCurves(
        curves.QUADRATIC_PLATEAU,
        np.zeros(3),
        np.array([-5.0, 4.0, 50.0]),
        np.full(3, 100.0),
        np.array([False, False, True]),
    )
    assert odd.economic_rates(6.0).tolist() == [0, 0, -np.inf]
    assert odd.joins().tolist() == [0, 100, -np.inf]
    bent = ResampledCurves(
        curves.QUADRATIC, np.zeros(2), np.array([10.0, 10.0]), np.array([0.1, -0.1]), np.zeros(2, bool)
    )
    assert bent.economic_rates(6.0).tolist() == pytest.approx([np.inf, 20.0])


def test_percentiles_are_open_where_resamples_leave_the_rates_tested():
    values = np.concatenate([np.full(10, -np.inf), np.linspace(50, 100, 80), np.full(10, 300.0)])
    assert percentiles(values, 0.95, n_clusters=1000, highest=240) == (None, None)
    assert percentiles(values, 0.70, n_clusters=1000, highest=240) == pytest.approx((53, 97), abs=1)
    assert percentiles(np.full(10, 300.0), 0.95, n_clusters=1000, highest=240) == (240, None)


def test_percentiles_of_few_groups_lie_as_far_out_as_a_t_interval():
    """Normal resamples of SD sqrt(5/6), as 6 groups of SD of the mean 1 give: -+ t(5), 2.571."""
    normal = stats.norm.ppf((np.arange(100000) + 0.5) / 100000) * np.sqrt(5 / 6)
    low, high = percentiles(normal, 0.95, n_clusters=6, highest=240)
    assert (low, high) == pytest.approx((-2.570581836, 2.570581836), rel=1e-3)
