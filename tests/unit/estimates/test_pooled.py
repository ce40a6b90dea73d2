import numpy as np
import pandas as pd
import pytest

from pipeline.estimates import interval_rules as rules
from pipeline.estimates import one_stage, pooled
from pipeline.estimates.interval_rules import MIXED, PLAIN, TESTED, TO_COME, TWO_STAGE


def frames(gains, *, places=None, seasons=None, std_error=1.0, block_noise=1.0, n_blocks=4, seed=1):
    """Site-years with these gains, and block gains scattered evenly around each."""
    k = len(gains)
    site_years = pd.DataFrame(
        {"comparison_id": "c", "site_year_id": [f"s{i}" for i in range(k)], "gain": gains, "std_error": std_error,
         "place": places if places is not None else [f"p{i}" for i in range(k)],
         "season": seasons if seasons is not None else [2091 + i % 2 for i in range(k)], "n_trials": 1,
         "drainage_group": None, "rainfall_class": None, "is_pooled": True}
    )  # fmt: skip
    rng = np.random.default_rng(seed)
    rows = []
    for site_year in site_years.to_dict("records"):
        noise = rng.normal(0, block_noise, n_blocks)
        for deviation in noise - noise.mean():
            rows.append(site_year | {"trial_id": site_year["site_year_id"], "gain": site_year["gain"] + deviation,
                                     "variance": n_blocks * float(np.nan_to_num(site_year["std_error"], nan=1.0)) ** 2})  # fmt: skip
    return site_years, pd.DataFrame(rows)


def rows_of(site_years, blocks):
    found, components = pooled.pooled_gains(site_years, blocks, ["c"])
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
    for target in rules.TARGETS:
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
    assert (
        leader["pred_low"]
        < leader["conf_low"]
        < leader["estimate"]
        < leader["conf_high"]
        < leader["pred_high"]
    )
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
        row["conf_high"] - row["conf_low"]
        for _, row in found.loc[TO_COME].iterrows()
        if pd.notna(row["estimate"])
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
    assert "1 site-years without plot error" in found.loc[(TESTED, TWO_STAGE), "warnings"]


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
