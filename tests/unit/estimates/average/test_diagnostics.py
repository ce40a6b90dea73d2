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
                "method": "mixed model",
                "estimate": 10.0,
                "tau2": 9.0,
            }
        ]
    )
    return made_of(pooled)


def made_of(pooled: pd.DataFrame) -> pd.DataFrame:
    site_years = pd.DataFrame(
        {
            "comparison_id": ["c", "c", "c", "d"],  # of c and pooled are the first two
            "site_year_id": ["a", "b", "z", "a"],
            "gain": [15.0, 5.0, 99.0, 99.0],
            "std_error": [4.0, np.nan, 1.0, 1.0],
            "is_pooled": [True, True, False, True],
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


def test_a_plain_mean_that_leads_has_the_spread_of_the_two_stage_average():
    """5 beyond the average with an error of 4, among site-years that differ by 3: one standard deviation, not 1.25."""
    shared = {"comparison_id": "c", "target": "seasons tested", "moderator": "all", "estimate": 10.0}
    of_method = [("plain mean", True, np.nan), ("two-stage", False, 9.0), ("mixed model", False, 400.0)]
    pooled = pd.DataFrame([shared | {"method": m, "is_headline": leads, "tau2": t} for m, leads, t in of_method])
    pooled = pd.concat([pooled, pooled.assign(comparison_id="d", is_headline=False, tau2=1.0)], ignore_index=True)
    found = made_of(pooled)
    of_site_years = found.loc[found["kind"] == SITE_YEAR, "standardized"].to_list()
    assert of_site_years == [1.0, pytest.approx(np.nan, nan_ok=True)]  # 5 / sqrt(16 + 9)


def test_an_error_of_zero_is_none_to_go_by():
    """Plots of a treatment that yield the same: no residual is endlessly far out."""
    used = pd.DataFrame({"comparison_id": "c", "site_year_id": ["a", "b"], "gain": [15.0, 5.0], "std_error": 0.0})
    assert diagnostics._of_site_years(used, 10.0, None)["standardized"].isna().all()
    assert diagnostics._of_site_years(used, 10.0, 25.0)["standardized"].to_list() == [1.0, -1.0]
    blocks = pd.DataFrame({"comparison_id": "c", "site_year_id": "a", "trial_id": "t", "block": ["1", "2"]})
    blocks = blocks.assign(gain=[13.0, 17.0], variance=0.0)
    assert diagnostics._of_blocks(blocks)[["standardized", "normal_quantile"]].isna().all(axis=None)


def test_nothing_to_look_at():
    empty = pd.DataFrame(columns=["is_headline", "moderator", "target", "estimate", "method", "comparison_id", "tau2"])
    assert diagnostics.diagnostics(empty, empty, empty, empty).empty
