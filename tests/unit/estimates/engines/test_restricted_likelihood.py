"""The third road against R: the same model and rows, no shared code.

Source and standing of each number: pipeline/contract/published_checks.yml.
"""

import numpy as np
import pandas as pd
import pytest

from pipeline.contract.vocabulary import TESTED, TO_COME
from pipeline.estimates.engines import crossed_units, one_stage, restricted_likelihood


def test_answers_of_r(answers):
    """A weighted model with places crossed with seasons: lme4 and lmerTest."""
    rows = answers("weighted_model")
    expected = answers("weighted_model_answers").set_index("quantity")["value"]
    groups = {term: rows[term].to_numpy() for term in ("place", "season", "site_year_id")}
    found = restricted_likelihood.fit(rows["gain"].to_numpy(), rows["weight"].to_numpy(), groups, n_site_years=30)
    assert found.estimate == pytest.approx(expected["estimate"], rel=1e-6)
    assert found.std_error == pytest.approx(expected["std_error"], rel=1e-4)
    assert found.df == pytest.approx(expected["df"], abs=0.01)
    for term in (*groups, "residual"):
        assert found.variances[term] == pytest.approx(expected[term], rel=5e-4)


def layout(seed, k, *, places=1, seasons=1, season_sd=0.0, place_sd=0.0, tau=2.0, n_blocks=4, two_trials=0):
    """Block gains of k site-years with unequal variances and lost blocks."""
    rng = np.random.default_rng(seed)
    of_place, of_season = rng.normal(0, place_sd, places), rng.normal(0, season_sd, seasons)
    rows = []
    for i in range(k):
        p, s = i % places, (i // places) % seasons
        true = 5 + of_place[p] + of_season[s] + rng.normal(0, tau)
        for trial in range(2 if i < two_trials else 1):
            variance = rng.uniform(2, 10)
            for _ in range(n_blocks - int(rng.integers(0, 2))):
                rows.append(
                    {
                        "gain": true + rng.normal(0, np.sqrt(variance)),
                        "variance": variance,
                        "place": f"p{p}",
                        "season": 2091 + s,
                        "site_year_id": f"{i}",
                        "trial_id": f"{i}-{trial}",
                    }
                )
    return pd.DataFrame(rows)


LAYOUTS = {
    "independent": {"k": 8},
    "places": {"k": 24, "places": 8, "seasons": 3, "place_sd": 2.0},
    "crossed": {"k": 30, "places": 6, "seasons": 5, "place_sd": 1.0, "season_sd": 2.0},
    "no spread": {"k": 20, "places": 10, "seasons": 4, "tau": 0.0},
    "one block each": {"k": 20, "places": 5, "seasons": 4, "n_blocks": 1, "place_sd": 2.0},
    "two trials at some": {"k": 12, "two_trials": 5},
}


@pytest.mark.parametrize("target", [TESTED, TO_COME])
@pytest.mark.parametrize("name", LAYOUTS)
def test_same_answer_as_the_headlines_own_fit(name, target):
    blocks = layout(list(LAYOUTS).index(name), **LAYOUTS[name])
    if name == "one block each":
        blocks = blocks.groupby("site_year_id", as_index=False).first()
    model, found = one_stage.fit_gains(blocks, target), restricted_likelihood.fit_gains(blocks, target)
    first = model.fit.coefficients.iloc[0]
    assert set(found.variances) == {*model.terms, "residual"}
    assert found.estimate == pytest.approx(first["estimate"], abs=1e-4 * first["std_error"])
    assert found.std_error == pytest.approx(first["std_error"], rel=1e-3)
    assert found.has_no_spread == model.has_no_spread
    assert one_stage.capped_df(found.df, found) == pytest.approx(one_stage.capped_df(first["df"], model), rel=0.01)
    for term in model.terms:
        assert found.variances[term] == pytest.approx(model.fit.variance(term), rel=0.01, abs=0.01)


def test_nothing_to_fit():
    assert (
        restricted_likelihood.fit_gains(
            layout(1, 6, n_blocks=1).groupby("site_year_id", as_index=False).first(), TESTED
        )
        is None
    )


def test_gradient_agrees_with_differences():
    """A wrong gradient could stop the search at a wrong place without a word."""
    blocks = layout(3, 30, places=6, seasons=5, place_sd=1.0, season_sd=2.0)
    groups = {term: blocks[term].to_numpy() for term in ("place", "season", "site_year_id")}
    units = crossed_units.units_of(blocks["gain"].to_numpy(), 1 / blocks["variance"].to_numpy(), groups)
    at = np.array([1.3, 2.1, 0.7, 1.1])
    _, gradient = restricted_likelihood._deviance(units, at, 1.0)
    for number in range(4):
        step = np.eye(4)[number] * 1e-5
        up, down = (restricted_likelihood._deviance(units, at + sign * step, 1.0)[0] for sign in (1, -1))
        assert gradient[number] == pytest.approx((up - down) / 2e-5, rel=1e-5, abs=1e-5)
