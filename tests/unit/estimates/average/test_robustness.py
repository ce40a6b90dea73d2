import numpy as np
import pandas as pd
import pytest

from pipeline.contract.vocabulary import TESTED, TO_COME
from pipeline.estimates.average import pooling, robustness, three_methods
from pipeline.estimates.engines import mixed, one_stage, two_stage
from pipeline.estimates.engines.interval_rules import MIXED, PLAIN, TWO_STAGE
from pipeline.estimates.program import estimate
from pipeline.estimates.where import rainfall_cuts
from tests.unit.estimates.engines.test_left_out import blocks_of


@pytest.fixture(scope="module")
def program(build):
    arguments = build.program(5, n_places=5, n_seasons=4, season_sd=150.0)
    found = estimate(*arguments)
    used = found["site_year_gains"]
    return arguments, found, used, pooling.model_blocks(found["block_gains"], arguments[1], used)


def rows_of(frame, kind, target=TESTED):
    return frame[(frame["kind"] == kind) & (frame["target"] == target)]


def test_each_site_year_place_and_season_is_left_out_once(program):
    rows = program[1]["robustness"]
    for kind, count in ((robustness.SITE_YEAR, 20), (robustness.PLACE, 5), (robustness.SEASON, 4)):
        found = rows_of(rows, kind)
        assert len(found) == count and found["left_out"].is_unique
        assert (found["n_site_years"] == 20 - 20 // count).all()


@pytest.mark.parametrize("target", [TESTED, TO_COME])
def test_refit_equals_the_pipelines_own_fit_of_what_is_left(program, target):
    """The refit through the third road against the whole way through R, for one season left out."""
    _, found, used, blocks = program
    kept = used[used["season"] != 2093]
    of_kept = blocks[blocks["season"] != 2093]
    with mixed.by(mixed.LME4):
        again, _ = pooling.pooled_gains(kept, of_kept, ["c"])
    expected = again[(again["target"] == target) & (again["method"] == MIXED)].iloc[0]
    row = rows_of(found["robustness"], robustness.SEASON, target).set_index("left_out").loc["2093"]
    assert row["method"] == MIXED
    for column in ("estimate", "conf_low", "conf_high"):
        assert row[column] == pytest.approx(expected[column], rel=2e-3)


def test_no_refit_knows_seasons_to_come_better_than_the_seasons_tested(build):
    """With one of 6 site-years left out the season means of the others lie so close that they alone would be
    narrower.
    """
    rows = estimate(*build.program(2, n_places=2, n_seasons=3))["robustness"].dropna(subset=["estimate"])
    rows = rows[rows["kind"] != robustness.ESTIMATOR].assign(width=lambda frame: frame["conf_high"] - frame["conf_low"])
    widths = rows.pivot(index=["kind", "left_out"], columns="target", values="width").astype(float).dropna()
    assert len(widths) == 9 and (widths[TO_COME] >= widths[TESTED] * (1 - three_methods.SAME_WIDTH)).all()


def test_cumulative_ends_at_the_headline(program):
    found = rows_of(program[1]["robustness"], robustness.CUMULATIVE)
    assert found["n_seasons"].to_list() == [1, 2, 3, 4]
    headline = program[1]["pooled_gains"].query("is_headline and target == @TESTED and moderator == 'all'").iloc[0]
    assert found["estimate"].iloc[-1] == pytest.approx(headline["estimate"], rel=1e-4)
    assert found["left_out"].iloc[1] == "2093, 2094"
    to_come = rows_of(program[1]["robustness"], robustness.CUMULATIVE, TO_COME)
    assert to_come["estimate"].isna().to_list() == [True, True, False, False]
    assert to_come["warnings"].iloc[0].startswith("Not estimable")
    assert pd.isna(to_come["changes_conclusion"].iloc[0])


def test_other_estimators_are_the_named_ones(program):
    _, found, used, _ = program
    rows = rows_of(found["robustness"], robustness.ESTIMATOR).set_index("method")
    assert {TWO_STAGE, PLAIN} <= set(rows.index) and MIXED not in rows.index and len(rows) == 7
    gains = used["gain"].to_numpy(float)
    variances = used["block_std_error"].to_numpy(float) ** 2
    expected = two_stage.random_effects_mean(gains, variances, two_stage.tau2_reml(gains, variances))
    row = rows.loc["two-stage, error from the spread of blocks"]
    assert row["estimate"] == pytest.approx(expected.estimate)
    assert row["conf_high"] - row["estimate"] == pytest.approx(expected.half_width(0.95))
    assert rows.loc[PLAIN, "estimate"] == pytest.approx(gains.mean())


@pytest.mark.parametrize(
    "low, high, relation",
    [(0.1, 2, "above"), (-2, -0.1, "below"), (-1, 1, "spans"), (0.0, 1, "spans"), (np.nan, np.nan, None)],
)
def test_relation_to_zero(low, high, relation):
    assert robustness.relation_to_zero(low, high) == relation


def site_years_with(gains, *, seasons=None, n_plots=8):
    k = len(gains)
    return pd.DataFrame(
        {
            "comparison_id": "c",
            "site_year_id": [f"s{i}" for i in range(k)],
            "gain": np.array(gains, float),
            "std_error": 1.0,
            "own_std_error": 1.0,
            "block_std_error": 1.0,
            "place": [f"p{i}" for i in range(k)],
            "season": seasons if seasons is not None else [2091] * k,
            "n_trials": 1,
            "n_plots": n_plots,
        }
    )


def changed(site_years, **options):
    blocks = site_years.assign(variance=1.0, trial_id=site_years["site_year_id"])
    overall, _ = pooling.pooled_gains(site_years, blocks, ["c"])
    return robustness.robustness(site_years, blocks, overall, ["c"], **options)


def test_a_site_year_that_carries_the_conclusion_is_marked():
    """Four gains whose t interval spans zero only while the fourth is among them."""
    rows = rows_of(changed(site_years_with([4.0, 5.0, 6.0, -6.0])), robustness.SITE_YEAR).set_index("left_out")
    assert rows["changes_conclusion"].to_dict() == {"s0": False, "s1": False, "s2": False, "s3": True}
    assert rows.loc["s3", "estimate"] == pytest.approx(5.0)
    assert (rows["method"] == PLAIN).all() and (rows["n_site_years"] == 3).all()


def test_noted_and_printed_site_years_are_left_out_together():
    site_years = site_years_with([4.0, 5, 6, 7, 30], n_plots=[8, 8, 8, 8, 0])
    rows = changed(site_years, noted={"s0", "s3", "elsewhere"})
    noted, printed = rows_of(rows, robustness.NOTED).iloc[0], rows_of(rows, robustness.PRINTED).iloc[0]
    assert noted["left_out"] == "s0, s3" and noted["estimate"] == pytest.approx((5 + 6 + 30) / 3)
    assert printed["left_out"] == "s4" and printed["estimate"] == pytest.approx(5.5)


def test_planned_site_years_without_result_count_as_no_gain():
    eligibility = pd.DataFrame(
        [
            ("c", "t8", "s8", "s8", 2091, False, "held: split-plot without main plots"),
            ("c", "t9", "s9", "s9", 2091, False, "not harvested: lost to hail"),
            ("c", "t9b", "s9", "s9", 2091, False, "no harvested plots of both arms"),
            ("c", "t7", "s7", "s7", 2091, False, "the trial has no treatment of this comparison"),
            ("c", "t1", "s1", "s1", 2091, False, "held: a second trial at a place that has a result"),
            ("d", "t6", "s6", "s6", 2091, False, "held: of another comparison"),
            ("c", "t0", "s0", "s0", 2091, True, None),
        ],
        columns=["comparison_id", "trial_id", "site_year_id", "place", "season", "is_used", "reason"],
    )
    row = rows_of(changed(site_years_with([4.0, 5, 6, 7]), eligibility=eligibility), robustness.NOT_REPORTED).iloc[0]
    assert row["left_out"] == "s8, s9" and row["n_site_years"] == 6
    assert row["estimate"] == pytest.approx(22 / 6)
    assert not row["changes_conclusion"] and row["conf_low"] == pytest.approx(0.5067, abs=1e-4)


def test_planned_site_years_without_result_take_no_doubt_from_those_on_the_same_plots():
    eligibility = pd.DataFrame(
        [("c", "s9", "s9", 2092, "not harvested: lost to hail")],
        columns=["comparison_id", "site_year_id", "place", "season", "reason"],
    )
    on_plots = {"plot_set": ["x", "x", None, None], "lasting_std_error": [0.9, 0.9, np.nan, np.nan], "lasting_df": 6.0}
    site_years = site_years_with([4.0, 5, 6, 7], seasons=[2091, 2092, 2091, 2092]).assign(**on_plots)
    row = rows_of(changed(site_years, eligibility=eligibility), robustness.NOT_REPORTED).iloc[0]
    covariance = np.zeros((5, 5))
    covariance[0, 1] = covariance[1, 0] = 0.81
    expected = two_stage.plain_mean(np.array([4.0, 5, 6, 7, 0]), two_stage.SharedError(covariance, 6.0))
    assert row["conf_high"] == pytest.approx(expected.estimate + expected.half_width(0.95))


def test_where_the_model_cannot_be_fitted_to_what_is_left_the_two_stages_lead_as_they_would_in_the_headline():
    """One row per site-year: with two of three places left there is no random term to fit."""
    gains = [4.0, 5.0, 7.0, 6.0, 9.0, 8.0, 3.0, 2.5, 4.5]
    site_years = site_years_with(gains).assign(place=list("aaabbbccc"), std_error=np.tile([0.5, 1.0, 1.5], 3))
    blocks = site_years.assign(variance=site_years["std_error"] ** 2, trial_id=site_years["site_year_id"])
    overall, _ = pooling.pooled_gains(site_years, blocks, ["c"])
    assert set(overall.query("is_headline and target == @TESTED")["method"]) == {MIXED}
    rows = rows_of(robustness.robustness(site_years, blocks, overall, ["c"]), robustness.PLACE).set_index("left_out")
    kept = site_years[site_years["place"] != "b"]
    alone, _ = pooling.pooled_gains(kept, blocks[blocks["place"] != "b"], ["c"])
    headline = alone.query("is_headline and target == @TESTED").iloc[0]
    assert rows.loc["b", "method"] == headline["method"] == TWO_STAGE
    assert rows.loc["b", "estimate"] == headline["estimate"] != kept["gain"].mean()


def test_two_seasons_get_a_what_if_for_seasons_to_come():
    rows = changed(site_years_with([4.0, 5, 6, 1, 2, 3], seasons=[2091] * 3 + [2092] * 3))
    row = rows[rows["target"] == TO_COME].iloc[0]
    assert rows["kind"].eq(robustness.SHARED_SPREAD).sum() == 1
    three = changed(site_years_with([4.0, 5, 6, 1, 2, 3], seasons=[2091, 2092, 2093] * 2))
    assert not three["kind"].isin([robustness.SHARED_SPREAD, robustness.NOT_REPORTED]).any()
    assert row["kind"] == robustness.SHARED_SPREAD and pd.isna(row["changes_conclusion"])
    assert row["conf_low"] < 3.5 < row["conf_high"] and "no 95%" in row["warnings"]
    gains, groups = np.array([4.0, 5, 6, 1, 2, 3]), [np.repeat([0, 1], 3), np.arange(6)]
    by_thirds = two_stage.mean_with_shared_spread(gains, np.ones(6), groups, 1 / 3)
    assert row["conf_high"] == pytest.approx(by_thirds.estimate + by_thirds.half_width(0.95))
    tested = rows_of(rows, robustness.ESTIMATOR).set_index("method").loc[PLAIN]
    assert row["conf_high"] - row["conf_low"] > tested["conf_high"] - tested["conf_low"]


def test_shared_spread_against_the_likelihood_on_a_grid():
    """REML tau2 under the assumed shares, found by trying 20,000 values."""
    gains, variances = np.array([4.0, 5, 6, 1, 2, 3]), np.full(6, 0.5)
    seasons, places = np.array([1, 1, 1, 2, 2, 2]), np.array([1, 2, 3, 1, 2, 3])
    alike = np.equal.outer(seasons, seasons) / 3 + np.equal.outer(places, places) / 3 + np.eye(6) / 3

    def deviance(tau2):
        inverse = np.linalg.inv(tau2 * alike + np.diag(variances))
        mean = inverse.sum(0) @ gains / inverse.sum()
        return -np.linalg.slogdet(inverse)[1] + np.log(inverse.sum()) + (gains - mean) @ inverse @ (gains - mean)

    grid = np.linspace(0, 30, 20001)
    tau2 = grid[np.argmin([deviance(value) for value in grid])]
    inverse = np.linalg.inv(tau2 * alike + np.diag(variances))
    found = two_stage.mean_with_shared_spread(gains, variances, [seasons, places], 1 / 3)
    assert found.estimate == pytest.approx(3.5) and found.df == 5
    q = (gains - 3.5) @ inverse @ (gains - 3.5) / 5
    assert found.std_error == pytest.approx(np.sqrt(max(1, q) / inverse.sum()), rel=1e-3)


def test_site_years_near_a_cut_are_moved(program):
    arguments, found, used, blocks = program
    near = used[used["rainfall_class"] == "normal"]["site_year_id"].iloc[:2].to_list()
    moves = pd.DataFrame({"comparison_id": "c", "site_year_id": [*near, "elsewhere"], "rainfall_class": "wet"})
    rows = rainfall_cuts.at_other_cuts(used, blocks, found["pooled_gains"], moves)
    tested = rows[rows["target"] == TESTED].set_index("level")
    before = used.groupby("rainfall_class").size()
    assert tested["n_site_years"].to_dict() == {
        "dry": before["dry"],
        "normal": before["normal"] - 2,
        "wet": before["wet"] + 2,
    }
    levels = used["rainfall_class"].where(~used["site_year_id"].isin(near), "wet")
    model = one_stage.fit_gains(
        blocks, TESTED, levels=blocks["site_year_id"].map(dict(zip(used["site_year_id"], levels, strict=True)))
    )
    wet = model.fit.coefficients.set_index("term").loc["levelwet"]
    assert tested.loc["wet", "estimate"] == pytest.approx(wet["estimate"])
    assert (rows["left_out"] == ", ".join(sorted(near))).all()


def test_of_many_site_years_each_is_left_out_at_once_and_the_answer_is_nearly_that_of_fits(monkeypatch):
    """Rows, counts and what leads are the same; an end of the interval moves by a small part of its half-width."""
    blocks = blocks_of(17, 8).assign(comparison_id="c")
    means = blocks.groupby(["comparison_id", "site_year_id", "place", "season"], as_index=False)["gain"].mean()
    columns = ["std_error", "own_std_error", "block_std_error"]
    site_years = means.assign(n_trials=1, n_plots=8, **dict.fromkeys(columns, 100.0))
    overall, _ = pooling.pooled_gains(site_years, blocks, ["c"])
    assert len(site_years) > robustness.MOST_REFITS and set(overall.query("is_headline")["method"]) == {MIXED}
    at_once = robustness.robustness(site_years, blocks, overall, ["c"])
    monkeypatch.setattr(robustness, "MOST_REFITS", len(site_years))
    each = robustness.robustness(site_years, blocks, overall, ["c"])
    same = ["target", "kind", "left_out", "method", "n_site_years", "n_seasons"]
    assert at_once[same].equals(each[same])
    is_moved = each["kind"] == robustness.SITE_YEAR
    assert at_once[~is_moved].equals(each[~is_moved])
    half = (each["conf_high"] - each["conf_low"]) / 2
    for end, most in (("estimate", 0.03), ("conf_low", 0.1), ("conf_high", 0.1)):
        difference = (at_once[end] - each[end]).abs() / half
        assert 0 < difference[is_moved].max() < most, (end, difference[is_moved].max())


def test_the_only_site_year_of_a_season_takes_it_along_however_many_others_there_are(monkeypatch):
    """Two seasons cannot show how much seasons differ, also where a fit for each would take too long."""
    monkeypatch.setattr(robustness, "MOST_REFITS", 5)
    blocks = blocks_of(7, 3).assign(comparison_id="c")
    last = blocks.loc[blocks["season"] == 2092, "site_year_id"].iloc[0]
    blocks = blocks[blocks["season"].ne(2092) | blocks["site_year_id"].eq(last)].reset_index(drop=True)
    means = blocks.groupby(["comparison_id", "site_year_id", "place", "season"], as_index=False)["gain"].mean()
    columns = ["std_error", "own_std_error", "block_std_error"]
    site_years = means.assign(n_trials=1, n_plots=8, **dict.fromkeys(columns, 100.0))
    overall, _ = pooling.pooled_gains(site_years, blocks, ["c"])
    found = robustness.robustness(site_years, blocks, overall, ["c"])
    rows = rows_of(found, robustness.SITE_YEAR, TO_COME).set_index("left_out")
    assert pd.isna(rows.loc[last, "estimate"]) and rows.loc[last, "warnings"].startswith("Not estimable")
    assert rows.drop(last)["estimate"].notna().all() and (rows["n_seasons"] == 3).sum() == len(rows) - 1
