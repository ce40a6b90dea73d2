"""Test and reference yields of 12 pairs on the ratio scale, limits 0.80 and 1.25; one pair stands for one site-year.

Source and standing of each number: pipeline/contract/published_checks.yml.
"""

from datetime import date

import pandas as pd
import pytest

from pipeline.estimates.passes.noninferiority import Margin, noninferiority

PAIRS = (
    (103.4, 90.11),
    (59.92, 77.71),
    (68.17, 77.71),
    (94.54, 97.51),
    (69.48, 58.21),
    (72.17, 101.3),
    (74.37, 79.84),
    (84.44, 96.06),
    (96.74, 89.30),
    (94.26, 97.22),
    (48.52, 61.62),
    (95.68, 85.80),
)


@pytest.fixture(scope="module")
def row():
    site_years = pd.DataFrame(
        {"comparison_id": "c", "place": str(i), "season": 2003, "n_trials": 1, "gain": test - reference,
         "comparator_mean": reference}
        for i, (test, reference) in enumerate(PAIRS)
    )  # fmt: skip
    pooled = pd.DataFrame(columns=["comparison_id", "target", "moderator", "is_headline"])
    margins = {"c": Margin(0.20, "ratio", "limits of the source", date(2003, 1, 1))}
    found = noninferiority(pooled, site_years, margins, pd.DataFrame(columns=["comparison_id"]))
    return found[found["target"] == "seasons tested"].iloc[0]


def test_ratio_and_its_intervals(row):
    assert row["estimate"] == pytest.approx(0.941198923, rel=1e-7)
    assert row["std_error"] == pytest.approx(0.0480582601, rel=1e-7)
    assert row["df"] == 11
    assert (row["tost_low"], row["tost_high"]) == pytest.approx((0.863373520, 1.02603959), rel=1e-7)
    assert (row["lower_limit"], row["upper_limit"]) == pytest.approx((0.846727564, 1.04621067), rel=1e-7)


def test_two_one_sided_tests(row):
    assert row["p_noninferior"] == pytest.approx(0.00305933854, rel=1e-6)
    assert row["p_tost"] == pytest.approx(0.00305933854, rel=1e-6)
    assert row["is_equivalent"]


def test_noninferior_at_080(row):
    assert row["margin_limit"] == pytest.approx(0.80)
    assert row["verdict"] == "as good within the margin"
