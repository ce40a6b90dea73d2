"""Power of a random-effects mean: lambda = delta / sqrt((v + tau2) / k).

The powers are by the normal distribution, both tails; with many df the noncentral t must come to them, less the far
tail.

Source and standing of each number: pipeline/contract/published_checks.yml.
"""

import pytest
from scipy import stats

from pipeline.planning.precision import Precision

V, K, DELTA = 0.0804, 10, 0.2


@pytest.mark.parametrize("ratio, power", [(0, 0.606639456), (0.33, 0.489727278), (0.67, 0.407624926), (1, 0.351149884)])
def test_power(ratio, power):
    std_error = ((V + ratio * V) / K) ** 0.5
    far_tail = stats.norm.cdf(-stats.norm.ppf(0.975) - DELTA / std_error)
    assert Precision(std_error, 1e7).power(DELTA) + far_tail == pytest.approx(power, abs=2e-7)


def test_lambda():
    assert DELTA / (V / K) ** 0.5 == pytest.approx(2.23049868, rel=1e-8)
