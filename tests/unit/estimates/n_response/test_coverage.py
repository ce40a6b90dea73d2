"""How often the profile interval holds the truth: simulated quadratic-plateau ladders, intervals open where they
are.
"""

import numpy as np
import pytest

from pipeline.estimates.n_response import curves, optimum
from pipeline.estimates.n_response.rate_sums import rate_sums

RATIO, SLOPE = 6.0, 55.0
# rates, join, plot SD, blocks. The second and third barely reach the join, or do not.
SETTINGS = [
    ((0, 60, 120, 180, 240), 150.0, 690.0, 4),
    ((0, 90, 135, 180), 170.0, 690.0, 4),
    ((0, 90, 135, 180), 200.0, 690.0, 4),
    ((0, 40, 80, 120, 160, 200), 150.0, 400.0, 3),
]


def covered(make, rates, join, plot_sd, n_blocks, n_runs):
    """Shares of responding ladders whose interval holds the true join and the true economic optimum."""
    rng = np.random.default_rng(41)
    x, blocks = np.tile(np.array(rates, float), n_blocks), np.repeat(np.arange(n_blocks), len(rates))
    truth = np.array([join, join * (1 - RATIO / SLOPE)])
    held = []
    for _ in range(n_runs):
        values = SLOPE * make.bend(x, join) + rng.normal(0, 350, n_blocks)[blocks] + rng.normal(0, plot_sd, len(x))
        sums = rate_sums(x, values, blocks)
        curve = curves.fit(curves.PRIMARY, sums)
        if optimum.response_flag(curve, sums, 0.95) == optimum.FOUND:
            found = optimum.optimum(curve, sums, RATIO, 0.95)
            lows = [-np.inf if low is None else low for low in (found.aonr_low, found.eonr_low)]
            highs = [np.inf if high is None else high for high in (found.aonr_high, found.eonr_high)]
            held.append((lows <= truth) & (truth <= highs))
    assert len(held) > 0.95 * n_runs
    return np.mean(held, axis=0)


def test_profile_interval_covers(make):
    shares = covered(make, *SETTINGS[0], n_runs=400)
    assert np.all(shares >= 0.93)  # 0.95 less two Monte Carlo errors of 0.011
    assert np.all(shares <= 0.985)


@pytest.mark.slow
@pytest.mark.parametrize("setting", SETTINGS)
def test_profile_interval_covers_at_length(make, setting):
    """An open interval, or one that ends at the highest rate, can only hold the truth oftener."""
    shares = covered(make, *setting, n_runs=5000)
    assert np.all(shares >= 0.94)
    assert shares[1] <= 0.975
