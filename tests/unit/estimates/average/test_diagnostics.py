"""Source and standing of each number: pipeline/contract/published_checks.yml."""

import numpy as np
import pandas as pd
import pytest

from pipeline.estimates.average import diagnostics
from pipeline.estimates.average.diagnostics import BLOCK, SITE_YEAR


def test_normal_quantiles_are_the_expected_order_statistics_of_blom():
    # expected normal order statistics of 5: 1.16296, 0.49502, 0 (Harter 1961, Biometrika 48:151-165, table 1; from
    # memory)
    assert diagnostics.normal_quantiles(np.array([3.0, 1.0, 5.0, 2.0, 4.0])) == pytest.approx(
        [0, -1.16296, 1.16296, -0.49502, 0.49502], abs=0.02
    )


@pytest.fixture
def rows() -> pd.DataFrame:
    pooled = pd.DataFrame(
        [
            {
                "comparison_id": "c",
                "target": "seasons tested",
                "moderator": "all",
                "is_headline": True,
                "estimate": 10.0,
                "tau2": 9.0,
            }
        ]
    )
    site_years = pd.DataFrame(
        {
            "comparison_id": "c",
            "site_year_id": ["a", "b"],
            "gain": [15.0, 5.0],
            "std_error": [4.0, np.nan],
            "is_pooled": True,
        }
    )
    blocks = pd.DataFrame(
        {
            "comparison_id": "c",
            "trial_id": ["t1", "t1", "t2", "t4", "t4"],
            "block": ["1", "2", "1", "1", "2"],
            "gain": [13.0, 17.0, 5.0, 6.0, 6.0],
            "variance": 8.0,
        }
    )
    trials = pd.DataFrame({"trial_id": ["t1", "t2", "t3", "t4"], "site_year_id": ["a", "b", "z", "b"]})
    return diagnostics.diagnostics(pooled, site_years, blocks, trials)


def test_a_site_year_is_held_against_the_average_by_its_error_and_the_spread(rows):
    a, b = rows[rows["kind"] == SITE_YEAR].to_dict("records")
    assert (a["residual"], a["standardized"]) == (5.0, 1.0)  # sqrt(16 + 9) = 5
    assert b["residual"] == -5.0 and np.isnan(b["standardized"]) and np.isnan(b["normal_quantile"])


def test_a_block_is_held_against_its_trial_and_a_lone_block_tells_nothing(rows):
    blocks = rows[rows["kind"] == BLOCK]
    assert blocks["residual"].tolist() == [-2.0, 2.0, 0.0, 0.0]  # two blocks that gain alike tell something too
    assert blocks["standardized"].tolist() == [-1.0, 1.0, 0.0, 0.0]  # sqrt(8 (1 - 1/2)) = 2


@pytest.mark.parametrize("tau2", [None, np.nan, 0.0])
def test_without_a_spread_a_site_year_is_held_against_its_error_alone(tau2):
    used = pd.DataFrame({"comparison_id": ["c"], "site_year_id": ["a"], "gain": [15.0], "std_error": [2.5]})
    assert diagnostics._of_site_years(used, 10.0, tau2)["standardized"].to_list() == [2.0]


def test_nothing_to_look_at():
    empty = pd.DataFrame(columns=["is_headline", "moderator", "target", "estimate"])
    assert diagnostics.diagnostics(empty, empty, empty, empty).empty
