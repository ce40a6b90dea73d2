import numpy as np
import pandas as pd

from pipeline.estimates.n_response import optimum
from pipeline.estimates.n_response.ladders import ladder_plots, ladders
from pipeline.estimates.n_response.trial_curves import fitted_ladders, grid_rows_of, rows_of

BY_RATE = {60.0: 8000, 120.0: 9500, 180.0: 10000, 240.0: 10050}


def fitted(trials, treatments, plots):
    (ladder,) = fitted_ladders(ladders(ladder_plots(plots, treatments, trials)), conf_level=0.95)
    return ladder


def frames(make, **trial):
    rng = np.random.default_rng(3)
    yields = {rate: list(mean + rng.normal(0, 250, 4)) for rate, mean in BY_RATE.items()}
    return make.trial({"none": {0.0: list(5000 + rng.normal(0, 250, 4))}, make.UREA: yields}, **trial)


def test_a_block_without_zero_n_is_named(make):
    trials, treatments, plots = frames(make)
    lost = plots.drop(plots.index[(plots["block"] == "3") & (plots["treatment_code"] == "none-0")])
    assert fitted(trials, treatments, lost).warnings == "no zero-N in block 3"
    assert fitted(trials, treatments, plots).warnings == ""


def test_rates_in_different_main_plots_are_noted(make):
    trials, treatments, plots = frames(make, design="split-plot")
    apart = plots.assign(main_plot=np.where(plots["treatment_code"] == "none-0", "1", "2"))
    assert "different main plots" in fitted(trials, treatments, apart).warnings
    assert fitted(trials, treatments, plots.assign(main_plot="1")).warnings == ""


def test_rates_that_stand_once_have_no_curve_of_their_own(make):
    """Ten points along each of seven strips are seven values: nothing says how far one strip strays."""
    by_rate = {
        rate: [5000 + 40 * rate + step for step in range(10)] for rate in (30.0, 60.0, 90.0, 120.0, 150.0, 180.0)
    }
    trials, treatments, plots = make.trial(
        {"none": {0.0: [5000.0 + step for step in range(10)]}, make.UREA: by_rate}, design="strips"
    )
    ladder = fitted(trials, treatments, plots.assign(block=None))
    assert (ladder.flag, ladder.curves, len(ladder.rates)) == (optimum.NOT_REPLICATED, None, 7)
    rows = rows_of(ladder, 6.0, conf_level=0.95)
    assert {row["flag"] for row in rows} == {"no rate stands twice"} and all(row["aonr"] is None for row in rows)


def test_without_blocks_the_whole_trial_is_one_group(make):
    trials, treatments, plots = frames(make, design="CRD")
    assert rows_of(fitted(trials, treatments, plots), 6.0, conf_level=0.95)[0]["df"] == 20 - 1 - 2
    blocked = trials.assign(design="RCBD")
    assert rows_of(fitted(blocked, treatments, plots), 6.0, conf_level=0.95)[0]["df"] == 20 - 4 - 2


def test_dearer_nitrogen_lowers_the_economic_optimum_and_its_bounds(make):
    ladder = fitted(*frames(make))
    ratios = {3.0: False, 6.0: True, 12.0: False}
    grid = pd.DataFrame(grid_rows_of(ladder, ratios, conf_level=0.95))
    for column in ("eonr", "eonr_low", "eonr_high"):
        assert grid[column].is_monotonic_decreasing and grid[column].notna().all()
    planning = rows_of(ladder, 6.0, conf_level=0.95)[0]
    at_planning = grid[grid["is_planning_ratio"]].iloc[0]
    assert [at_planning[name] for name in ("eonr", "eonr_low")] == [planning["eonr"], planning["eonr_low"]]


def test_the_bootstrap_stands_beside_the_primary_curve_only(make):
    primary, *others = rows_of(fitted(*frames(make)), 6.0, conf_level=0.95)
    assert primary["eonr_boot_low"] < primary["eonr"] < primary["eonr_boot_high"]
    assert all(row["eonr_boot_low"] is None for row in others)
