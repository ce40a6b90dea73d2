"""Two one-sided tests at alpha agree with the two-sided 1 - 2 alpha interval.

Source and standing of each number: pipeline/contract/published_checks.yml.
"""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from pipeline.estimates.passes.noninferiority import TOST_ALPHA, one_sided_tests


@given(st.floats(-5, 5), st.floats(0.01, 3), st.integers(1, 60), st.floats(0.05, 5))
def test_equivalence_is_the_90_percent_interval_inside_the_limits(estimate, std_error, df, limit):
    found = one_sided_tests(estimate, std_error, df, limit)
    gap = min(abs(found["tost_low"] + limit), abs(found["tost_high"] - limit))
    if gap > 1e-9:  # on the very limit rounding decides
        inside = -limit < found["tost_low"] and found["tost_high"] < limit
        assert (found["p_tost"] < TOST_ALPHA) == inside


@given(st.floats(-5, 5), st.floats(0.01, 3), st.integers(1, 60), st.floats(0.05, 5))
def test_noninferiority_is_the_lower_limit_above_the_margin(estimate, std_error, df, limit):
    found = one_sided_tests(estimate, std_error, df, limit)
    if abs(found["lower_limit"] + limit) > 1e-9:
        assert (found["p_noninferior"] < 0.025) == (found["lower_limit"] > -limit)


def test_summary_example():
    """Estimate -0.05, SE 0.08, df 9, margin 0.20: passes at one-sided 5 %, fails at 2.5 %."""
    found = one_sided_tests(-0.05, 0.08, 9, 0.20)
    assert found["p_noninferior"] == pytest.approx(0.0467748306, rel=1e-8)
    assert found["tost_low"] == pytest.approx(-0.196649035, abs=1e-9)
    assert found["lower_limit"] == pytest.approx(-0.230972573, abs=1e-9)
