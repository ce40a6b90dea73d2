"""Variance of a treatment difference over combined experiments: sqrt((tau2 + 2 sigma2 / r) / k), equal to
sqrt(2 MS_TE / (k r)) where the design is balanced. The Machines trial has k 6, r 3.

Source and standing of each number: pipeline/contract/published_checks.yml.
"""

import pandas as pd
import pytest

from pipeline.planning.precision import Components, expected_precision


def precision(tau2, sigma2, blocks, site_years):
    layout = pd.DataFrame({"place": range(site_years), "season": 1983, "n_blocks": blocks})
    return expected_precision(layout, Components(season=0, place=0, site_year=tau2, residual=2 * sigma2))


def test_machines():
    found = precision(2 * 13.9094568, 0.92462963, 3, 6)
    assert found.std_error == pytest.approx((2 * 42.653 / 18) ** 0.5, rel=1e-6)
    assert found.std_error == pytest.approx(2.17697548, rel=1e-7)


@pytest.mark.parametrize(
    "tau2, sigma2, r, k, std_error, half_width",
    [
        (0.09, 0.49, 4, 10, 0.183030052, 0.414042744),
        (0.04, 0.25, 3, 20, 0.101653005, 0.212762184),
        (0.00, 0.25, 4, 6, 0.144337567, 0.371031529),
    ],
)
def test_half_widths(tau2, sigma2, r, k, std_error, half_width):
    """Computed with R 4.2.2."""
    found = precision(tau2, sigma2, r, k)
    assert found.std_error == pytest.approx(std_error, rel=1e-8)
    assert found.half_width() == pytest.approx(half_width, rel=1e-8)


def test_power_of_the_first_row():
    """power.t.test of R 4.2.2, one-sample, one tail counted: 0.310786079; fewest k for 80 %: 32 (0.810624, both
    tails).
    """
    assert precision(0.09, 0.49, 4, 10).power(0.3) == pytest.approx(0.310786079, rel=1e-7)
    chances = {k: precision(0.09, 0.49, 4, k).power(0.3) for k in range(28, 35)}
    assert min(k for k, chance in chances.items() if chance >= 0.80) == 32
    assert chances[32] == pytest.approx(0.810624, abs=1e-6)


def test_blocks_without_end_leave_the_spread_between_sites():
    assert precision(0.09, 0.49, 10**9, 10).std_error == pytest.approx((0.09 / 10) ** 0.5, rel=1e-6)
