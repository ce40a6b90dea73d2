"""The standardized precipitation index: its classes, and its numbers against a fit made by hand from the likelihood
equation.

The guide prints no worked example: the totals are invented; log(a) - digamma(a) = A was solved for the gamma shape.

Source and standing of each number: pipeline/contract/published_checks.yml.
"""

from __future__ import annotations

import numpy as np
import pytest
from scipy import optimize, special, stats

from pipeline.site_years.rainfall import spi, wmo_class

# Window totals of 30 years in mm, three of them zero.
TOTALS_MM = np.array(
    [62.3, 0, 45.1, 88.9, 12.4, 103.6, 37.8, 0, 71.2, 25.5, 54.7, 140.2, 8.3, 66.0, 93.4]
    + [31.9, 47.6, 0, 118.5, 20.7, 59.2, 76.8, 41.3, 15.6, 84.1, 52.9, 35.0, 97.7, 28.4, 68.5]
)
# Total in mm and its index, as computed in R.
SPI_OF_TOTAL = [
    (0, -1.28155157),
    (8.3, -1.21320601),
    (20, -0.875355809),
    (50, 0.0802134872),
    (62.3, 0.401769170),
    (100, 1.21135355),
    (118.5, 1.54326033),
    (140.2, 1.89560974),
]
# Closed form once the shape is solved for: what is left is the solver's stop rule.
REL = 1e-7


@pytest.mark.parametrize(("total", "expected"), SPI_OF_TOTAL)
def test_index_agrees_with_r(total, expected):
    assert spi(total, TOTALS_MM) == pytest.approx(expected, rel=REL)


@pytest.mark.parametrize("total", [8.3, 62.3, 140.2])
def test_index_agrees_with_the_likelihood_equation(total):
    positive = TOTALS_MM[TOTALS_MM > 0]
    a = np.log(positive.mean()) - np.log(positive).mean()
    shape = optimize.brentq(lambda s: np.log(s) - special.digamma(s) - a, 0.01, 100, xtol=1e-13)
    below = special.gammainc(shape, total * shape / positive.mean())
    assert spi(total, TOTALS_MM) == pytest.approx(stats.norm.ppf(0.1 + 0.9 * below), rel=REL)


# Table 1 of the guide: the printed limits of each class, to its two decimals.
WMO_TABLE_1 = [
    ("extremely wet", 2.0, 9.9),
    ("very wet", 1.5, 1.99),
    ("moderately wet", 1.0, 1.49),
    ("near normal", -0.99, 0.99),
    ("moderately dry", -1.49, -1.0),
    ("severely dry", -1.99, -1.5),
    ("extremely dry", -9.9, -2.0),
]


@pytest.mark.parametrize(("word", "lowest", "highest"), WMO_TABLE_1)
def test_both_printed_limits_lie_in_the_class(word, lowest, highest):
    assert wmo_class(lowest) == word
    assert wmo_class(highest) == word


# The gaps that the table leaves between its printed limits.
@pytest.mark.parametrize(
    ("index", "word"),
    [
        (1.995, "very wet"),
        (1.495, "moderately wet"),
        (0.995, "near normal"),
        (-0.995, "near normal"),
        (-1.495, "moderately dry"),
        (-1.995, "severely dry"),
    ],
)
def test_indices_between_printed_limits_have_a_class(index, word):
    assert wmo_class(index) == word
