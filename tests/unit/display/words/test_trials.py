"""Rows in, sentence out: trials, their data and their rain."""

from __future__ import annotations

import pandas as pd
import pytest

from pipeline.display.words import trials as trial_words
from tests.unit.display.rows import NONE


def test_the_counts_of_the_flow_are_all_said():
    row = {
        "crop": "corn",
        "n_listed": 39,
        "n_held": 3,
        "n_planned": 2,
        "n_not_harvested": 1,
        "n_not_eligible": 0,
        "n_used": 33,
        "n_site_years": 33,
    }
    assert (
        trial_words.flow(row)
        == "39 corn trials listed: 3 kept out until questions about their data are resolved, 2 planned, not yet"
        " harvested, 1 not harvested, 33 used, at 33 site-years."
    )


@pytest.mark.parametrize(
    ("statuses", "says"),
    [
        (("accepted", "held", "planned"), "2091 and 2092"),
        (("planned", "accepted", "accepted"), "2092 and 2093"),
        (("planned", "planned", "planned"), "2091 to 2093"),
        ((), "no season yet"),
    ],
)
def test_a_page_is_of_the_seasons_whose_trials_are_not_just_planned(statuses, says):
    trials = pd.DataFrame({"season": range(2091, 2091 + len(statuses)), "status": list(statuses)})
    assert trial_words.seasons_of(trials) == says


def test_a_held_trial_may_lack_its_place_season_and_crop():
    trials = pd.DataFrame({"season": pd.array([2091, None, 2093], dtype="Int32"), "status": "held"})
    assert trial_words.seasons_of(trials) == "2091 and 2093"
    assert [trial_words.place_and_season(*each) for each in
            (("Alder", 2091), ("Alder", pd.NA), (None, 2091), (NONE, None))] == [
        "Alder 2091", "Alder, season not known", "place not known, 2091", "place not known, season not known"
    ]  # fmt: skip
    assert [trial_words.crop_of({"crop": crop}) for crop in ("corn", None)] == ["corn", "crop not known"]
    unclassed = {"crop": None, "rainfall_class": None, "rainfall_reason": None}
    assert trial_words.rainfall(unclassed, "us") == "No rainfall class is given: the crop is not known."


def test_flows_that_differ_name_their_comparisons():
    counts = dict.fromkeys(trial_words.FLOW, 0) | {
        "crop": "corn",
        "n_listed": 3,
        "n_not_harvested": 1,
        "n_site_years": 2,
    }
    rows = pd.DataFrame([counts | {"comparison_id": each, "n_used": n} for each, n in (("a", 2), ("b", 2), ("c", 1))])
    says = {"a": "blend against urea", "b": "blend against split urea", "c": "blend against nothing"}
    assert trial_words.flows(rows, says) == [
        (
            "For blend against urea and blend against split urea: 3 corn trials listed: 1 not harvested, 2 used, at 2"
            " site-years."
        ),
        "For blend against nothing: 3 corn trials listed: 1 not harvested, 1 used, at 2 site-years.",
    ]
    of_two_targets = trial_words.flows(rows, says | {"b": says["a"]})
    assert of_two_targets[0].startswith("For blend against urea: 3 corn trials")
    assert trial_words.flows(rows[:2], says) == ["3 corn trials listed: 1 not harvested, 2 used, at 2 site-years."]


def test_provisional_too_where_yields_look_like_a_slip_of_the_unit():
    trials = pd.DataFrame({"trial_id": ["a", "b", "c"], "status": ["accepted", "held", "accepted"]})
    noted = pd.DataFrame(
        {
            "check_name": ["yield beyond reach", "yield beyond reach", "yield unusual"],
            "trial_id": ["a", "b", "c"],
            "file": "plots.csv",
        }
    )
    said = trial_words.provisional(trials, noted)
    assert (
        said == "1 trial is kept out until questions are resolved; 1 more is used, though the unit of its yields is in"
        " doubt."
    )
    said = trial_words.provisional(trials[:1], noted)
    assert said == "1 trial is used, though the unit of its yields is in doubt."
    assert trial_words.provisional(trials.iloc[2:], noted) == ""


@pytest.mark.parametrize(
    ("files", "says"),
    [
        (["b.csv", "b.csv"], "1 delivered file could not be read, and nothing in it is counted: b.csv."),
        (["b.csv", "a.csv"], "2 delivered files could not be read, and nothing in them is counted: a.csv and b.csv."),
        ([], ""),
    ],
)
def test_provisional_where_a_delivered_file_is_not_read(files, says):
    findings = pd.DataFrame({"check_name": trial_words.FILE_NOT_READ, "trial_id": None, "file": files})
    assert trial_words.provisional(pd.DataFrame({"trial_id": ["a"], "status": ["accepted"]}), findings) == says


def test_provisional_only_where_something_is_held():
    assert trial_words.held(0) == ""
    assert trial_words.held(1) == "1 trial is kept out until questions about the data are resolved."
    assert (
        trial_words.held(3, "corn trial") == "3 corn trials are kept out until questions about the data are resolved."
    )


LSD = "the least significant difference, LSD, at 5%; the CV, plot noise as a share of the mean, is "


def test_plot_noise():
    trial = {
        "design": "RCBD", "lsd_5pct": 17.83, "lsd_5pct_largest": 17.84, "cv_pct": 6.31, "digits": 1, "unit": "bu/ac",
        "no_error_reason": None,
    }  # fmt: skip
    assert (
        trial_words.plot_noise(trial)
        == f"A difference between two treatments under 17.8 bu/ac could be plot noise ({LSD}6.3%)."
    )
    assert trial_words.plot_noise(trial | {"lsd_5pct_largest": 19.2}) == (
        f"A difference between two treatments under 17.8 bu/ac could be plot noise ({LSD}6.3%); for the two"
        " that are known least precisely, under 19.2 bu/ac."
    )
    assert trial_words.plot_noise(trial | {"lsd_5pct": NONE, "no_error_reason": "unreplicated"}).endswith(
        "for this trial: unreplicated."
    )


def test_plot_noise_of_a_split_plot_is_told_within_and_between_main_plots():
    trial = {
        "design": "split-plot", "lsd_5pct": 2.51, "lsd_5pct_largest": 3.42, "cv_pct": 3.5, "digits": 1, "unit": "bu/ac",
        "no_error_reason": None, "subplots_per_main_plot": 3.0,
    }  # fmt: skip
    within = f"Within a main plot, a difference between two treatments under 2.5 bu/ac could be plot noise ({LSD}3.5%)"
    assert trial_words.plot_noise(trial) == f"{within}; between main plots, under 3.4 bu/ac."
    assert (
        trial_words.plot_noise(trial | {"lsd_5pct_largest": NONE}) == f"{within}; between main plots it is not known."
    )


def test_plot_noise_of_main_plots_with_one_fertilized_plot_is_told_as_of_a_randomized_block():
    trial = {
        "design": "split-plot", "lsd_5pct": 2.51, "lsd_5pct_largest": 3.42, "cv_pct": 3.5, "digits": 1, "unit": "bu/ac",
        "no_error_reason": None, "subplots_per_main_plot": 1.0,
    }  # fmt: skip
    assert trial_words.plot_noise(trial) == (
        f"A difference between two treatments under 2.5 bu/ac could be plot noise ({LSD}3.5%); for the two"
        " that are known least precisely, under 3.4 bu/ac."
    )


def test_fewer_passes_are_never_claimed_to_be_as_good():
    caution = trial_words.fewer_passes({"treatment_passes": 1, "comparator_passes": 2})
    assert "not claimed" in caution and "margin" in caution
    for treatment, comparator in ((1, 1), (2, 1), (1, 0), (0, 2), (NONE, NONE)):
        assert trial_words.fewer_passes({"treatment_passes": treatment, "comparator_passes": comparator}) == ""


def rain_row(**changed) -> dict:
    return {
        "crop": "corn",
        "window_from": "05-01",
        "window_to": "06-30",
        "rain_inch": 14.3,
        "rain_mm": 363.2,
        "percent_of_normal": 158.1,
        "rainfall_class": "wet",
        "spi": 1.584,
        "spi_class": "very wet",
        "near_cut": False,
        "rainfall_reason": None,
    } | changed


def test_rainfall():
    assert (
        trial_words.rainfall(rain_row(), "us")
        == "For corn, May 1 to June 30: 14.3 in (363 mm), 158% of the reference mean; classed wet "
        "(standardized precipitation index 1.58, very wet)."
    )
    assert "in (" not in trial_words.rainfall(rain_row(), "metric")
    assert trial_words.rainfall(rain_row(near_cut=True), "us").endswith("another rule could class it differently.")
    unknown = rain_row(rainfall_class=None, rainfall_reason="9 of 61 days missing in the window", spi=NONE)
    assert (
        trial_words.rainfall(unknown, "us")
        == "For corn no rainfall class is given: 9 of 61 days missing in the window."
    )
    # its rain may have been delivered
    without = rain_row(rainfall_class=None, spi=NONE)
    assert (
        trial_words.rainfall(without, "us")
        == "For corn no rainfall class is given: there is no rainfall window for it."
    )


def test_nobody_paid_for_no_trial():
    assert trial_words.who_paid(pd.DataFrame({"paid_by": [], "product_given_by": []})) == ""


def test_who_paid_names_everyone_with_a_count():
    trials = pd.DataFrame({"paid_by": ["program", "program", None], "product_given_by": ["none", "maker", "none"]})
    assert (
        trial_words.who_paid(trials)
        == "Funded by: program (2 trials) and not reported (1 trial). Product donated by: none (2 trials) and maker (1"
        " trial)."
    )


def test_findings_are_counted_by_what_follows_and_a_noted_one_is_not_said_to_change_nothing():
    findings = pd.DataFrame({"severity": ["holds the trial", "noted", "noted"]})
    assert trial_words.findings_count(findings) == (
        "The checks flagged 3 issues in these trials' data: 1 keeps a trial out until resolved, 2 are noted, their rows"
        " used as they are."
    )
