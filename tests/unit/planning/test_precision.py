"""Source and standing of each number: pipeline/contract/published_checks.yml."""

import itertools

import numpy as np
import pandas as pd
import pytest
from hypothesis import given
from hypothesis import strategies as st

from pipeline.errors import UserError
from pipeline.estimates.engines import mixed, one_stage
from pipeline.planning.precision import Components, components_of, expected_precision, multiplied, with_more


def grid(n_places, n_seasons, n_blocks=4):
    return pd.DataFrame(
        [
            {"place": f"p{p}", "season": 2091 + s, "n_blocks": n_blocks}
            for p, s in itertools.product(range(n_places), range(n_seasons))
        ]
    )


def by_whole_matrices(layout, c):
    """Generalised least squares the slow way."""
    same = lambda column: np.equal.outer(layout[column].to_numpy(str), layout[column].to_numpy(str))  # noqa: E731
    v = (
        c.season * same("season")
        + c.place * same("place")
        + np.diag(c.site_year + c.residual / layout["n_blocks"].to_numpy())
    )
    return 1 / np.sqrt(np.linalg.inv(v).sum())


@given(
    st.lists(st.tuples(st.integers(0, 5), st.integers(0, 3), st.integers(1, 6)), min_size=2, max_size=25),
    st.tuples(
        *[st.just(0.0) | st.floats(0.01, 10)] * 3, st.floats(0.1, 10)
    ),  # below NO_SPREAD a variance counts as none
)
def test_standard_error_is_that_of_whole_matrices(rows, variances):
    layout = pd.DataFrame(rows, columns=["place", "season", "n_blocks"])
    components = Components(*variances)
    assert expected_precision(layout, components).std_error == pytest.approx(
        by_whole_matrices(layout, components), rel=1e-9
    )


def test_a_balanced_layout_follows_the_formula():
    found = expected_precision(grid(9, 4), Components(season=3.0, place=2.0, site_year=5.0, residual=8.0))
    assert found.std_error**2 == pytest.approx(3 / 4 + 2 / 9 + (5 + 8 / 4) / 36)


def test_df_of_one_kind_of_spread():
    """Seasons alone: the average's variance is a mean square between seasons, J - 1 df; none: k - 1; places: P - 1."""
    assert expected_precision(grid(9, 4), Components(0, 0, 5, 8)).df == pytest.approx(35)
    assert expected_precision(grid(9, 4), Components(0.5, 0, 5, 8)).df == pytest.approx(3)
    assert expected_precision(grid(9, 4), Components(0, 0.5, 5, 8)).df == pytest.approx(8)
    assert expected_precision(grid(9, 1), Components(0, 0.5, 5, 8)).df == pytest.approx(8)  # each place met once


@pytest.mark.parametrize("seed", [1, 2, 3])
def test_standard_error_and_df_are_those_of_lmertest_where_balanced(seed):
    """Ten places in each of five seasons, three blocks: the fitted components give back the fit's own SE and df."""
    rng = np.random.default_rng(seed)
    cells = grid(10, 5, n_blocks=3)
    effects = rng.normal(0, 3, 5)[cells["season"] - 2091] + rng.normal(0, 2, 10)[cells["place"].str[1:].astype(int)]
    cells["site_year"] = cells["place"] + cells["season"].astype(str)
    cells["effect"] = effects + rng.normal(0, 1.5, len(cells))
    blocks = cells.loc[cells.index.repeat(3)].reset_index(drop=True)
    blocks["gain"] = blocks["effect"] + rng.normal(0, 2, len(blocks))
    frame = blocks[["gain", "place", "site_year"]].assign(season=blocks["season"].astype(str))
    fit = mixed.fit("gain ~ 1 + (1 | season) + (1 | place) + (1 | site_year)", frame)
    fitted = Components(*(fit.variance(name) for name in ("season", "place", "site_year")), fit.residual_variance)
    assert min(fitted.season, fitted.place, fitted.site_year) > 0.01  # else the boundary, which has no such df
    found, own = expected_precision(cells, fitted), fit.coefficients.iloc[0]
    assert found.std_error == pytest.approx(own["std_error"], rel=1e-6)
    assert found.df == pytest.approx(own["df"], rel=1e-3)


def test_half_width_is_that_of_simulated_t_intervals():
    """Means of 10 independent site-years: their own t intervals are on average as wide (4,000 draws, seeded)."""
    rng = np.random.default_rng(11)
    draws = rng.normal(0, np.sqrt(2.0 + 4.0 / 4), (4000, 10))
    mean_variance = (draws.var(axis=1, ddof=1) / 10).mean()
    found = expected_precision(grid(10, 1), Components(0, 0, 2.0, 4.0))
    assert found.half_width() == pytest.approx(2.262157 * np.sqrt(mean_variance), rel=0.02)


def components_frame(**variances):
    return pd.DataFrame(
        [
            {"comparison_id": "c", "target": "seasons to come", "component": n.replace("_", "-"), "variance": v}
            for n, v in variances.items()
        ]
    )


def test_components_are_read_by_name():
    found = components_of(
        components_frame(season=1.0, place=2.0, site_year=3.0, trial=0.5, residual=4.0), "c", "seasons to come"
    )
    assert found == Components(1.0, 2.0, 3.5, 4.0)


def test_one_row_per_site_year_leaves_the_residual_between_them():
    found = components_of(components_frame(season=1.0, residual=4.0), "c", "seasons to come")
    assert found == Components(1.0, 0.0, 4.0, 0.0)


def test_without_season_or_model_there_are_no_components():
    assert components_of(components_frame(site_year=3.0, residual=4.0), "c", "seasons to come") is None
    assert components_of(components_frame(season=1.0), "c", "seasons to come") is None
    assert components_of(components_frame(season=1.0, residual=1.0), "c", "seasons tested") is None


def test_more_site_years_take_the_least_tested_places_first():
    layout = pd.DataFrame({"place": ["a", "a", "b"], "season": [2091, 2092, 2091], "n_blocks": 4})
    found = with_more(layout, site_years=5, n_blocks=6, seasons=2).iloc[3:]
    assert list(found["place"]) == ["b", "b", "a", "a", "new place 1"]
    assert list(found["season"]) == ["to come 1", "to come 2"] * 2 + ["to come 1"]
    assert set(found["n_blocks"]) == {6}
    assert not found.duplicated(["place", "season"]).any()


@pytest.mark.parametrize("site_years, n_blocks, seasons", [(3, 4, 0), (1, 4, 2), (3, 0, 1)])
def test_a_plan_that_cannot_be_planted(site_years, n_blocks, seasons):
    with pytest.raises(UserError, match="plan: more site-years need"):
        with_more(grid(2, 2), site_years=site_years, n_blocks=n_blocks, seasons=seasons)


def test_multiplied_layouts():
    layout = grid(3, 2)
    assert multiplied(layout, "blocks", 4)["n_blocks"].eq(16).all()
    places, seasons = multiplied(layout, "site-years", 2), multiplied(layout, "seasons", 2)
    assert (len(places), places["place"].nunique(), places["season"].nunique()) == (12, 6, 2)
    assert (len(seasons), seasons["place"].nunique(), seasons["season"].nunique()) == (12, 3, 4)


def test_a_component_that_an_optimizer_left_near_zero_costs_no_df():
    """A place variance of a hundred-millionth of the rest is none: more seasons must not seem to widen the interval."""
    layout = pd.DataFrame({"place": list("abcd") * 3, "season": [1] * 4 + [2] * 4 + [3] * 4, "n_blocks": 4})
    near_zero = Components(season=0.0, place=2e-8 * 3347, site_year=1636.0, residual=6846.0)
    none = Components(season=0.0, place=0.0, site_year=1636.0, residual=6846.0)
    assert expected_precision(layout, near_zero).df == expected_precision(layout, none).df == pytest.approx(11)


def test_a_plan_has_no_fewer_df_than_the_interval_it_plans():
    """24 site-years in a fourth season: Satterthwaite gives 1 df, the interval that would be printed has 2."""
    now = pd.DataFrame({"place": list("abcdef"), "season": [1, 1, 1, 1, 2, 3], "n_blocks": 4})
    planned = expected_precision(with_more(now, site_years=24, n_blocks=4, seasons=1), Components(0.1, 0.0, 1.0, 1.0))
    assert planned.df == one_stage.least_df_of_mean(("season",)) == 2
    assert planned.half_width() == pytest.approx(4.302653 * planned.std_error, rel=1e-6)
    alone = expected_precision(now.iloc[:2], Components(0.0, 0.0, 1.0, 1.0))
    assert alone.df == 1, "without places or seasons at random, one site-year less than there are"


@pytest.mark.parametrize("least_df", [1.0, 2.0])
def test_standard_error_and_df_are_those_of_r(answers, monkeypatch, least_df):
    """Layouts with a season of one site-year, by whole matrices over all blocks in R
    (tests/r_answers/r/planned_df.R); df that the headline's least df would cut off, too.
    """
    monkeypatch.setattr(one_stage, "least_df_of_mean", lambda terms: least_df)
    layouts = answers("planned_df")
    for _, row in answers("planned_df_answers").iterrows():
        components = Components(row["season"], row["place"], row["site_year"], row["residual"])
        found = expected_precision(layouts[layouts["case"] == row["case"]], components)
        assert (found.std_error, found.df) == pytest.approx((row["std_error"], max(row["df"], least_df)), rel=1e-9), (
            row["case"]
        )
