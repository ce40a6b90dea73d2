"""A mean without some rows, held against fits of the rows that are left."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest
import statsmodels.api as sm

from pipeline.contract.vocabulary import TESTED, TO_COME
from pipeline.estimates.engines import crossed_units, left_out, one_stage, restricted_likelihood


def blocks_of(n_places: int, n_seasons: int, *, n_blocks: int = 4, seed: int = 1, season_sd: float = 60.0):
    """Block gains of every place in every season, of unequal precision, with a fifth of the site-years missing."""
    rng = np.random.default_rng(seed)
    place, season = rng.normal(0, 60, n_places), rng.normal(0, season_sd, n_seasons)
    rows = []
    for p in range(n_places):
        for s in range(n_seasons):
            if rng.random() < 0.2:
                continue
            true, sd = 300 + place[p] + season[s] + rng.normal(0, 120), rng.uniform(150, 400)
            key = {"site_year_id": f"p{p}-{s}", "trial_id": f"p{p}-{s}", "place": f"p{p}", "season": 2090 + s}
            gains = true + rng.normal(0, sd, n_blocks)
            rows += [key | {"block": str(b), "gain": gain, "variance": sd**2} for b, gain in enumerate(gains)]
    return pd.DataFrame(rows)


@pytest.mark.parametrize("target", [TESTED, TO_COME])
@pytest.mark.parametrize(
    ("column", "n_blocks"), [("site_year_id", 4), ("place", 4), ("season", 4), ("site_year_id", 1)]
)
@pytest.mark.parametrize("most_columns", [0, crossed_units.MOST_COLUMNS], ids=["level by level", "in columns"])
def test_it_is_least_squares_of_the_rest_at_the_variances_of_all(target, column, n_blocks, most_columns, monkeypatch):
    """By statsmodels, with the covariance of the rows written out."""
    monkeypatch.setattr(crossed_units, "MOST_COLUMNS", most_columns)
    holds_what_the_rest_gives(blocks_of(8, 5, n_blocks=n_blocks), target, column)


def test_two_fields_of_a_place_in_one_season_are_left_out_one_by_one():
    """A row each, so that site-year is the residual and both are alike in every term of the model."""
    blocks = blocks_of(8, 5, n_blocks=2, season_sd=300.0)
    fields = blocks["site_year_id"] + " field " + blocks["block"]
    blocks = blocks.assign(site_year_id=fields, trial_id=fields)
    variances = restricted_likelihood.fit_gains(blocks, TO_COME).variances
    assert variances.keys() == {"place", "season", "residual"} and min(variances.values()) > 0
    holds_what_the_rest_gives(blocks, TO_COME, "site_year_id")


def holds_what_the_rest_gives(blocks: pd.DataFrame, target: str, column: str) -> None:
    whole = restricted_likelihood.fit_gains(blocks, target)
    terms = one_stage.terms_for(blocks, target)
    covariance = np.diag(whole.variances["residual"] / one_stage.block_weights(blocks, terms)[0])
    for term in terms:
        covariance += whole.variances[term] * np.equal.outer(blocks[term].to_numpy(), blocks[term].to_numpy())
    found = left_out.means_without(blocks, target, column)
    assert set(found) == set(blocks[column])
    for level, mean in found.items():
        kept = (blocks[column] != level).to_numpy()
        rest = covariance[np.ix_(kept, kept)]
        expected = sm.GLS(blocks["gain"].to_numpy()[kept], np.ones(kept.sum()), sigma=rest).fit(cov_type="fixed scale")
        assert mean.estimate == pytest.approx(expected.params[0], rel=1e-9)
        assert mean.std_error == pytest.approx(expected.bse[0], rel=1e-9)
        assert mean.most_df == blocks.loc[kept, "site_year_id"].nunique() - 1


def test_of_many_site_years_it_is_close_to_a_fit_of_the_rest():
    """What holding the variances costs: a few hundredths of a standard error where there are 200 site-years."""
    blocks = blocks_of(32, 8)
    for target in (TESTED, TO_COME):
        found = left_out.means_without(blocks, target, "site_year_id")
        assert len(found) > 190
        for level in list(found)[::40]:
            rest = restricted_likelihood.fit_gains(blocks[blocks["site_year_id"] != level], target)
            assert abs(found[level].estimate - rest.estimate) < 0.03 * rest.std_error
            assert found[level].std_error == pytest.approx(rest.std_error, rel=0.05)


def test_gains_that_do_not_scatter_have_none():
    blocks = blocks_of(8, 5).assign(gain=100.0)
    assert left_out.means_without(blocks, TESTED, "place") == {}
