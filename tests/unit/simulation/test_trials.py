"""Layout counts, the response to nitrogen, and true gains."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest

from pipeline.simulation.program import simulate_program
from pipeline.simulation.scenario import CORN, COTTON, SITES, SOYBEAN
from pipeline.simulation.trials import gain_over_urea_once, sites_left_out, urea_once_yield


def test_trials_by_crop_and_what_became_of_them(program):
    trials = program.tables["trials"]
    assert trials["trial_id"].is_unique
    assert trials.groupby(["crop", "outcome"]).size().to_dict() == {
        ("corn", "harvested"): 36,
        ("corn", "lost"): 1,
        ("cotton", "harvested"): 24,
        ("cotton", "planted"): 1,
        ("soybean", "harvested"): 24,
    }
    assert set(program.tables["plots"]["trial_id"]) == set(trials.loc[trials["outcome"] == "harvested", "trial_id"])


def test_sites_rest_in_turn_and_cross_seasons(program):
    trials = program.tables["trials"]
    seasons = trials[trials["outcome"] == "harvested"].groupby(["crop", "site_id"])["season"].nunique()
    assert seasons.min() >= 2
    for crop in (CORN, COTTON, SOYBEAN):
        for index in range(4):
            groups = {
                s.drainage_group for s in SITES if crop.name in s.crops and s.name not in sites_left_out(crop, index)
            }
            assert groups >= {"W", "P"}  # soybean has one R site, which also rests once


def test_every_block_is_complete_and_three_trials_have_another_number_of_blocks(program):
    plots = program.tables["plots"]
    per_block = plots.groupby(["trial_id", "block"])["treatment_code"]
    assert (per_block.nunique() == per_block.size()).all()
    assert (per_block.nunique().groupby("trial_id").nunique() == 1).all()
    assert plots.groupby("trial_id")["block"].max().value_counts().to_dict() == {4: 81, 3: 2, 5: 1}
    assert not plots.duplicated(["trial_id", "plot"]).any()


def test_treatments_are_randomised_within_blocks(program):
    plots = program.tables["plots"]
    first = plots[plots["plot"] % 100 == 1].groupby("treatment_code").size()
    assert len(first) > 12 and first.max() < 60  # of 336 blocks; an unshuffled layout starts each with one code


@pytest.mark.parametrize("group", ["R", "W", "P"])
def test_urea_response_passes_through_its_mean_its_zero_and_its_plateau(group):
    for crop in (CORN, COTTON):
        plateau = urea_once_yield(crop, group, 400)
        assert urea_once_yield(crop, group, crop.middle_rate) == pytest.approx(crop.mean_yield)
        assert urea_once_yield(crop, group, 0) == pytest.approx(crop.zero_n_fraction[group] * plateau)
        assert urea_once_yield(crop, group, crop.join_lb_ac[group]) == pytest.approx(plateau)


def test_soybean_responds_flat():
    assert [urea_once_yield(SOYBEAN, "W", rate) for rate in (0, 40, 80)] == pytest.approx([57.1, 58, 58])


@pytest.mark.parametrize(
    ("family", "rate", "gain"),
    [
        ("ZERO", 0, 0),
        ("U1", 120, 0),
        ("C50", 80, 10),
        ("C25", 120, 6),
        ("C75", 120, 11),
        ("U2", 160, 7),
        ("C50", 200, 5),
        ("U2", 240, 1.4),
    ],
)
def test_gain_by_treatment_where_c50_gains_10_over_once_and_3_over_split(family, rate, gain):
    assert gain_over_urea_once(family, rate, once=10.0, split=3.0) == pytest.approx(gain)


def test_same_seed_same_frames_and_another_seed_others(program):
    again, other = simulate_program(), simulate_program(random_seed=7)
    for name, frame in program.tables.items():
        pd.testing.assert_frame_equal(frame, again.tables[name])
    assert again.truth == program.truth
    assert not np.allclose(
        program.plot_yields["yield_per_ac"].to_numpy()[:500],
        other.plot_yields["yield_per_ac"].to_numpy()[:500],
    )


def test_the_global_random_state_is_neither_used_nor_changed(program):
    np.random.seed(1)
    before = np.random.get_state()[1].copy()
    assert simulate_program().truth == program.truth
    assert (np.random.get_state()[1] == before).all()


def test_standard_deviations_of_blocks_and_plots():
    yields = pd.concat(simulate_program(random_seed=seed).plot_yields for seed in range(3))
    corn = yields[(yields["crop"] == "corn")].reset_index(drop=True)
    trial = (corn["trial_id"] + (corn.groupby(["trial_id", "plot"]).cumcount()).astype(str)).rename("trial")
    value = corn["yield_per_ac"]
    treatment_mean = value.groupby([trial, corn["treatment_code"]]).transform("mean")
    block_mean = value.groupby([trial, corn["block"]]).transform("mean")
    residual = value - treatment_mean - block_mean + value.groupby(trial).transform("mean")
    size = corn.groupby(trial).agg(t=("treatment_code", "nunique"), b=("block", "nunique"))
    df = ((size["t"] - 1) * (size["b"] - 1)).sum()
    assert np.sqrt((residual**2).sum() / df) == pytest.approx(CORN.sd_plot, rel=4 / np.sqrt(2 * df))
    blocks = pd.DataFrame({"trial": trial, "block": corn["block"], "mean": block_mean}).drop_duplicates()
    between = blocks.groupby("trial")["mean"].var().mean()
    expected = CORN.sd_block**2 + CORN.sd_plot**2 * (1 / size["t"]).mean()
    assert between == pytest.approx(expected, rel=4 * np.sqrt(2 / (len(blocks) - len(size))))
