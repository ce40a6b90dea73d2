"""The trial known only by print: its means are the truth plus noise, its LSD that of the noise."""

from __future__ import annotations

import json

import numpy as np
import pandas as pd
import pytest
from scipy import stats

from pipeline.simulation.printed import PRINTED_SEASON, printed_trial
from pipeline.simulation.scenario import CORN
from tests.examples import examples

N = examples(100, 300)


@pytest.fixture(scope="module")
def many(program):
    return [printed_trial(np.random.default_rng(seed), program.tables["rain_history"]) for seed in range(N)]


def test_lsd_comes_from_an_error_mean_square_about_the_plot_variance(many):
    means = many[0].tables["printed_means"]
    df = (4 - 1) * (len(means) - 1)
    assert set(means["error_df"]) == {df} and set(means["error_kind"]) == {"LSD"}
    lsd = np.array([trial.tables["printed_means"]["error_value"].iloc[0] for trial in many])
    mean_square = (lsd / stats.t.ppf(0.975, df)) ** 2 * 4 / 2
    # the mean of N chi-square draws on 51 df lies within 3 standard errors of 1
    assert np.mean(mean_square) == pytest.approx(CORN.sd_plot**2, rel=3 * np.sqrt(2 / df / N))


def test_printed_gains_centre_on_the_true_gain(many):
    gaps = []
    for trial in many:
        means = trial.tables["printed_means"].set_index("treatment_code")["mean_yield_bu_ac"]
        gain = np.mean([means[f"C50-{rate}"] - means[f"U1-{rate}"] for rate in (80, 120, 160)])
        gaps.append(gain - trial.site_year["gain_over_urea_once"].item())
    se = CORN.sd_plot * np.sqrt(2 / 4 / 3)
    assert np.std(gaps) == pytest.approx(se, rel=0.15)
    assert abs(np.mean(gaps)) < 3 * se / np.sqrt(N)


def test_the_truth_counts_it_as_a_site_year_of_the_seasons_tested(sent_folder, program):
    truth = json.loads((sent_folder / "truth.json").read_text())
    assert truth["seasons"][0] == PRINTED_SEASON
    for name, entry in truth["comparisons"].items():
        own = program.truth["comparisons"][name]
        more = 1 if entry["crop"] == "corn" else 0
        assert len(entry["site_years"]) == len(own["site_years"]) + more == entry["seasons_tested"]["n_site_years"]
        assert entry["site_years"][more:] == own["site_years"]
    delivered = pd.read_csv(sent_folder / f"seasons/{PRINTED_SEASON}/printed_means.csv")
    assert delivered["citation"].str.startswith("annual report 2086").all()
