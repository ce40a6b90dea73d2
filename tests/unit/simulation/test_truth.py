"""The truth's own arithmetic, and whether simulated trials centre on it."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest
from scipy import stats

from pipeline.simulation import program as program_module
from pipeline.simulation.program import simulate_program
from pipeline.simulation.scenario import CELL_GAINS
from pipeline.simulation.truth import CONTRASTS, class_shares, group_shares, weighted_mean

ARMS = {  # treatment and comparator code, by rate
    "corn-c50-once-vs-urea-once": [(f"C50-{r}", f"U1-{r}") for r in (80, 120, 160)],
    "corn-c50-once-vs-urea-split": [(f"C50-{r}", f"U2-{r}") for r in (80, 120, 160)],
    "corn-c25-once-vs-urea-once": [("C25-120", "U1-120")],
    "corn-c75-once-vs-urea-once": [("C75-120", "U1-120")],
    "cotton-c50-once-vs-urea-once": [(f"C50-{r}", f"U1-{r}") for r in (40, 70, 100)],
    "cotton-c50-once-vs-urea-split": [(f"C50-{r}", f"U2-{r}") for r in (40, 70, 100)],
    "soybean-c50-once-vs-urea-once": [(f"C50-{r}", f"U1-{r}") for r in (40, 80)],
    "soybean-c50-once-vs-zero-n": [("C50-80", "ZERO")],
}


@pytest.mark.parametrize(
    ("over", "crop", "expected"),
    [
        ("urea once", "corn", 4.97),
        ("urea once", "cotton", 20.7),
        ("urea once", "soybean", 0.30),
        ("urea split", "corn", 0.44),
        ("urea split", "cotton", 1.8),
    ],
)
def test_weighted_mean_of_the_cells_worked_out_apart(over, crop, expected):
    # site mix R 2, W 5, P 5 and dry .18, normal .56, wet .26; expected values were worked out apart from this code
    groups = {"R": 2 / 12, "W": 5 / 12, "P": 5 / 12}
    classes = {"dry": 0.18, "normal": 0.56, "wet": 0.26}
    digits = len(str(expected).split(".")[1])
    assert weighted_mean(CELL_GAINS[over][crop], groups, classes) == pytest.approx(expected, abs=0.5001 * 10**-digits)


def test_shares_of_the_season_process():
    # dry season 10 of 12 places; wet 9 of 12; mixed 3 of 12; each season in four
    assert class_shares() == pytest.approx({"dry": 10 / 48, "normal": 26 / 48, "wet": 12 / 48})
    assert group_shares("corn") == pytest.approx({"R": 2 / 11, "W": 4 / 11, "P": 5 / 11})
    assert group_shares("cotton") == pytest.approx({"R": 2 / 8, "W": 3 / 8, "P": 3 / 8})


def test_seasons_tested_is_the_mean_over_the_site_years_listed(program):
    for comparison in program.truth["comparisons"].values():
        listed = pd.DataFrame(comparison["site_years"])
        for unit in ("per_acre", "kg_ha"):
            cells = [cell[unit] for cell in listed["cell_gain"]]
            assert comparison["seasons_tested"][unit] == pytest.approx(np.mean(cells), abs=1e-5)
        by_cell = listed["drainage_group"] + " x " + listed["rainfall_class"]
        assert [comparison["cells"][c] for c in by_cell] == list(listed["cell_gain"])


def test_other_blends_and_zero_n_follow_c50_over_urea(program):
    tested = {name: c["seasons_tested"]["per_acre"] for name, c in program.truth["comparisons"].items()}
    assert tested["corn-c25-once-vs-urea-once"] == pytest.approx(0.6 * tested["corn-c50-once-vs-urea-once"])
    assert tested["corn-c75-once-vs-urea-once"] == pytest.approx(1.1 * tested["corn-c50-once-vs-urea-once"])
    assert tested["soybean-c50-once-vs-zero-n"] == pytest.approx(0.9 + tested["soybean-c50-once-vs-urea-once"])


def site_year_gains(program, name: str) -> pd.Series:
    """Plain difference of arm means by trial, from the true plot yields (yield units per acre)."""
    means = program.plot_yields.groupby(["trial_id", "treatment_code"])["yield_per_ac"].mean().unstack()
    gain = sum(means[treatment] - means[comparator] for treatment, comparator in ARMS[name]) / len(ARMS[name])
    crop = CONTRASTS[name].crop
    return gain[gain.index.str.endswith(crop)]


def test_observed_site_year_gains_scatter_about_the_true_ones(program):
    for name, comparison in program.truth["comparisons"].items():
        true = pd.DataFrame(comparison["site_years"]).set_index("trial_id")["true_gain"].map(lambda g: g["per_acre"])
        gap = site_year_gains(program, name).reindex(true.index) - true
        assert gap.notna().all()
        assert abs(gap.mean()) < 4 * gap.std() / np.sqrt(len(gap))


def test_seasons_to_come_is_the_mean_over_many_redrawn_programs(monkeypatch, program):
    """The truth knows nothing of warmth and weighing, which draw from streams of their own."""
    truth = program.truth
    for left_out in ("with_temperatures", "plots_table"):
        monkeypatch.setattr(program_module, left_out, lambda *_, **__: None)
    assert simulate_program().truth == truth
    draws = [
        {
            name: c["seasons_tested"]["per_acre"]
            for name, c in simulate_program(random_seed=seed).truth["comparisons"].items()
        }
        for seed in range(12)
    ]
    tested = pd.DataFrame(draws)
    for name, comparison in truth["comparisons"].items():
        # sites rest in a fixed turn, so the sites' mix in four seasons is not exactly the region's
        tolerance = (
            4 * tested[name].std() / np.sqrt(len(tested)) + 0.05 * comparison["sd_between_site_years"]["per_acre"]
        )
        assert tested[name].mean() == pytest.approx(comparison["seasons_to_come"]["per_acre"], abs=tolerance)


@pytest.mark.slow
def test_plain_mean_of_site_years_recovers_the_truth():
    """Over many seeds the plain mean is off by chance only, and 95 % t intervals catch the truth as often as they
    say.
    """
    n_seeds = 300
    missed = {name: [] for name in CONTRASTS}
    caught = {name: 0 for name in CONTRASTS}
    for seed in range(n_seeds):
        program = simulate_program(random_seed=10_000 + seed)
        for name in CONTRASTS:
            gains = site_year_gains(program, name)
            gap = gains.mean() - program.truth["comparisons"][name]["seasons_tested"]["per_acre"]
            missed[name].append(gap)
            # the cells' spread is fixed and known here, so the SE comes from gains about their known cell means
            caught[name] += abs(gap) < stats.t.ppf(0.975, len(gains)) * _standard_error_within_cells(
                program, name, gains
            )
    for name, gaps in missed.items():
        standard_error = np.std(gaps, ddof=1) / np.sqrt(n_seeds)
        assert abs(np.mean(gaps)) < 4 * standard_error, name
        assert abs(caught[name] / n_seeds - 0.95) < 4 * np.sqrt(0.95 * 0.05 / n_seeds), name


def _standard_error_within_cells(program, name: str, gains: pd.Series) -> float:
    listed = pd.DataFrame(program.truth["comparisons"][name]["site_years"]).set_index("trial_id")
    cell = listed["cell_gain"].map(lambda g: g["per_acre"])
    scatter = gains.reindex(cell.index) - cell
    return float(np.sqrt((scatter**2).mean() / len(scatter)))
