import numpy as np
import pandas as pd
import pytest
from scipy import stats

from pipeline.contract.vocabulary import TARGETS, TESTED, TO_COME
from pipeline.estimates.average import pooling, three_methods
from pipeline.estimates.engines import interval_rules as rules
from pipeline.estimates.engines import one_stage, two_stage
from pipeline.estimates.engines.interval_rules import CLUSTERED, MIXED, PLAIN, TWO_STAGE


def frames(gains, *, places=None, seasons=None, std_error=1.0, block_noise=1.0, n_blocks=4, seed=1):
    """Site-years with these gains, and block gains scattered evenly around each."""
    k = len(gains)
    site_years = pd.DataFrame(
        {
            "comparison_id": "c",
            "site_year_id": [f"s{i}" for i in range(k)],
            "gain": gains,
            "std_error": std_error,
            "place": places if places is not None else [f"p{i}" for i in range(k)],
            "season": seasons if seasons is not None else [2091 + i % 2 for i in range(k)],
            "n_trials": 1,
            "drainage_group": None,
            "rainfall_class": None,
            "is_pooled": True,
        }
    )
    rng = np.random.default_rng(seed)
    rows = []
    for site_year in site_years.to_dict("records"):
        noise = rng.normal(0, block_noise, n_blocks)
        for deviation in noise - noise.mean():
            rows.append(site_year | {"trial_id": site_year["site_year_id"], "gain": site_year["gain"] + deviation,
                                     "variance": n_blocks * float(np.nan_to_num(site_year["std_error"],
                                                                                nan=1.0)) ** 2})  # fmt: skip
    return site_years, pd.DataFrame(rows)


def rows_of(site_years, blocks):
    found, components = pooling.pooled_gains(site_years, blocks, ["c"])
    return found.set_index(["target", "method"]), components


def only_headline(rows, target):
    leaders = rows.loc[target].query("is_headline")
    assert len(leaders) == 1
    return leaders.iloc[0]


@pytest.mark.parametrize("k", [0, 1, 2])
def test_too_few_are_counted_only(k):
    found, components = rows_of(*frames([3.0] * k)) if k else rows_of(*(f.iloc[:0] for f in frames([1.0])))
    assert len(found) == 6 and found["estimate"].isna().all() and components.empty
    assert (found["n_site_years"] == k).all() and (found["shown_as"] == "count").all()
    for target in TARGETS:
        assert only_headline(found, target)["rule"] == rules.rule_for(target, k, min(k, 2)).sentence


@pytest.mark.parametrize("k, words", [(3, "very wide"), (4, "exact"), (5, "exact")])
def test_few_lead_with_the_plain_mean(k, words):
    gains = [2.0, 5.0, 3.0, 9.0, 1.0][:k]
    found, _ = rows_of(*frames(gains))
    leader = only_headline(found, TESTED)
    assert leader.name == PLAIN and words in leader["rule"]
    assert leader["estimate"] == pytest.approx(np.mean(gains))
    assert leader["df"] == k - 1
    assert pd.isna(found.loc[(TESTED, MIXED), "estimate"])
    assert found.loc[(TESTED, TWO_STAGE), "estimate"] == pytest.approx(np.mean(gains))
    assert found["pred_low"].isna().all()
    assert leader["shown_as"] == "grey"


def test_six_lead_with_the_mixed_model_and_a_prediction_interval():
    found, components = rows_of(*frames([2.0, 5.0, 3.0, 9.0, 1.0, 6.0]))
    leader = only_headline(found, TESTED)
    assert leader.name == MIXED
    assert leader["df"] == pytest.approx(5, abs=0.01)
    assert leader["pred_low"] < leader["conf_low"] < leader["estimate"] < leader["conf_high"] < leader["pred_high"]
    assert leader["observed_low"] < leader["conf_low"]
    assert leader["formula"] == "gain ~ 1 + (1 | site_year_id)"
    half = leader["conf_high"] - leader["estimate"]
    assert leader["estimate"] - leader["conf_low"] == pytest.approx(half)
    tau2 = components.query("target == 'seasons tested' and component == 'site-year'")["variance"].iloc[0]
    assert leader["tau2"] == pytest.approx(tau2)


def test_balanced_model_equals_the_mean_of_site_years():
    """Equal blocks and weights, spread above plot error: REML's mean and SE are those of the site-year gains."""
    gains = [2.0, 5.0, 3.0, 9.0, 1.0, 6.0, 4.0, 8.0]
    found, _ = rows_of(*frames(gains))
    row = found.loc[(TESTED, MIXED)]
    assert row["estimate"] == pytest.approx(np.mean(gains))
    assert row["std_error"] == pytest.approx(np.std(gains, ddof=1) / np.sqrt(8), rel=1e-4)


def test_two_stage_for_seasons_to_come_weights_site_years_within_their_season_alone():
    """At tau2 = 3 errors of 1 and 3 weigh 1/4 and 1/12, so 3 to 1: season means 12.5, 8 and 5, each counted once."""
    site_years = frames([10.0, 20, 8, 8, 5], seasons=[2091, 2091, 2092, 2092, 2093])[0]
    known = site_years.assign(std_error=[1.0, 3, 1, 2, 1])
    found = three_methods.weighted_mean(known, TO_COME, 0.95, tau2=lambda *_: 3.0)
    means = np.array([12.5, 8, 5])
    half = 4.30265273 * means.std(ddof=1) / np.sqrt(3)  # t(0.975, 2)
    assert [found[name] for name in ("estimate", "conf_high", "df", "tau2")] == pytest.approx([8.5, 8.5 + half, 2, 3])


def test_two_seasons_say_nothing_of_seasons_to_come():
    found, _ = rows_of(*frames(list(np.arange(10.0))))
    to_come = found.loc[TO_COME]
    assert to_come["estimate"].isna().all()
    assert to_come["rule"].str.contains("holds for the seasons tested only").all()


def test_no_spread_uses_site_years_less_one_and_predicts_nothing():
    site_years, blocks = frames([2.0, 2.1, 1.9, 2.0, 2.05, 1.95], std_error=1.0, block_noise=4.0)
    found, _ = rows_of(site_years, blocks)
    leader = only_headline(found, TESTED)
    assert leader["tau2"] == pytest.approx(0, abs=1e-6)
    assert leader["df"] == 5
    assert pd.isna(leader["pred_low"]) and pd.notna(leader["observed_low"])
    assert "prediction interval is not estimable" in leader["rule"]
    assert leader["warnings"] == ""


@pytest.mark.parametrize(
    "gains, method, place_variance",
    [
        ([2.0, 3, 9, 8, 5, 6, 13, 12], "Satterthwaite df of the total variance", True),
        ([2.0, 13, 9, 3, 5, 12, 8, 6], "confidence distribution of tau2", False),
    ],
)
def test_prediction_interval_by_whether_places_differ(gains, method, place_variance):
    """Pairs of site-years at one place: alike, so that places differ, or as unlike as any."""
    found, components = rows_of(*frames(gains, places=list("aabbccdd")))
    assert found.loc[(TESTED, MIXED), "pred_method"] == method
    of_place = components.query("target == 'seasons tested' and component == 'place'")["variance"].iloc[0]
    assert (of_place > 0) == place_variance


SEASONS = [2091, 2092, 2093, 2094] * 3


def test_season_variance_of_zero_gives_the_wider_interval():
    """Season means far more alike than chance would have them."""
    gains = [0.0, 10, 4, 6, 10, 0, 6, 4, 5, 5, 5, 5]
    found, _ = rows_of(*frames(gains, seasons=SEASONS))
    row = found.loc[(TO_COME, MIXED)]
    assert "season variance is estimated as zero" in row["rule"]
    widths = [
        row["conf_high"] - row["conf_low"] for _, row in found.loc[TO_COME].iterrows() if pd.notna(row["estimate"])
    ]
    assert widths[0] >= max(widths[1:]) - 1e-9


def test_zero_season_variance_keeps_the_season_means_interval_when_that_is_wider():
    """Unequal seasons: model sees no season effect, the season means still scatter."""
    gains = [1.0, 9, 1, 9, 1, 9, 5, 5, 5, 5, 8]
    seasons = [2091] * 6 + [2092] * 4 + [2093]
    found, _ = rows_of(*frames(gains, seasons=seasons))
    row, guard = found.loc[(TO_COME, MIXED)], found.loc[(TO_COME, PLAIN)]
    assert row["df_method"].startswith("season means")
    assert row["conf_high"] - row["conf_low"] == pytest.approx(guard["conf_high"] - guard["conf_low"])
    assert row["estimate"] != pytest.approx(guard["estimate"])


def test_seasons_that_differ_widen_the_interval_for_seasons_to_come():
    gains = list(np.array([0.0, 4, 12, 6] * 3) + np.tile([0.5, -0.5, 0.2], 4))
    found, components = rows_of(*frames(gains, seasons=SEASONS))
    tested, to_come = only_headline(found, TESTED), only_headline(found, TO_COME)
    assert to_come["conf_high"] - to_come["conf_low"] > 2 * (tested["conf_high"] - tested["conf_low"])
    assert to_come["df"] == pytest.approx(3, abs=0.3)
    assert (components["component"] == "season").sum() == 1


ALIKE_SEASONS = [1.0, 9, 1, 9, 1, 9, 1, 9, 5, 5, 5, 5]


def test_seasons_to_come_are_never_known_better_than_the_seasons_tested():
    """Season means of exactly 5 each; then a model whose standard error for seasons to come is half of what it is."""
    site_years, blocks = frames(ALIKE_SEASONS, seasons=[2091] * 4 + [2092] * 4 + [2093] * 4)
    found, _ = rows_of(site_years, blocks)
    tested, to_come = only_headline(found, TESTED), only_headline(found, TO_COME)
    assert to_come["conf_high"] - to_come["conf_low"] >= (tested["conf_high"] - tested["conf_low"]) * (
        1 - three_methods.SAME_WIDTH
    )
    alone = three_methods.mixed_model(site_years, blocks, TO_COME, 0.95).columns
    narrow = alone | interval(alone, std_error=alone["std_error"] / 2)
    wider = three_methods.no_narrower(narrow, tested.to_dict(), 0.95)
    assert wider["df_method"] == three_methods.AS_TESTED and wider["estimate"] == alone["estimate"]
    assert wider["conf_high"] - wider["conf_low"] == pytest.approx(tested["conf_high"] - tested["conf_low"])


def interval(row, *, std_error):
    mean = two_stage.Mean(row["estimate"], std_error, row["df"])
    return three_methods.interval(mean, 0.95, row["df_method"])


def test_few_site_years_of_like_seasons_take_the_width_of_the_seasons_tested():
    """Season means of 4.9, 5 and 5.1 from site-years of 1 to 9: t(2) x 0.058 is less than t(4) x 1.4."""
    found, _ = rows_of(*frames([1.0, 8.8, 5, 1.2, 9.0], seasons=[2091, 2091, 2092, 2093, 2093]))
    tested, to_come = only_headline(found, TESTED), only_headline(found, TO_COME)
    assert to_come["estimate"] == pytest.approx(5.0) and to_come.name == PLAIN
    half = stats.t.ppf(0.975, 4) * np.std([1.0, 8.8, 5, 1.2, 9.0], ddof=1) / np.sqrt(5)
    assert to_come["conf_high"] - to_come["estimate"] == pytest.approx(half)
    assert to_come["df_method"] == three_methods.AS_TESTED
    assert (
        rules.ADJUSTMENTS["no narrower"] in to_come["rule"] and rules.ADJUSTMENTS["no narrower"] not in tested["rule"]
    )


def test_a_wider_interval_for_seasons_to_come_stays_its_own():
    row = {"estimate": 5.0, "std_error": 2.0, "df": 3.0, "conf_low": -1.4, "conf_high": 11.4}
    tested = row | {"std_error": 1.0}
    assert three_methods.no_narrower(row, tested, 0.95) is row
    assert three_methods.no_narrower({"method": PLAIN}, tested, 0.95) == {"method": PLAIN}
    assert three_methods.no_narrower(row, {}, 0.95) is row


def test_one_field_is_never_known_better_than_the_mean():
    """Drawn anew where a guard widened the mean's interval past it: sqrt(4 + 9) x t(2)."""
    row = {
        "estimate": 5.0,
        "std_error": 3.0,
        "df": 2.0,
        "conf_low": -7.9,
        "conf_high": 17.9,
        "tau2": 4.0,
        "pred_low": -3.0,
        "pred_high": 13.0,
    }
    half = stats.t.ppf(0.975, 2) * np.sqrt(13)
    found = three_methods.with_prediction_beyond(row, 0.95)
    assert (found["pred_low"], found["pred_high"]) == pytest.approx((5 - half, 5 + half))
    assert three_methods.with_prediction_beyond(row | {"pred_low": -9.0, "pred_high": 19.0}, 0.95)["pred_low"] == -9.0
    assert three_methods.with_prediction_beyond({"estimate": 5.0}, 0.95) == {"estimate": 5.0}


def test_seasons_as_clusters_stand_beside_the_others_for_seasons_to_come():
    """Equal seasons and errors: CR2 is the t interval of the season means."""
    found, _ = rows_of(*frames([0.0, 4, 12, 6, 1, 3, 9, 5, 2, 4, 10, 8], seasons=SEASONS))
    row, means = found.loc[(TO_COME, CLUSTERED)], found.loc[(TO_COME, PLAIN)]
    assert (TESTED, CLUSTERED) not in found.index and not row["is_headline"]
    for column in ("estimate", "std_error", "df"):
        assert row[column] == pytest.approx(means[column])


@pytest.mark.filterwarnings("error::RuntimeWarning")
def test_a_standard_error_of_zero_is_no_error_and_is_said():
    found, _ = rows_of(*frames([2.0, 5, 3, 9, 1, 6, 30], std_error=[1.0] * 6 + [0.0]))
    two = found.loc[(TESTED, TWO_STAGE)]
    assert (
        two["n_site_years"] == 6 and "1 site-year whose standard error is exactly zero is left out" in two["warnings"]
    )
    assert "weighted alike" in found.loc[(TESTED, MIXED), "warnings"]


@pytest.mark.filterwarnings("error::RuntimeWarning")
@pytest.mark.parametrize("gains", [[0.0] * 12, [3.0] * 12, ALIKE_SEASONS])
def test_block_gains_without_any_scatter_have_no_model(gains):
    """Yields copied from one arm to the other, or the blocks from each other: R would stop or give df of 1."""
    seasons, places = [2091, 2092, 2093] * 4, list("aaabbbcccddd")
    found, _ = rows_of(*frames(gains, seasons=seasons, places=places, block_noise=0.0))
    assert found.loc[[(TESTED, MIXED), (TO_COME, MIXED)], "estimate"].isna().all()
    leader = only_headline(found, TESTED)
    assert leader.name == TWO_STAGE and "cannot be fitted" in leader["rule"]
    assert leader["estimate"] == pytest.approx(np.mean(gains)) and leader["std_error"] > 0


def test_model_and_mean_that_differ_lead_with_the_mean():
    """Precise trials gain little, imprecise ones much, and the spread between them is small."""
    std_error = np.array([0.2] * 6 + [10.0] * 6)
    gains = [1.0, 1.2, 0.8, 1.1, 0.9, 1.0, 18, -2, 10, 14, 0, 8]
    found, _ = rows_of(*frames(gains, std_error=std_error))
    leader = only_headline(found, TESTED)
    assert leader.name == PLAIN
    assert "differ by more than half a standard error" in leader["rule"]


def test_site_years_without_error_are_left_out_of_the_two_stage_row_only():
    found, _ = rows_of(*frames([2.0, 5.0, 3.0, 9.0, 1.0, 6.0, 30.0], std_error=[1.0] * 6 + [np.nan]))
    assert found.loc[(TESTED, TWO_STAGE), "n_site_years"] == 6
    assert found.loc[(TESTED, PLAIN), "n_site_years"] == 7
    assert "1 site-year without plot error" in found.loc[(TESTED, TWO_STAGE), "warnings"]


def test_one_row_per_site_year_at_distinct_places_has_no_model_and_two_stage_leads():
    site_years, blocks = frames([2.0, 5.0, 3.0, 9.0, 1.0, 6.0], n_blocks=1, block_noise=0.0)
    found, _ = rows_of(site_years, blocks)
    leader = only_headline(found, TESTED)
    assert leader.name == TWO_STAGE and "cannot be fitted" in leader["rule"]


@pytest.mark.parametrize(
    "n_blocks, places, target, terms",
    [
        (4, None, TESTED, ("site_year_id",)),
        (4, ["p", "p", "q", "r", "s", "t"], TESTED, ("place", "site_year_id")),
        (4, ["p"] * 6, TESTED, ("site_year_id",)),
        (1, ["p", "p", "q", "r", "s", "t"], TESTED, ("place",)),
        (1, None, TESTED, ()),
        (4, None, TO_COME, ("season", "site_year_id")),
    ],
)
def test_terms_the_data_can_tell_apart(n_blocks, places, target, terms):
    _, blocks = frames([1.0] * 6, places=places, seasons=[1, 2, 3, 1, 2, 3], n_blocks=n_blocks)
    assert one_stage.terms_for(blocks, target) == terms


def test_two_trials_at_a_site_year_get_a_trial_term():
    _, blocks = frames([1.0] * 6)
    blocks.loc[blocks["site_year_id"] == "s1", "site_year_id"] = "s0"
    assert one_stage.terms_for(blocks, TESTED)[-1] == "trial_id"


@pytest.mark.parametrize("seed", range(8))
def test_differences_left_are_the_rank_of_whole_matrices(seed):
    """Few and many rows of levels and groups, so that some hang together in several pieces."""
    rng = np.random.default_rng(seed)
    n = int(rng.integers(3, 40))
    levels, groups = (pd.Series(rng.integers(0, most, n)) for most in (rng.integers(2, 6), rng.integers(2, 25)))
    both = np.column_stack([np.equal.outer(of.to_numpy(), of.unique()) for of in (levels, groups)]).astype(float)
    assert one_stage._df_beyond(levels, groups) == np.linalg.matrix_rank(both) - levels.nunique()
