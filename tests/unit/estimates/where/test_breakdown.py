from types import SimpleNamespace

import numpy as np
import pandas as pd
import pytest
import statsmodels.formula.api as smf
from scipy import stats

from pipeline.contract.vocabulary import TESTED, TO_COME
from pipeline.estimates.engines import cluster_robust, one_stage
from pipeline.estimates.engines.interval_rules import ADJUSTMENTS, MIXED, PLAIN
from pipeline.estimates.program import estimate
from pipeline.estimates.trials.block_gains import block_gains
from pipeline.estimates.where import breakdown


@pytest.fixture(scope="module")
def found(build):
    return estimate(*build.program(11, n_places=9, wet_gain=900.0, tau=120.0))


def divided(build, comparisons, *frames):
    """The breakdowns alone: the tables of estimate() that they fill."""
    own, overall, _ = build.averages(comparisons, *frames)
    by_class, tests = breakdown.breakdowns(own.used, own.grouped, [comparison.id for comparison in comparisons])
    return {"pooled_gains": pd.concat([overall, by_class], ignore_index=True), "interaction_tests": tests}


def rows(found, moderator, target=TESTED):
    table = found["pooled_gains"].query("moderator == @moderator and target == @target")
    return table.set_index(["level", "method"])


def test_a_class_that_gains_more_is_found_and_named_by_its_season(found):
    by_rain = rows(found, "rainfall class")
    wet, normal = by_rain.loc[("wet", MIXED)], by_rain.loc[("normal", MIXED)]
    assert wet["estimate"] - normal["estimate"] == pytest.approx(900, abs=250)
    assert wet["seasons"] == "2093" and wet["n_site_years"] == 9
    assert wet["shown_as"] == "grey"  # nine site-years, but a single season
    assert normal["shown_as"] == "sentence" and normal["seasons"] == "2092, 2094"
    test = found["interaction_tests"].query("moderator == 'rainfall class' and target == 'seasons tested'").iloc[0]
    assert test["p_value"] < 0.001 and (test["df1"], test["n_levels"]) == (2, 3)
    assert test["df2"] <= 36 - 3


@pytest.mark.usefixtures("either_engine")
def test_a_class_has_its_own_mean_whatever_it_is_called(build):
    """A previous crop is told in the sender's words, brackets and all."""
    comparisons, *frames = build.program(11, n_places=6, wet_gain=900.0, tau=120.0)
    own, _, _ = build.averages(comparisons, *frames)
    means = []
    for words in ("", " [early]: 2"):
        named = (frame.assign(rainfall_class=frame["rainfall_class"] + words) for frame in (own.used, own.grouped))
        by_class = breakdown.breakdowns(*named, [each.id for each in comparisons])[0]
        means.append(by_class.query("moderator == 'rainfall class'")["estimate"].dropna().to_numpy())
    assert len(means[0]) >= 6 and np.ptp(means[0]) > 500 and means[1] == pytest.approx(means[0])


def test_nothing_is_found_where_nothing_is(found):
    test = found["interaction_tests"].query("moderator == 'drainage group' and target == 'seasons tested'").iloc[0]
    assert test["p_value"] > 0.05


def test_small_cells_are_counts_or_grey(found, build):
    cells = rows(found, "drainage group x rainfall class")
    assert cells.loc[("P x wet", MIXED), "shown_as"] == "grey"
    assert cells.loc[("P x normal", MIXED), "shown_as"] == "sentence"
    few = rows(divided(build, *build.program(3, n_places=3, n_seasons=4)), "drainage group x rainfall class")
    count = few.loc[("P x wet", MIXED)]
    assert count["shown_as"] == "count" and pd.isna(count["estimate"]) and count["n_site_years"] == 1
    assert few["n_site_years"].sum() / 2 == 12


def test_separate_means_from_four_site_years(found):
    cells = rows(found, "drainage group x rainfall class")
    assert pd.isna(cells.loc[("P x wet", PLAIN), "estimate"])  # three
    normal = cells.loc[("P x normal", PLAIN)]
    of_class = found["site_year_gains"].query("drainage_group == 'P' and rainfall_class == 'normal'")
    gains, places = of_class["gain"], of_class["place"]
    assert normal["estimate"] == pytest.approx(gains.mean())
    half = stats.t.ppf(0.975, len(gains) - 1) * gains.std(ddof=1) / np.sqrt(len(gains))
    clustered = cluster_robust.clustered_mean(gains.to_numpy(float), np.ones(len(gains)), places.to_numpy())
    assert normal["conf_high"] - normal["estimate"] == pytest.approx(max(half, clustered.half_width(0.95)))


def test_one_headline_per_class(found):
    by = ["target", "moderator", "level"]
    assert (found["pooled_gains"].groupby(by)["is_headline"].sum() == 1).all()


@pytest.mark.usefixtures("either_engine")
def test_interaction_f_is_that_of_the_site_year_means_when_all_is_balanced(build):
    """One place per site-year, equal weights: the model's F is the one-way F of the site-year gains."""
    _, trials, _, plots, arms = build.program(5, n_places=12, n_seasons=1, plot_sd=100.0)
    blocks = block_gains(plots, arms, trials).merge(trials, on="trial_id").assign(variance=1.0)
    model = one_stage.fit_gains(blocks, TESTED, levels=blocks["drainage_group"])
    means = blocks.groupby(["site_year_id", "drainage_group"], as_index=False)["gain"].mean()
    expected = smf.ols("gain ~ C(drainage_group)", means).fit()
    f_stat, df1, df2 = model.fit.joint_test
    assert f_stat == pytest.approx(expected.fvalue, rel=1e-4)
    assert (df1, df2) == (2, pytest.approx(expected.df_resid, abs=0.01))
    assert model.most_df == 9


def test_unknown_classes_are_left_out_and_counted(build):
    comparisons, trials, treatments, plots, arms = build.program(11)
    trials["rainfall_class"] = trials["rainfall_class"].where(trials["place"] != "p0", None)
    result = divided(build, comparisons, trials, treatments, plots, arms)
    by_rain = rows(result, "rainfall class")
    assert (by_rain["n_unknown"] == 4).all()
    assert by_rain.xs(MIXED, level="method")["n_site_years"].sum() == 20
    assert result["interaction_tests"].query("moderator == 'rainfall class'")["n_unknown"].eq(4).all()
    assert rows(result, "drainage group")["n_unknown"].eq(0).all()


def test_a_single_class_has_no_test_but_a_mean(build):
    comparisons, trials, treatments, plots, arms = build.program(11)
    result = divided(build, comparisons, trials.assign(drainage_group="P"), treatments, plots, arms)
    test = result["interaction_tests"].query("moderator == 'drainage group'")
    assert test["p_value"].isna().all() and test["warnings"].eq("one class only").all()
    whole = (
        result["pooled_gains"]
        .query("moderator == 'all' and target == 'seasons tested' and method == 'mixed model'")
        .iloc[0]
    )
    assert rows(result, "drainage group").loc[("P", MIXED), "estimate"] == pytest.approx(whole["estimate"])


@pytest.mark.parametrize("target", [TESTED, TO_COME])
def test_a_class_of_all_site_years_has_the_interval_of_all_site_years(build, target):
    """Few places, their variance zero: the guard of the average holds for the same site-years under a class's name."""
    comparisons, trials, *others = build.program(26, n_places=4, n_seasons=3, tau=150.0)
    result = divided(build, comparisons, trials.assign(drainage_group="W"), *others)
    whole = result["pooled_gains"].query("moderator == 'all' and method == 'mixed model' and target == @target").iloc[0]
    assert target == TO_COME or "places as clusters" in whole["df_method"]
    ends = ["estimate", "conf_low", "conf_high"]
    of_class = rows(result, "drainage group", target).loc[("W", MIXED), ends]
    assert of_class.to_list() == pytest.approx(whole[ends].to_list(), rel=1e-4)


def test_a_class_is_known_no_better_for_seasons_to_come_than_for_those_tested(build):
    """The interval that leads there is the measure, not the plain mean of the class, which is half as wide here."""
    result = divided(build, *build.program(27))
    tested, to_come = (rows(result, "drainage group", target).query("is_headline") for target in (TESTED, TO_COME))
    assert set(to_come.index) == set(tested.index) == {(level, MIXED) for level in "RWP"}
    assert to_come["rule"].str.contains(ADJUSTMENTS["no narrower"], regex=False).all()
    widths = [found["conf_high"] - found["conf_low"] for found in (to_come, tested)]
    assert widths[0].to_dict() == pytest.approx(widths[1].to_dict())


def test_seasons_to_come_are_not_estimable_for_a_class_from_two_seasons(build):
    result = divided(build, *build.program(11, n_seasons=2))
    to_come = rows(result, "drainage group", TO_COME)
    assert to_come["estimate"].isna().all()
    assert to_come["rule"].str.startswith("Not estimable for future seasons").all()


def test_levels_of_an_empty_frame():
    empty = pd.DataFrame({"drainage_group": [], "rainfall_class": []})
    assert len(breakdown.levels_of(empty, ("drainage_group", "rainfall_class"))) == 0


def test_a_class_of_two_parts_is_known_where_both_are():
    parts = pd.DataFrame({"drainage_group": ["P", None, "W", None], "rainfall_class": ["wet", "wet", None, None]})
    assert breakdown.levels_of(parts, ("drainage_group", "rainfall_class")).to_list() == ["P x wet", None, None, None]


def test_classes_that_differ_twofold_in_spread_lead_with_their_own_means(build):
    comparisons, trials, treatments, plots, arms = build.program(8, n_places=6, n_seasons=4, tau=10.0)
    noisy = trials.loc[trials["drainage_group"] == "P", "trial_id"]
    shift = dict(zip(noisy, np.linspace(-2500, 2500, len(noisy)), strict=True))
    is_treated = plots["treatment_code"].str.startswith("C")
    plots["value"] += plots["trial_id"].map(shift).fillna(0) * is_treated
    by_group = rows(divided(build, comparisons, trials, treatments, plots, arms), "drainage group")
    leaders = by_group[by_group["is_headline"]]
    assert set(leaders.index.get_level_values("method")) == {PLAIN}
    assert leaders["rule"].str.contains("twofold").all()


@pytest.mark.parametrize(
    ("sds", "sizes", "differs"),
    [
        ((1.0, 2.01), (6, 6), True),
        ((2.01, 1.0), (6, 6), True),
        ((1.0, 1.5, 2.01), (6, 9, 6), True),
        ((1.0, 1.99), (6, 6), False),
        ((1.0, 3.0), (6, 5), False),
        ((1.0, 3.0), (5, 6), False),
        ((1.0, 3.0, 3.0), (6, 6, 5), False),
        ((3.0,), (12,), False),
    ],
)
def test_a_spread_differs_where_every_class_has_six_site_years_and_one_has_more_than_twice_anothers(
    sds, sizes, differs
):
    classes = [(f"class {i}", sd, size) for i, (sd, size) in enumerate(zip(sds, sizes))]
    gains = [sd * stats.zscore(np.arange(size), ddof=1) for _, sd, size in classes]
    levels = pd.Series([name for name, _, size in classes for _ in range(size)])
    assert breakdown._spread_differs(pd.DataFrame({"gain": np.concatenate(gains)}), levels) == differs


def test_classes_that_go_with_the_season_have_no_model_for_seasons_to_come():
    """Each drainage group met in one season: its variance could be anything, and df of 1e-8 gave limits of 1e152."""
    rng = np.random.default_rng(1)
    blocks = pd.DataFrame(
        [
            {
                "gain": rng.normal(5, 2),
                "variance": 4.0,
                "site_year_id": f"s{i}",
                "trial_id": f"s{i}",
                "place": f"p{i % 4}",
                "season": 2091 + i % 3,
            }
            for i in range(12)
            for _ in range(4)
        ]
    )
    levels = blocks["season"].map({2091: "R", 2092: "W", 2093: "P"})
    assert one_stage.fit_gains(blocks, TO_COME, levels=levels) is None
    assert one_stage.fit_gains(blocks, TESTED, levels=levels).terms == ("place", "site_year_id")
    crossed = blocks["place"].map({"p0": "R", "p1": "R", "p2": "W", "p3": "W"})
    assert one_stage.fit_gains(blocks, TO_COME, levels=crossed).terms == ("place", "season", "site_year_id")
    # what differs between classes of a place each is as much between those places, in whatever season
    assert one_stage.terms_for(blocks, TESTED, levels=blocks["place"]) == ("site_year_id",)
    assert one_stage.fit_gains(blocks, TESTED, levels=blocks["place"]) is None


@pytest.mark.parametrize("satterthwaite, df", [(1e-8, 2.0), (np.nan, 2.0), (3.5, 3.5), (200.0, 11.0), (0.0, 2.0)])
def test_df_stay_between_the_least_and_the_cap(satterthwaite, df):
    model = SimpleNamespace(has_no_spread=False, most_df=11, least_df=2.0)
    assert one_stage.capped_df(satterthwaite, model) == df
    without_spread = SimpleNamespace(has_no_spread=True, most_df=11, least_df=2.0)
    assert one_stage.capped_df(satterthwaite, without_spread) == 11


def test_seasons_left_once_each_class_has_its_mean():
    """With the classes in equal shares in every season none is used up; with a season for each class alone none is
    left.
    """
    blocks = pd.DataFrame({"season": [1, 1, 2, 2, 3, 3, 4, 4], "site_year_id": list("abcdefgh")})
    assert one_stage.seasons_left(pd.Series(list("xyxyxyxy")), blocks) == pytest.approx(3)
    assert one_stage.seasons_left(pd.Series(list("xxyyzzww")), blocks) == pytest.approx(0)
    # two seasons to each of two classes: one difference left in each
    assert one_stage.seasons_left(pd.Series(list("xxxxyyyy")), blocks) == pytest.approx(2)


def test_classes_that_go_with_seasons_are_no_surer_than_their_seasons_where_these_seem_not_to_differ():
    """5 seasons, 2 of them wet: with a season variance of zero the test of wet against dry rests on 3 differences, not
    on 28.
    """
    rng = np.random.default_rng(3)
    rows = [
        {"trial_id": f"{p}-{s}", "site_year_id": f"{p}-{s}", "place": p, "season": s, "block": b, "variance": 1.0,
         "is_wet": s < 2,
         "gain": 5 + 0.4 * ((p + s) % 3 - 1) + rng.normal(0, 0.6)}
        for p in range(6) for s in range(5) for b in range(3)
    ]  # fmt: skip
    blocks = pd.DataFrame(rows)
    blocks["gain"] -= blocks.groupby("season")["gain"].transform("mean") - 5  # no season stands out
    levels = blocks["is_wet"].map({True: "wet", False: "dry"})
    to_come, tested = (one_stage.fit_gains(blocks, target, levels=levels) for target in (TO_COME, TESTED))
    assert to_come.fit.is_zero(to_come.fit.variance("season"))
    assert to_come.most_df == pytest.approx(3) and tested.most_df == 28
    assert ADJUSTMENTS["season zero, classes"] in to_come.warnings
