from __future__ import annotations

from datetime import date

import pandas as pd
import pytest

from pipeline.display.words import numbers


@pytest.mark.parametrize(
    ("value", "digits", "written"),
    [
        (5.77, 1, "5.8"),
        (-1.04, 1, "\u22121.0"),
        (1240.6, 0, "1,241"),
        (0.0, 1, "0.0"),
        (0.04, 1, "0.04"),  # a limit above zero is not printed as zero
        (-0.004, 1, "\u22120.004"),
        (-0.00001, 1, "0.000"),  # two decimals more and no further, and no minus before zero
        (float("nan"), 1, "not known"),
        (pd.NA, 0, "not known"),
    ],
)
def test_number(value, digits, written):
    assert numbers.number(value, digits) == written


def test_a_range_has_no_dash():
    assert numbers.between(-8.4, 19.77, 1) == "\u22128.4 to 19.8"


@pytest.mark.parametrize(
    ("value", "written"),
    [(0.0004, "p < 0.001"), (0.0236, "p = 0.024"), (0.0999, "p = 0.100"), (0.56, "p = 0.56")],
)
def test_p_value(value, written):
    assert numbers.p_value(value) == written


@pytest.mark.parametrize(
    ("text", "written"),
    [
        ("", "no season yet"),
        ("2091", "2091"),
        ("2091, 2092", "2091 and 2092"),
        ("2091, 2092, 2093", "2091 to 2093"),
        ("2091, 2092, 2094", "2091, 2092 and 2094"),
        ("2086, 2091, 2092, 2093", "2086 and 2091 to 2093"),
    ],
)
def test_seasons(text, written):
    assert numbers.seasons(text) == written


def test_metric_stands_beside_and_never_twice():
    row = {"gain": 5.77, "gain_kg_ha": 362.2, "unit": "bu/ac", "digits": 1}
    assert numbers.with_metric(row, "gain") == "5.8 bu/ac (362 kg/ha)"
    assert numbers.with_metric({"gain": 362.2, "unit": "kg/ha", "digits": 0}, "gain") == "362 kg/ha"
    rate = {"rate_lb_ac": 80.0, "rate_kg_ha": 89.67}
    assert numbers.n_rate(rate | {"unit": "bu/ac"}) == "80 lb/ac (90 kg/ha)"
    assert numbers.n_rate(rate | {"unit": "kg/ha"}) == "90 kg/ha"


def test_row_numbers_are_drawn_together():
    assert numbers.row_numbers([5]) == "row 5"
    assert numbers.row_numbers([5, 7, 8]) == "rows 5, 7 to 8"
    assert numbers.row_numbers([12, 5, 6, 7]) == "rows 5 to 7, 12"


def test_counts_and_days():
    assert numbers.count(1, "site-year") == "1 site-year"
    assert numbers.count(2, "site-year") == "2 site-years"
    assert numbers.day(date(2093, 5, 2)) == "May 2, 2093"
    assert numbers.day(pd.NaT) == "not known"
    assert numbers.month_day("05-01") == "May 1"
    assert numbers.listed(["a", "b", "c"]) == "a, b and c"
