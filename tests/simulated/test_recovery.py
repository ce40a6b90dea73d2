"""Does the whole pipeline recover the truth that the demo generator wrote beside its program?

Invented data with known truth (pipeline/simulation): the only place where an estimate can be held against the answer.
"""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np
import pandas as pd
import pytest
from scipy import stats

from pipeline.simulation.demo import write_demo
from pipeline.verbs.answers import stored_views
from pipeline.verbs.run import build_warehouse

VIEWS = ("gains", "site_year_gains", "trials")
TARGET_KEYS = {"seasons tested": "seasons_tested", "seasons to come": "seasons_to_come"}


def recovered(folder: Path, random_seed: int, *, senders: bool = False) -> tuple[pd.DataFrame, pd.DataFrame]:
    """(headlines, site-year gains), each beside its truth in kg/ha, of one clean simulated program.

    With `senders` in the shapes people send, and with a trial of an earlier season that is with published means only.
    """
    write_demo(folder, random_seed=random_seed, defects=False, senders=senders)
    build_warehouse(folder, "test", lambda text: None)
    return beside_truth(folder)


def beside_truth(folder: Path) -> tuple[pd.DataFrame, pd.DataFrame]:
    """(headlines, site-year gains) of a simulated program that was run, each beside its truth in kg/ha."""
    views = stored_views(folder, VIEWS)
    truth = json.loads((folder / "truth.json").read_text())["comparisons"]
    gains = views["gains"]
    headlines = gains[gains["is_headline"].eq(True) & (gains["moderator"] == "all")].copy()
    headlines["truth"] = [
        truth[c][TARGET_KEYS[t]]["kg_ha"] for c, t in zip(headlines["comparison_id"], headlines["target"], strict=True)
    ]
    site_years = views["site_year_gains"].merge(
        true_site_year_gains(truth, views["trials"]), on=["comparison_id", "site_year_id"]
    )
    return headlines, site_years


def true_site_year_gains(truth: dict, trials: pd.DataFrame) -> pd.DataFrame:
    rows = [
        {"comparison_id": comparison, "trial_id": row["trial_id"], "true_gain": row["true_gain"]["kg_ha"]}
        for comparison, entry in truth.items()
        for row in entry["site_years"]
    ]
    return pd.DataFrame(rows).merge(trials[["trial_id", "site_year_id"]], on="trial_id")


# how it is sent | random seed, whether in the shapes people send; the second sends all that the first does, and more
CLEAN = {"our headings": (11, False), "as people send": (12, True)}
DEMO = "the demo, with its planted defects"
ASKED = (
    DEMO,
    pytest.param("as people send", marks=pytest.mark.thorough),
    pytest.param("our headings", marks=pytest.mark.slow),
)


@pytest.fixture(scope="module", params=ASKED)
def program(request, tmp_path_factory):
    if request.param == DEMO:
        return beside_truth(request.getfixturevalue("demo_run"))
    random_seed, senders = CLEAN[request.param]
    return recovered(tmp_path_factory.mktemp("program"), random_seed, senders=senders)


def test_every_truth_lies_within_its_99_9_percent_interval(program):
    headlines, _ = program
    half = stats.t.ppf(0.9995, headlines["df"]) * (headlines["std_error"] * headlines["kg_ha_per_unit"])
    missed = headlines[(headlines["estimate_kg_ha"] - headlines["truth"]).abs() > half]
    assert len(headlines) == 16
    assert missed.empty, missed[["comparison_id", "target", "estimate_kg_ha", "truth"]]


def test_site_year_gains_scatter_about_their_truth_as_their_standard_errors_say(program):
    _, site_years = program
    z = (site_years["gain_kg_ha"] - site_years["true_gain"]) / (
        site_years["std_error"] * site_years["gain_kg_ha"] / site_years["gain"]
    )
    assert len(z) > 200
    # comparisons of a trial share plots, so count the trials, not the gains: 0.99 limits of chi2 / n
    n_trials = site_years["trial_id"].nunique()
    assert n_trials in (84, 85, 81)  # four of the demo's are held
    low, high = stats.chi2.ppf([0.005, 0.995], n_trials) / n_trials
    assert low < np.mean(z**2) < high


@pytest.mark.slow
def test_intervals_cover_the_truth_as_often_as_they_say(tmp_path):
    """30 programs; each target's intervals over all comparisons. Comparisons of a crop share plots and
    seasons, so the count of independent looks is taken as 30 x 3 crops, not 30 x 8 comparisons."""
    found = pd.concat([recovered(tmp_path / str(seed), seed)[0] for seed in range(100, 130)])
    covered = found.assign(
        covered=(found["conf_low_kg_ha"] <= found["truth"]) & (found["truth"] <= found["conf_high_kg_ha"])
    )
    shares = covered.groupby("target")["covered"].mean()
    print(shares)
    least = 0.95 - 3 * np.sqrt(0.95 * 0.05 / 90)
    assert (shares > least).all(), shares
