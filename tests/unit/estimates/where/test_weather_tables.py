import numpy as np
import pandas as pd
import pytest

from pipeline.contract.vocabulary import (
    ALL_DIFFERENCES,
    BETWEEN_SEASONS,
    COVARIATES,
    EXPLORATORY,
    RAIN_AFTER,
    TESTED,
    TO_COME,
    WITHIN_SEASONS,
)
from pipeline.estimates.average import three_methods
from pipeline.estimates.engines import mixed
from pipeline.estimates.engines.interval_rules import MIXED, TWO_STAGE
from pipeline.estimates.where import weather_rules, weather_slopes
from pipeline.estimates.where.weather_tables import TABLES, weather_tables
from tests.declared_shapes import check_shapes
from tests.weather_covariates import covariate, frames

N_SEASONS, N_PLACES = 5, 6
SEASONS, PLACES = np.repeat(np.arange(N_SEASONS), N_PLACES), np.tile(np.arange(N_PLACES), N_SEASONS)
RNG = np.random.default_rng(8)
X = 50 + 10 * RNG.normal(size=N_SEASONS)[SEASONS] + 10 * RNG.normal(size=30)
GAINS = 100 + 3 * X + 10 * RNG.normal(size=30)
REFERENCE = pd.DataFrame(
    {
        "comparison_id": "c",
        "place": f"p{p}",
        "drainage_group": "WP"[p % 2],
        "covariate": RAIN_AFTER,
        "year": 2000 + y,
        "value": np.quantile(X, y / 9),
        "unit": "mm",
    }
    for p in range(N_PLACES)
    for y in range(10)
)


def tables_of(*covariates, gains=GAINS, reference=REFERENCE, seasons=SEASONS):
    site_years, blocks = frames(gains, 2091 + seasons, PLACES, noise=20.0)
    rows = pd.concat([covariate(site_years, *told) for told in covariates], ignore_index=True)
    found = weather_tables(site_years, blocks, ["c"], rows, reference)
    check_shapes(found)
    return found


def headlines(found):
    slopes = found["weather_slopes"]
    return slopes[slopes["is_headline"]].set_index(["covariate", "target"])


@pytest.fixture(scope="module")
def shown():
    return tables_of([X])


def test_a_plain_slope_is_shown_for_both_targets(shown):
    slopes = shown["weather_slopes"]
    keys = slopes[["target", "part", "method"]].apply(tuple, axis=1).to_list()
    parts = [(ALL_DIFFERENCES, MIXED), (ALL_DIFFERENCES, TWO_STAGE), (WITHIN_SEASONS, MIXED), (BETWEEN_SEASONS, MIXED)]
    assert keys == [(target, *part) for target in (TESTED, TO_COME) for part in parts]
    rows = headlines(shown)
    assert rows["is_shown"].all() and (rows["carried_by"] == "both").all() and (rows["n_tests"] == 1).all()
    assert rows["conf_low"].between(0, 3).all() and rows["conf_high"].between(3, 9).all()
    assert rows["gain_at_center"].to_numpy() == pytest.approx(100 + 3 * X.mean(), abs=15)
    assert (rows["tau2_after"] < 0.5 * rows["tau2_before"]).all()
    assert (rows["p_permutation"] <= 0.01).all() and (rows["n_permutations"] == 999).all()
    within = ((X - pd.Series(X).groupby(SEASONS).transform("mean")) ** 2).sum() / ((X - X.mean()) ** 2).sum()
    assert rows["within_share"].to_numpy() == pytest.approx(within)


def test_lines_checks_and_gains_stand_beside_each_headline(shown):
    counts = {name: len(frame) for name, frame in shown.items()}
    assert counts == {"weather_slopes": 8, "weather_slope_checks": 2 * 35, "weather_lines": 42, "weather_gains": 2 * 9}
    assert shown["weather_slope_checks"]["kind"].value_counts().to_dict() == {"site-year": 60, "season": 10}
    assert shown["weather_gains"]["estimate"].to_numpy() == pytest.approx(100 + 3 * REFERENCE["value"].mean(), abs=20)


def test_both_engines_give_the_same_tables():
    found = {}
    for engine in (mixed.OWN, mixed.LME4):
        with mixed.by(engine):
            found[engine] = tables_of([X])
    for name in ("estimate", "conf_low", "conf_high"):
        for table in TABLES:
            own, of_lme4 = (found[engine][table][name].to_numpy() for engine in (mixed.OWN, mixed.LME4))
            assert own == pytest.approx(of_lme4, rel=2e-3), (table, name)


def test_nothing_asked_gives_the_empty_tables():
    site_years, blocks = frames(GAINS, 2091 + SEASONS, PLACES)
    for covariates in (None, covariate(site_years, X).iloc[:0]):
        found = weather_tables(site_years, blocks, ["c"], covariates, None)
        check_shapes(found)
        assert tuple(found) == TABLES and all(frame.empty for frame in found.values())


def test_a_comparison_rests_on_its_own_covariates_and_reference_years(shown):
    """Rows of another comparison, with its own site-years, stand beside them and change nothing."""
    site_years, blocks = frames(GAINS, 2091 + SEASONS, PLACES, noise=20.0)
    others = {"comparison_id": "other"}
    both = [
        pd.concat([frame.assign(**others), frame], ignore_index=True)
        for frame in (site_years, blocks, covariate(site_years, X), REFERENCE)
    ]
    both[2].loc[both[2]["comparison_id"] == "other", "value"] *= -2.0
    both[3].loc[both[3]["comparison_id"] == "other", "value"] += 30.0
    found = weather_tables(both[0], both[1], ["c"], both[2], both[3])
    for name in TABLES:
        pd.testing.assert_frame_equal(found[name], shown[name])


def test_exploratory_covariates_are_adjusted_among_themselves_and_never_shown():
    noise = np.random.default_rng(3).normal(size=(3, 30))
    found = tables_of([X], [noise[0], "days of heavy rain"], [X, "excess water", EXPLORATORY],
                      [noise[1], "soil warmth", EXPLORATORY],
                      [noise[2], "wettest 5 days", EXPLORATORY])  # fmt: skip
    rows = headlines(found).xs(TO_COME, level="target")
    assert rows["n_tests"].to_list() == [2, 2, 3, 3, 3]
    assert rows["p_value_holm"].iloc[0] == pytest.approx(2 * rows["p_value"].iloc[0])
    assert rows.loc["excess water", "p_value_holm"] == pytest.approx(3 * rows["p_value"].iloc[0])
    assert rows["is_shown"].to_list() == [True, False, False, False, False]
    assert set(found["weather_gains"]["covariate"]) == {RAIN_AFTER, "days of heavy rain"}  # the declared ones


@pytest.mark.parametrize(
    "x, words",
    [
        (np.where(np.arange(30) < 9, X, np.nan), "Too few: a slope needs 10 site-years"),
        (np.where(SEASONS < 2, X, np.nan), "Too few seasons"),
        (np.round(X / 100), "Too few different values"),
        (np.full(30, np.nan), "and there are 0"),
    ],
)
def test_too_few_is_said_in_one_row(x, words):
    found = tables_of([x])
    rows = headlines(found)
    assert len(found["weather_slopes"]) == 2 and rows["estimate"].isna().all() and not rows["is_shown"].any()
    assert rows["reason"].str.contains(words).all() and (rows["n_tests"] == 0).all()
    assert (rows["n_unknown"] == np.isnan(x).sum()).all()
    assert all(found[name].empty for name in TABLES[1:])


def test_unknown_values_are_left_out_and_counted():
    x = np.where(np.arange(30) == 4, np.nan, X)
    rows = headlines(tables_of([x]))
    assert (rows["n_site_years"] == 29).all() and (rows["n_unknown"] == 1).all() and rows["is_shown"].all()


def test_seasons_that_look_like_a_slope_are_not_shown():
    """Gains that go with the season, a covariate nearly the same within it: 30 site-years in line, and five seasons to
    say so.
    """
    of_season = np.array([0.0, 1.0, 2.0, 3.0, 1.2])
    x = 10 * of_season[SEASONS] + 0.01 * RNG.normal(size=30)
    gains = 100 + 30 * np.array([0.0, 2.0, 1.0, 3.0, 0.0])[SEASONS] + RNG.normal(size=30)
    found = tables_of([x], gains=gains)
    rows = headlines(found)
    assert not rows["is_shown"].any() and (rows["df"] <= 3).all() and rows["p_permutation"].isna().all()
    within = found["weather_slopes"].query("part == @WITHIN_SEASONS")
    assert within["estimate"].isna().all() and within["reason"].str.contains("nearly the same at all places").all()
    between = found["weather_slopes"].query("part == @BETWEEN_SEASONS")
    assert between["estimate"].to_numpy() == pytest.approx(rows["estimate"].to_numpy())


def test_a_line_for_seasons_to_come_is_nowhere_surer_than_for_those_tested():
    """Seed 29 is such a line: away from the center its own error is smaller."""
    rng, seasons, places = np.random.default_rng(29), np.repeat(np.arange(4), 6), np.tile(np.arange(6), 4)
    x = 2 * rng.normal(size=4)[seasons] + rng.normal(size=24)
    site_years, blocks = frames(rng.normal(size=24), 2091 + seasons, places)
    lines = weather_tables(site_years, blocks, ["c"], covariate(site_years, x), None)["weather_lines"]
    width = (lines["conf_high"] - lines["conf_low"]).groupby(lines["target"]).agg(list)
    assert (np.array(width[TO_COME]) >= np.array(width[TESTED]) * (1 - three_methods.SAME_WIDTH)).all()


def test_a_slope_that_one_site_year_makes_is_not_shown_and_says_so():
    """Eleven site-years without a slope and one far out: the p value is small, and hangs on it."""
    seasons, places = np.repeat(np.arange(3), 4), np.tile(np.arange(4), 3)
    x = np.array([1.0, 2, 3, 4, 5, 4, 3, 2, 1, 3, 5, 60])
    gains = np.where(x == 60, 400.0, 100.0) - x
    site_years, blocks = frames(gains, 2091 + seasons, places, noise=10.0)
    found = weather_tables(site_years, blocks, ["c"], covariate(site_years, x), None)
    row = headlines(found).loc[(RAIN_AFTER, TESTED)]
    assert row["p_value"] < 0.05 and not row["is_shown"]
    assert weather_rules.CHECKS[3].sentence in row["warnings"]
    out = found["weather_slope_checks"].query("target == @TESTED and left_out == 's11'").iloc[0]
    assert out["estimate"] < 0 and out["change_in_std_errors"] < -2


def test_the_two_stage_line_leads_where_the_model_cannot_be_fitted(monkeypatch):
    monkeypatch.setattr(weather_slopes.weather_lines, "slope_model", lambda *_: None)
    rows = headlines(tables_of([X]))
    assert (rows["method"] == TWO_STAGE).all() and rows["is_shown"].all()
    assert rows["warnings"].str.contains("the two-stage line leads").all()


def test_gains_that_do_not_scatter_give_a_reason_or_a_line():
    site_years, blocks = frames(np.full(30, 100.0), 2091 + SEASONS, PLACES, noise=0.0)
    found = weather_tables(site_years, blocks, ["c"], covariate(site_years, X), REFERENCE)
    check_shapes(found)
    rows = headlines(found)
    assert (rows["reason"] == weather_rules.REASONS["not fitted"]).all() and not rows["is_shown"].any()


@pytest.mark.parametrize("unit", [1e-3, 1e3])
def test_the_unit_of_the_covariate_does_not_matter(shown, unit):
    rows, other = headlines(shown), headlines(tables_of([X * unit]))
    assert other["estimate"].to_numpy() * unit == pytest.approx(rows["estimate"].to_numpy(), rel=1e-4)
    assert other["p_value"].to_numpy() == pytest.approx(rows["p_value"].to_numpy(), rel=1e-2)


def test_the_order_of_rows_does_not_matter(shown):
    site_years, blocks = frames(GAINS, 2091 + SEASONS, PLACES, noise=20.0)
    rows = covariate(site_years, X).sample(frac=1, random_state=1)
    found = weather_tables(site_years, blocks, ["c"], rows, REFERENCE)["weather_slopes"]
    pd.testing.assert_frame_equal(found, shown["weather_slopes"])


def test_every_covariate_of_the_vocabulary_can_stand_in_a_sentence():
    for name in COVARIATES:
        assert name in weather_rules.too_few(name, 0, 0, 0)
