"""The error a slope is expected to have, by other means, and what is said of seasons to come."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest
import statsmodels.api as sm

from pipeline.contract.vocabulary import DECLARED, EXCESS_WATER, EXPLORATORY, TO_COME
from pipeline.planning.next_season import NO_SEASON
from pipeline.planning.precision import Components
from pipeline.planning.slope_outlook import NO_HISTORY, expected_slope, slope_outlook

PLACES, SEASONS = 6, 4
PARTS = {"season": 4.0, "place": 3.0, "site-year": 16.0, "residual": 40.0}


def layout(rng: np.random.Generator, *, within: float = 1.0) -> pd.DataFrame:
    """Every place in every season; x differs by season, and within it by `within`."""
    season, place = np.repeat(range(SEASONS), PLACES), np.tile(range(PLACES), SEASONS)
    x = 2.0 * season + within * rng.normal(size=len(season))
    return pd.DataFrame({"place": [f"p{p}" for p in place], "season": 2091 + season, "n_blocks": 4, "x": x})


def test_error_is_that_of_generalised_least_squares():
    found = layout(np.random.default_rng(1))
    same = {name: np.equal.outer(found[name].to_numpy(), found[name].to_numpy()) for name in ("season", "place")}
    covariance = 4.0 * same["season"] + 3.0 * same["place"] + (16 + 40 / 4) * np.eye(len(found))
    fit = sm.GLS(np.zeros(len(found)), sm.add_constant(found["x"]), sigma=covariance)
    expected = np.sqrt(np.linalg.inv(fit.wexog.T @ fit.wexog)[1, 1])
    assert expected_slope(found, Components(4.0, 3.0, 16.0, 40.0)).std_error == pytest.approx(expected, rel=1e-9)


def by_whole_matrices(found: pd.DataFrame, parts: Components) -> tuple[float, float]:
    """Standard error and df of a slope by matrices of site-years x site-years."""
    same = {name: np.equal.outer(found[name].to_numpy(), found[name].to_numpy()) for name in ("season", "place")}
    of_error = np.diag(parts.site_year + parts.residual / found["n_blocks"].to_numpy())
    within = parts.place * same["place"] + of_error
    dummies = pd.get_dummies(found["season"]).to_numpy(float)
    informations = []
    for others, covariance in ((np.ones((len(found), 1)), within + parts.season * same["season"]), (dummies, within)):
        columns = np.column_stack([found["x"], others])
        informations.append(1 / np.linalg.inv(columns.T @ np.linalg.solve(covariance, columns))[0, 0])
    total, of_seasons = informations
    df_within, df_between = len(found) - dummies.shape[1] - 1, dummies.shape[1] - 2
    return total**-0.5, total**2 / (of_seasons**2 / df_within + (total - of_seasons) ** 2 / df_between)


@pytest.mark.parametrize("n_places, n_seasons", [(9, 4), (5, 11), (90, 3)])
@pytest.mark.parametrize("parts", [(4.0, 3.0, 16.0, 40.0), (0.0, 3.0, 16.0, 40.0), (4.0, 0.0, 16.0, 0.0)])
def test_error_and_df_are_those_of_whole_matrices_where_site_years_are_missing(n_places, n_seasons, parts):
    rng = np.random.default_rng([n_places, n_seasons])
    every = [(f"p{p}", 2091 + s) for p in range(n_places) for s in range(n_seasons)]
    found = pd.DataFrame(every, columns=["place", "season"]).sample(frac=0.7, random_state=rng)
    found = found.assign(
        n_blocks=rng.integers(1, 7, len(found)), x=rng.normal(size=len(found)) + 0.5 * (found["season"] - 2091)
    )
    precision = expected_slope(found, Components(*parts))
    assert (precision.std_error, precision.df) == pytest.approx(by_whole_matrices(found, Components(*parts)), rel=1e-9)


def test_without_seasons_and_places_it_is_the_error_of_a_plain_line():
    found = layout(np.random.default_rng(2))
    spread = ((found["x"] - found["x"].mean()) ** 2).sum()
    precision = expected_slope(found, Components(0.0, 0.0, 16.0, 40.0))
    assert precision.std_error == pytest.approx(np.sqrt(26 / spread))


def test_a_covariate_of_seasons_has_the_df_of_seasons():
    found = expected_slope(layout(np.random.default_rng(3), within=1e-6), Components(4.0, 3.0, 16.0, 40.0))
    assert found.df == pytest.approx(SEASONS - 2, rel=1e-3)
    within = layout(np.random.default_rng(3)).assign(x=lambda t: t["x"] - t.groupby("season")["x"].transform("mean"))
    assert expected_slope(within, Components(4.0, 3.0, 16.0, 40.0)).df == pytest.approx(
        PLACES * SEASONS - SEASONS - 1, rel=1e-3
    )


@pytest.fixture
def asked():
    """What slope_outlook asks for: values, site-years, reference years and components of one comparison."""
    rng = np.random.default_rng(4)
    site_years = layout(rng).assign(site_year_id=lambda t: t["place"] + "-" + t["season"].astype(str))
    values = site_years.rename(columns={"x": "value"}).assign(covariate=EXCESS_WATER, kind=DECLARED, unit="mm")
    years = pd.MultiIndex.from_product([[f"p{p}" for p in range(PLACES)], range(2061, 2091)], names=["place", "year"])
    reference = years.to_frame(index=False).assign(covariate=EXCESS_WATER)
    reference["value"] = 2.0 * rng.normal(size=30)[reference["year"] - 2061] + rng.normal(size=len(reference))
    components = pd.DataFrame(
        [{"comparison_id": "blend", "target": TO_COME, "component": name, "variance": v} for name, v in PARTS.items()]
    )
    return {
        "values": values,
        "site_years": site_years.drop(columns="x"),
        "reference": reference,
        "variance_components": components,
    }


def outlook(asked: dict, worth: float | None = None, **changed) -> pd.DataFrame:
    found = {EXCESS_WATER: worth} if worth else {}
    return slope_outlook("blend", **asked | changed, worth_finding=found, more_seasons=(1, 3))


def test_more_seasons_show_smaller_slopes_and_the_chance_is_that_of_the_slope(asked):
    found = outlook(asked)
    assert found["more_seasons"].tolist() == [0, 1, 3] and found["more_site_years"].tolist() == [0, 6, 18]
    k, j = PLACES * SEASONS, SEASONS
    assert found["n_site_years"].tolist() == [k, k + 6, k + 18] and found["n_seasons"].tolist() == [j, j + 1, j + 3]
    assert (found["df"] <= found["n_site_years"] - 2).all(), "of the draws of weather to come their mean"
    assert found["detectable"].is_monotonic_decreasing and found["chance"].isna().all()
    now = float(found["detectable"].iloc[0])
    again = outlook(asked, worth=now)
    assert again["chance"].iloc[0] == pytest.approx(0.8, abs=1e-6) and again["chance"].is_monotonic_increasing
    pd.testing.assert_frame_equal(
        found.drop(columns=["worth_finding", "chance"]), again.drop(columns=["worth_finding", "chance"])
    )


def test_a_second_declared_covariate_asks_more_of_each(asked):
    both = pd.concat([asked["values"], asked["values"].assign(covariate="soil warmth", value=np.nan)])
    found = outlook(asked, values=both)
    assert (found["n_tests"] == 2).all()
    assert found["detectable"].iloc[0] > outlook(asked)["detectable"].iloc[0]
    assert found.loc[found["covariate"] == "soil warmth", "reason"].iloc[0].startswith("Too few")


def test_what_is_lacking_is_said(asked):
    assert outlook(asked, values=asked["values"].assign(kind=EXPLORATORY)).empty
    few = outlook(asked, values=asked["values"].head(5))
    assert len(few) == 1 and few["reason"].iloc[0].startswith("Too few: a slope needs 10 site-years")
    no_season = outlook(asked, variance_components=asked["variance_components"].iloc[1:])
    assert no_season["reason"].tolist() == [NO_SEASON]
    no_years = outlook(asked, reference=asked["reference"].iloc[:0])
    assert no_years["detectable"].notna().tolist() == [True, False, False]
    assert no_years["reason"].iloc[1] == NO_HISTORY.format(covariate=EXCESS_WATER)
