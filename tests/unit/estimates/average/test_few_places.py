"""With few places: what is random, what holds for these places only, and which interval is given."""

import numpy as np
import pandas as pd
import pytest
from scipy import stats

from pipeline.contract.vocabulary import TESTED, TO_COME
from pipeline.estimates.average import pooling, three_methods
from pipeline.estimates.engines import interval_rules as rules
from pipeline.estimates.engines import one_stage, restricted_likelihood
from pipeline.estimates.engines.cluster_robust import clustered_mean
from pipeline.estimates.engines.interval_rules import MIXED, PLAIN


def frames(gains: dict[str, list[float]], *, n_blocks: int = 4, noise: float = 1.0, seed: int = 3):
    """Site-years and their blocks from place -> gains, one a season from 2091."""
    rng = np.random.default_rng(seed)
    site_years, blocks = [], []
    for place, of_place in gains.items():
        for season, gain in enumerate(of_place, start=2091):
            name = f"{place}-{season}"
            key = {"comparison_id": "c", "site_year_id": name, "place": place, "season": season}
            errors = rng.normal(0, noise, n_blocks)
            of_blocks = gain + errors - errors.mean()
            site_years.append(
                key
                | {
                    "gain": gain,
                    "std_error": noise / 2,
                    "n_trials": 1,
                    "drainage_group": place,
                    "rainfall_class": "wet" if season % 2 else "dry",
                }
            )
            blocks += [
                key | {"trial_id": name, "plots": f"{name} {b}", "gain": g, "variance": noise**2}
                for b, g in enumerate(of_blocks)
            ]
    return pd.DataFrame(site_years), pd.DataFrame(blocks)


TWO = {"a": [28.0, 72, 50, 41, 59], "b": [33.0, 66, 52, 45, 54]}


def headline(site_years, blocks, target):
    rows, _ = pooling.pooled_gains(site_years, blocks, ["c"])
    return rows[(rows["target"] == target) & rows["is_headline"]].iloc[0]


@pytest.mark.parametrize("target", [TESTED, TO_COME])
def test_two_places_hold_for_these_places_and_say_so(target):
    """Ten site-years between 28 and 72: with place random the interval was -147 to 247 on one df."""
    site_years, blocks = frames(TWO)
    row = headline(site_years, blocks, target)
    assert "place" not in row["formula"] and row["df"] > 3
    assert row["estimate"] == pytest.approx(50, abs=0.5)
    assert 28 < row["conf_low"] and row["conf_high"] < 72
    assert "the figure holds for these 2 places" in row["rule"]


def test_from_three_places_place_is_random_and_from_five_nothing_is_said():
    for n, sentence in (
        (1, "for this place"),
        (2, "for these 2 places"),
        (3, "3 or 4 places"),
        (4, "3 or 4 places"),
        (5, ""),
    ):
        _, blocks = frames({f"p{i}": [1.0 + i, 2.0, 4.0] for i in range(n)})
        assert ("place" in one_stage.terms_for(blocks, TESTED)) == (n >= 3)
        assert sentence in rules.place_sentence(n) and bool(rules.place_sentence(n)) == bool(sentence)


def test_a_place_variance_of_zero_says_little_of_three_places():
    """Places alike by chance: the wider of the model's interval and that of places as clusters."""
    site_years, blocks = frames({"a": [1.0, 9, 5], "b": [9.0, 1, 5.5], "c": [5.0, 5.2, 4.4]})
    found = three_methods.mixed_model(site_years, blocks, TESTED, 0.95)
    clustered = clustered_mean(site_years["gain"].to_numpy(), np.ones(9), site_years["place"].to_numpy())
    model = restricted_likelihood.fit_gains(blocks, TESTED)
    assert "place" in model.terms_at_zero() and rules.ADJUSTMENTS["place zero"] in found.notes
    own = stats.t.ppf(0.975, 8) * model.std_error
    half = found.columns["conf_high"] - found.columns["estimate"]
    assert half == pytest.approx(max(own, clustered.half_width(0.95)), rel=1e-3)
    apart = frames({"a": [1.0, 2, 1.5], "b": [9.0, 8, 9.5], "c": [5.0, 5.2, 4.4]})
    assert rules.ADJUSTMENTS["place zero"] not in three_methods.mixed_model(*apart, TESTED, 0.95).notes


def test_a_plain_mean_does_not_take_years_of_one_place_for_places():
    site_years, _ = frames({"a": [1.0, 1.2, 0.9], "b": [9.0], "c": [5.0]})
    row = three_methods.plain_mean(site_years, TESTED, 0.95).columns
    gains = site_years["gain"].to_numpy()
    clustered = clustered_mean(gains, np.ones(5), site_years["place"].to_numpy())
    plain = stats.t.ppf(0.975, 4) * gains.std(ddof=1) / np.sqrt(5)
    assert clustered.half_width(0.95) > plain
    assert row["conf_high"] - row["estimate"] == pytest.approx(clustered.half_width(0.95))
    assert row["df_method"] == three_methods.PLACES
    once, _ = frames({name: [gain] for name, gain in zip("abcde", gains, strict=True)})
    assert three_methods.plain_mean(once, TESTED, 0.95).columns["conf_high"] - row["estimate"] == pytest.approx(plain)


@pytest.mark.parametrize("n_places", [2, 3])
def test_classes_that_go_with_few_places_are_not_told_from_them(n_places):
    _, blocks = frames({name: [1.0, 3, 2.0, 4] for name in "abc"[:n_places]})
    assert one_stage.fit_gains(blocks, TESTED, levels=blocks["place"]) is None
    of_season = (blocks["season"] % 2).map({0: "wet", 1: "dry"})
    assert one_stage.fit_gains(blocks, TESTED, levels=of_season) is not None


def test_the_method_that_leads_is_the_same_with_few_places():
    site_years, blocks = frames(TWO)
    assert headline(site_years, blocks, TESTED)["method"] == MIXED
    few = (
        site_years.iloc[[0, 1, 2, 5]],
        blocks[blocks["site_year_id"].isin(site_years["site_year_id"].iloc[[0, 1, 2, 5]])],
    )
    row = headline(*few, TESTED)
    assert row["method"] == PLAIN and "these 2 places" in row["rule"]


def test_df_of_an_average_are_two_at_the_least_where_places_are_random():
    """Satterthwaite's formula gives 0.8 df here, whose t quantile means nothing."""
    gains = {"a": [90.0, 87, 86, 94, 96], "b": [84.0], "c": [95.0], "d": [84.0]}
    site_years, blocks = frames(gains, noise=6.0)
    assert restricted_likelihood.fit_gains(blocks, TESTED).df < 1
    assert three_methods.mixed_model(site_years, blocks, TESTED, 0.95).columns["df"] == 2
    assert one_stage.least_df_of_mean(("season", "site_year_id")) == 2
    assert one_stage.least_df_of_mean(("site_year_id",)) == one_stage.LEAST_DF
