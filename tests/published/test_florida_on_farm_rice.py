"""Rice on N by hand: yield (t/ha) = 5.350 + 1.225 N - 0.228 N^2, N in 100 kg/ha; N costs 4.40/kg, rice brings 2.80/kg.

The yield at the maximum is cut to two digits in print, not rounded: 6.99 for 6.99542215.

Source and standing of each number: pipeline/contract/published_checks.yml.
"""

import pytest

from pipeline.estimates.n_response.curves import QUADRATIC, Curve
from pipeline.estimates.n_response.optimum import economic_rate

RICE = Curve(QUADRATIC, a=5.350, b=1.225, shape=-0.228, sse=1.0, n_plots=10, n_groups=1)


def test_maximum():
    assert RICE.join == pytest.approx(2.7, abs=0.05)
    assert RICE.join == pytest.approx(2.68640351, rel=1e-8)
    assert RICE.plateau == pytest.approx(6.99, abs=0.01)
    assert RICE.plateau == pytest.approx(6.99542215, rel=1e-8)


def test_economic_optimum():
    found = economic_rate(RICE, 440 / 2800, 4.0)
    assert found == pytest.approx(2.34, abs=0.005)
    assert found == pytest.approx(2.34179198, rel=1e-8)
    assert economic_rate(RICE, 440 / 2800, 2.0) is None  # never beyond the rates tested
