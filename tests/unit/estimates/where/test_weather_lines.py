"""Lines of the gain on a covariate against R's answers, and the guards where seasons are few.

Source and standing of each number: pipeline/contract/published_checks.yml.
"""

from dataclasses import replace

import numpy as np
import pytest
import statsmodels.api as sm

from pipeline.contract.vocabulary import BETWEEN_SEASONS, TARGETS, TESTED, TO_COME, WITHIN_SEASONS
from pipeline.estimates.average import three_methods
from pipeline.estimates.engines import two_stage
from pipeline.estimates.engines.two_stage import Mean
from pipeline.estimates.trials.shared_plots import shared_error
from pipeline.estimates.where import season_guard, weather_checks, weather_lines, weather_rules, weather_slopes
from tests.weather_covariates import of_rows, values


@pytest.fixture
def stored(answers):
    return answers("weather_slopes_answers").set_index(["model", "term"])


@pytest.mark.parametrize("name", [*TARGETS, "parts"])
def test_one_stage_agrees_with_lmertest(name, answers, stored, either_engine):
    of_r = of_rows(answers("weather_slopes"))
    model = weather_lines.parts_model(of_r) if name == "parts" else weather_lines.slope_model(of_r, name)
    for number, row in enumerate(model.fit.coefficients.itertuples()):
        expected, scale = stored.loc[name, row.term], of_r.scale if number else 1
        assert row.estimate / scale == pytest.approx(expected["estimate"], rel=1e-5)
        assert row.std_error / scale == pytest.approx(expected["std_error"], rel=1e-5)
        assert row.df == pytest.approx(expected["df"], rel=2e-3)


def test_two_stages_agree_with_metafor(answers, stored):
    of_r = of_rows(answers("weather_slopes"))
    line = weather_lines.two_stage_line(of_r, TESTED)
    assert line.tau2 == pytest.approx(stored.loc[("two-stage", "tau2"), "estimate"], rel=1e-6)
    for mean, term in ((line.gain, "(Intercept)"), (line.slope, "slope")):
        expected = stored.loc["two-stage", term]
        assert (mean.estimate, mean.std_error) == pytest.approx((expected["estimate"], expected["std_error"]), rel=1e-6)
        assert mean.df == expected["df"]
    weights = 1 / (of_r.variances + line.tau2)
    together = sm.WLS(of_r.gains, sm.add_constant(of_r.x - of_r.center), weights=weights).fit().normalized_cov_params
    assert line.correlation == pytest.approx(together[0, 1] / np.sqrt(together[0, 0] * together[1, 1]), abs=1e-6)
    assert abs(line.correlation) > 0.001
    assert weather_checks.line_and_curve(of_r) == pytest.approx(stored.loc["aicc", "estimate"].to_list(), rel=1e-6)


def by_season(n_seasons: int = 4, n_each: int = 8, *, seed: int, within: float = 0.0, season_sd: float = 2.0):
    """A covariate that differs between seasons, and within them by so much; seasons differ too, for other reasons."""
    rng = np.random.default_rng(seed)
    seasons = np.repeat(np.arange(n_seasons), n_each)
    x = rng.normal(size=n_seasons)[seasons] + rng.normal(size=len(seasons)) * max(within, 1e-6)
    gains = rng.normal(0, season_sd, n_seasons)[seasons] + rng.normal(size=len(seasons))
    return values(x, gains, 2091 + seasons, np.tile(np.arange(n_each), n_seasons))


@pytest.mark.parametrize("target", TARGETS)
def test_a_covariate_of_the_season_is_a_line_through_season_means(target):
    """8 site-years a season, errors alike: least squares of 4 means is what 32 site-years can say of such a slope."""
    given = by_season(seed=5)
    line = weather_lines.mixed_line(given, target)
    means = given.site_years.assign(x=given.x).groupby("season")[["gain", "x"]].mean()
    expected = sm.OLS(means["gain"], sm.add_constant(means["x"])).fit()
    assert line.slope.estimate == pytest.approx(expected.params["x"], rel=1e-3)
    assert line.slope.std_error >= expected.bse["x"] * 0.999
    assert line.slope.df <= 2
    assert weather_rules.ADJUSTMENTS["seasons few"] in line.warnings


def test_seasons_with_a_variance_of_zero_do_not_make_the_slope_surer():
    """Seed 1 is such a fit: without the guard the df are those of 30 site-years."""
    given = by_season(seed=1, season_sd=0.0, within=0.5)
    model = weather_lines.slope_model(given, TO_COME)
    assert model.fit.is_zero(model.fit.variance("season"))
    guarded, bare = weather_lines.mixed_line(given, TO_COME).slope, model.fit.coefficients.iloc[1]
    assert guarded.half_width(0.95) > 1.05 * 2.04 * bare["std_error"] / given.scale


def test_for_seasons_to_come_slope_and_average_are_no_surer():
    """Seasons differ much and the covariate only within them: with seasons random there is less left to blur the
    slope.
    """
    rng = np.random.default_rng(1)
    seasons, x = np.repeat(np.arange(4), 8), rng.normal(size=32)
    x = x - np.repeat(x.reshape(4, 8).mean(axis=1), 8)
    gains = 3 * rng.normal(size=4)[seasons] + rng.normal(size=32)
    given = values(x, gains, 2091 + seasons, np.tile(np.arange(8), 4))
    bare = [weather_lines.mixed_line(given, target).slope.half_width(0.95) for target in TARGETS]
    assert bare[1] < 0.95 * bare[0]
    tested, to_come = weather_slopes.slopes_of([given])
    for one, other in ((tested.line.slope, to_come.line.slope), (tested.line.gain, to_come.line.gain)):
        assert other.half_width(0.95) >= one.half_width(0.95) * (1 - three_methods.SAME_WIDTH)
    assert three_methods.AS_TESTED == to_come.line.df_method


def test_for_the_seasons_tested_the_model_is_no_surer_than_two_stages():
    """Seed 2 is such a fit: the residuals of the two-stage line are larger than the model's variances say."""
    given = by_season(n_each=5, seed=2, within=2.0, season_sd=0.0)
    bare, two_stages = (fit(given, TESTED).slope for fit in (weather_lines.mixed_line, weather_lines.two_stage_line))
    assert two_stages.half_width(0.95) > 1.002 * bare.half_width(0.95)
    line = weather_slopes.slopes_of([given])[0].line
    assert line.slope.estimate == bare.estimate
    assert line.slope.half_width(0.95) == pytest.approx(two_stages.half_width(0.95))
    assert weather_rules.ADJUSTMENTS["two stages"] in line.warnings


def test_weights_of_site_years_are_those_of_the_fit_whatever_guard_widened_its_interval():
    """Where seasons differ, the model's spread is far above that within seasons, which only two stages take."""
    given = by_season(seed=4, within=1.0, season_sd=30.0)
    mixed, two_stage = weather_lines.mixed_line(given, TESTED), weather_lines.two_stage_line(given, TESTED)
    of_model, _ = weather_lines.weights_of(given, mixed)
    assert 1 / of_model == pytest.approx(given.variances + mixed.tau2)
    within, _ = weather_lines.weights_of(given, two_stage)
    assert (within > 10 * of_model).all()
    for line, weights in ((mixed, of_model), (two_stage, within)):
        for df_method in (weather_lines.OF_TWO_STAGE, weather_lines.OF_SEASONS, three_methods.AS_TESTED):
            found, _ = weather_lines.weights_of(given, replace(line, df_method=df_method))
            assert found.tolist() == weights.tolist()


@pytest.mark.parametrize("fit", [weather_lines.mixed_line, weather_lines.two_stage_line])
def test_the_average_at_the_center_is_no_surer_than_season_means(fit):
    """At a season variance of zero (seed 1), as everywhere in two stages: t on the seasons that a line leaves."""
    given = by_season(seed=1, season_sd=0.0, within=0.5)
    line = fit(given, TO_COME)
    moved = given.site_years.assign(gain=given.gains - line.slope.estimate * (given.x - given.center))
    means = moved.groupby("season")["gain"].mean()
    assert line.gain.half_width(0.95) >= 4.3026 * means.std() / np.sqrt(4) * np.sqrt(3 / 2) * 0.999


@pytest.mark.parametrize("lasting_df", [1.0, 2.0, 50.0])
@pytest.mark.parametrize("n_seasons", [3, 5])
def test_a_line_takes_one_season_from_those_there_are_however_few_df_the_shared_plots_have(n_seasons, lasting_df):
    """The same plots each year: their error may rest on 1 df, which is no count of seasons to take one from."""
    given = by_season(n_seasons, 5, seed=3, within=1.0)
    on_plots = {"plot_set": given.site_years["place"], "lasting_std_error": 3.0, "lasting_df": lasting_df}
    given = replace(given, site_years=given.site_years.assign(**on_plots))
    flat = Mean(0.0, 1.0, 9.0)
    means = two_stage.season_means(given.gains, given.seasons, shared=shared_error(given.site_years))
    assert (means.df < n_seasons - 1) == (lasting_df < n_seasons - 1)
    found = weather_lines._season_means(given, Mean(1.0, 1.0, 9.0), flat)
    widened = means.std_error * np.sqrt((n_seasons - 1) / (n_seasons - 2))
    assert (found.estimate, found.std_error) == (1.0, pytest.approx(widened))
    assert found.df == pytest.approx(min(means.df, n_seasons - 2))


def test_both_parts_find_their_own_slope():
    rng = np.random.default_rng(2)
    seasons = np.repeat(np.arange(6), 6)
    of_season, own = rng.normal(size=6)[seasons], rng.normal(size=36)
    own -= np.array([own[seasons == s].mean() for s in range(6)])[seasons]
    given = values(of_season + own, 3 * own - 2 * of_season, 2091 + seasons, noise=0.01)
    parts = weather_lines.part_lines(given)
    assert parts[WITHIN_SEASONS].estimate == pytest.approx(3, abs=0.02)
    assert parts[BETWEEN_SEASONS].estimate == pytest.approx(-2, abs=0.02)
    assert parts[BETWEEN_SEASONS].df <= 4


@pytest.mark.parametrize("size", [0.1, 10.0])
def test_the_lines_within_and_between_seasons_have_the_errors_of_least_squares(size):
    """Of site-years beside a column a season, and of season means with a variance of their own. Small weights
    leave residuals below the variances they state, which makes no error smaller.
    """
    given, season_variance = by_season(5, 6, seed=7, within=0.7), 3 / size
    weights = size * np.random.default_rng(1).uniform(0.5, 2, len(given.x))
    code = np.unique(given.seasons, return_inverse=True)[1]
    dummies = np.equal.outer(code, np.arange(5)).astype(float)
    totals = weights @ dummies
    x, y = ((weights * value) @ dummies / totals for value in (given.x, given.gains))
    within = sm.WLS(given.gains, np.column_stack([given.x, dummies]), weights=weights).fit()
    between = sm.WLS(y, np.column_stack([x, np.ones(5)]), weights=1 / (1 / totals + season_variance)).fit()
    found = season_guard.season_slopes(given, weights, season_variance)
    for part, fit, df in ((WITHIN_SEASONS, within, 24), (BETWEEN_SEASONS, between, 3)):
        bare = fit.bse[0] / np.sqrt(fit.scale)
        assert (fit.scale > 1) == (size == 10)
        slope = found[part].slope
        assert (slope.estimate, slope.df) == (pytest.approx(fit.params[0]), df)
        assert slope.std_error == pytest.approx(max(bare, fit.bse[0]))
        assert found[part].precision == pytest.approx(bare**-2)


def test_seasons_of_one_site_year_leave_no_error_within_them():
    """10 site-years in 9 seasons: the one season with two makes its line, and has nothing left to judge it by."""
    seasons = 2091 + np.array([0, *range(9)])
    given = values(np.where(np.arange(10) == 0, 9.0, np.arange(10.0)), np.arange(10.0) ** 2, seasons)
    assert given.within_share > weather_rules.HARDLY
    assert list(season_guard.season_slopes(given, np.ones(10), 0.0)) == [BETWEEN_SEASONS]


def test_a_slope_is_tested_on_both_sides():
    """t of 2.228 on 10 df leaves 2.5% on each side (any table of t)."""
    for estimate in (2.228, -2.228):
        assert weather_slopes.p_value(Mean(estimate, 1.0, 10.0)) == pytest.approx(0.05, abs=2e-5)


def test_parts_put_together_are_weighted_least_squares():
    """At no season variance the two slopes by their precision are the one slope of all site-years."""
    given = by_season(seed=7, within=0.7)
    weights = np.random.default_rng(1).uniform(0.5, 2, len(given.x))
    whole = sm.WLS(given.gains, sm.add_constant(given.x), weights=weights).fit()
    pooled = season_guard.pooled_slope(given, weights, 0.0)
    assert pooled.estimate == pytest.approx(whole.params[1], rel=1e-9)
    assert 2 < pooled.df < 30


@pytest.mark.parametrize("n_seasons, factor", [(3, 1.0), (4, 3 / 2), (5, 1.0)])
def test_with_four_seasons_the_part_between_them_is_widened(n_seasons, factor):
    given = by_season(n_seasons, seed=7, within=0.7)
    weights = np.ones(len(given.x))
    within, between = season_guard.season_slopes(given, weights, 0.3).values()
    share = within.precision / (within.precision + between.precision)
    expected = (share * within.slope.std_error) ** 2 + factor * ((1 - share) * between.slope.std_error) ** 2
    assert season_guard.pooled_slope(given, weights, 0.3).std_error == pytest.approx(np.sqrt(expected))


def test_a_covariate_of_the_place_has_no_more_df_than_places():
    rng = np.random.default_rng(3)
    places = np.tile(np.arange(6), 5)
    given = values(rng.normal(size=6)[places], rng.normal(size=30), 2091 + np.repeat(np.arange(5), 6), places)
    line = weather_lines.mixed_line(given, TESTED)
    assert line.slope.df <= 4 and "differences between places" in " ".join(line.warnings)
