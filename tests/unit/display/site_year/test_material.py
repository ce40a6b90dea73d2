"""What a site-year's page is made from: amounts as they are printed, of which the page is the same."""

from __future__ import annotations

import numpy as np
import pytest

from pipeline.display.site_year.material import _printed
from pipeline.display.words import money
from pipeline.display.words.numbers import number

HALVES = [sign * (n / 20 + off) for n in range(1, 400) for sign in (1, -1) for off in (0.0, 1e-12, -1e-12)]
SMALL = [0.0, -0.0, 0.0049, 0.005, -0.0051, 0.04999, -0.05, 0.051, 0.49, -0.5, 0.51, float("nan")]
DRAWN = list(np.random.default_rng(4).normal(0, 30, 2000))


@pytest.mark.parametrize("digits", [0, 1, 2])
def test_of_an_amount_as_printed_the_same_is_printed_and_drawn(digits):
    values = [np.float64(value) for value in HALVES + SMALL + DRAWN]
    printed = [_printed(value, digits) for value in values]
    assert [number(value, digits) for value in printed] == [number(value, digits) for value in values]
    assert np.array_equal(np.round(printed, digits), np.round(values, digits), equal_nan=True)
    assert np.array_equal(np.sign(printed), np.sign(values), equal_nan=True)


def test_of_a_net_return_as_printed_the_same_is_printed():
    values = [np.float64(value) for value in HALVES + SMALL[:-1] + DRAWN]
    assert [money.dollars(_printed(value, 0), "$") for value in values] == [money.dollars(v, "$") for v in values]


def test_what_moves_below_the_printed_decimals_moves_nothing():
    assert _printed(5.8123, 1) == _printed(5.8124, 1) == 5.8 and _printed(5.84, 1) != _printed(5.86, 1)
