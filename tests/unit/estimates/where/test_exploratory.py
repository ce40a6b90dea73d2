"""Exploratory breakdowns against the same estimates made from the site-years of one class, or of one rate, alone."""

import numpy as np
import pytest

from pipeline.estimates.average import pooling
from pipeline.estimates.program import estimate
from pipeline.estimates.where import breakdown, exploratory
from pipeline.estimates.where.by_rate import RATE


@pytest.fixture(scope="module")
def program(build):
    """12 places by 3 seasons; in group R 2 of 4 places are tiled, in W all, in P one; crop before by place."""
    comparisons, trials, treatments, plots, arms = build.program(4, n_places=12, n_seasons=3)
    place = trials["place"].str[1:].astype(int)
    is_tiled = (trials["drainage_group"] == "W") | place.isin([0, 3, 2])
    trials["artificial_drainage"] = np.where(is_tiled, "subsurface", "none")
    trials["previous_crop"] = np.where(place < 7, "corn", "soybean")
    trials.loc[trials["trial_id"] == "p11-2093", "previous_crop"] = None
    frames = (comparisons, trials, treatments, plots, arms)
    found = estimate(*frames)
    return (
        frames,
        found,
        found["explored"].query("target == 'seasons tested' and is_headline").set_index(["moderator", "level"]),
    )


def test_tiled_stand_apart_where_both_have_three_site_years(program):
    _, found, rows = program
    levels = rows.loc[exploratory.TILES]
    assert levels["n_site_years"].to_dict() == {"P, tiled": 3, "P, untiled": 9, "R, tiled": 6, "R, untiled": 6}
    assert not levels["p_value"].isna().any() and levels["n_unknown"].eq(12).all()  # the site-years of W, all tiled


def test_classes_are_those_of_the_one_interaction_model(program):
    """The site-year without a crop before is left out; classes and test as breakdowns() gives them for such a
    column.
    """
    frames, found, rows = program
    used = found["site_year_gains"].assign(
        drainage_group=lambda table: np.where(table["place"].str[1:].astype(int) < 7, "corn", "soybean")
    )
    used = used[used["site_year_id"] != "p11-2093"]
    blocks = pooling.model_blocks(found["block_gains"], frames[1], used)
    alone = {"drainage group": breakdown.MODERATORS["drainage group"]}
    expected, tests = breakdown.breakdowns(used, blocks, ["c"], moderators=alone)
    expected = expected.query("target == 'seasons tested' and is_headline").set_index("level")
    for level in ("corn", "soybean"):
        row = rows.loc[(exploratory.PREVIOUS_CROP, level)]
        assert (row["estimate"], row["conf_low"]) == pytest.approx(
            (expected.loc[level, "estimate"], expected.loc[level, "conf_low"])
        )
        assert row["p_value"] == pytest.approx(tests.query("target == 'seasons tested'")["p_value"].iloc[0])


def test_what_is_looked_at_is_a_family_of_its_own(program):
    """Holm's adjustment of the declared tests does not know of these; theirs is over the three of them."""
    _, found, rows = program
    tests = found["interaction_tests"].query("target == 'seasons tested'").set_index("moderator")
    kinds = tests["kind"].to_dict()
    assert {name for name, kind in kinds.items() if kind == "exploratory"} == {
        exploratory.TILES,
        exploratory.PREVIOUS_CROP,
        RATE,
    }
    assert tests.groupby("kind")["n_tests"].agg(set).to_dict() == {"declared": {3}, "exploratory": {3}}
    smallest = tests.query("kind == 'exploratory'")["p_value"].min()
    assert tests.query("kind == 'exploratory'")["p_value_holm"].min() == pytest.approx(min(3 * smallest, 1.0))


def test_a_breakdown_that_program_yml_declares_joins_the_declared_family(build):
    found = estimate(*build.program(4, n_places=6, n_seasons=3), also_declared=(RATE,))
    tests = found["interaction_tests"].query("target == 'seasons tested'")
    assert set(tests["kind"]) == {"declared"} and set(tests["n_tests"]) == {4}
    assert set(found["explored"]["kind"]) == {"declared"}


def test_trials_without_these_columns_explore_rates_only(build):
    found = estimate(*build.program(4, n_places=2, n_seasons=1))["explored"]
    assert set(found["moderator"]) == {RATE} and found["estimate"].isna().all()
