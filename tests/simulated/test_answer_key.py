"""The whole loading side against the answer key: every planted defect is found by name, and a clean copy has no false
finding.

Invented data (pipeline/simulation) in the shapes people send.
"""

from __future__ import annotations

from pathlib import Path

import pandas as pd
import pytest

from pipeline.simulation.demo import write_demo
from pipeline.verbs.answers import stored_views
from tests.tiny_program import TinyProgram

# What is right to say of a program without any mistake: a row of units was read with the headings above it, a trial
# has not reported yet, and a trial known by print has no applications.
RIGHT_TO_SAY = {"layout noticed", "trial not harvested yet", "trial without applications"}


def read_key(folder: Path) -> pd.DataFrame:
    return pd.read_csv(folder / "defects.csv", dtype=str, keep_default_na=False)


def findings_of(entry, findings: pd.DataFrame) -> pd.DataFrame:
    """The findings that speak about one planted defect: by one of its checks, in its file, about its trial or its
    row.
    """
    mine = findings[
        findings["check_name"].isin(entry.check_names.split("; ")) & findings["severity"].eq(entry.severity_expected)
    ]
    if entry.defect == "rain gap":  # said about each trial at the place
        place_and_season = entry.trial_id.rsplit("-", 1)[0]
        return mine[mine["trial_id"].str.startswith(place_and_season, na=False)]
    of_trial = mine["trial_id"].eq(entry.trial_id)
    of_row = (
        mine["trial_id"].isna()
        & mine["file"].eq(entry.file)
        & mine["row_number"].astype(str).isin([entry.row, "<NA>", "nan"])
    )
    return mine[of_trial | of_row]


@pytest.fixture(scope="module")
def demo(demo_run) -> tuple[pd.DataFrame, dict[str, pd.DataFrame]]:
    """The answer key of the demo, and what its run says: reports.* by name without the schema."""
    return read_key(demo_run), stored_views(demo_run)


def test_every_planted_defect_is_found_and_nothing_else(demo):
    assert_found_and_nothing_else(*demo)


@pytest.mark.thorough
@pytest.mark.parametrize("random_seed", [21, 24])
def test_every_planted_defect_of_another_demo_is_found_too(tmp_path, random_seed):
    write_demo(tmp_path, random_seed=random_seed)
    found = {name.removeprefix("reports."): frame for name, frame in TinyProgram(tmp_path).load().items()}
    assert_found_and_nothing_else(read_key(tmp_path), found)


def assert_found_and_nothing_else(key: pd.DataFrame, views: dict[str, pd.DataFrame]) -> None:
    findings = views["findings"]
    explained = set()
    for entry in key[key["check_names"] != ""].itertuples():
        found = findings_of(entry, findings)
        assert set(found["check_name"]) == set(entry.check_names.split("; ")), entry.defect
        explained |= set(found.index)
    others = findings.drop(index=list(explained))
    assert set(others["check_name"]) == RIGHT_TO_SAY, others[["check_name", "file", "row_number", "found"]]


def test_the_finding_names_the_row_and_column_of_the_key(demo):
    key, findings = demo[0].set_index("defect"), demo[1]["findings"]
    for defect in (
        "moisture as a fraction",
        "turnout in percent",
        "misspelled word",
        "repeated row",
        "unknown column",
        "stale correction",
    ):
        entry = key.loc[defect]
        mine = findings[findings["check_name"] == entry["check_names"]]
        assert (mine["file"].iloc[0], str(mine["row_number"].min())) == (entry["file"], entry["row"]), defect
    word = findings[findings["check_name"] == "treatments.n_source is not a known word"].iloc[0]
    assert 'nearest known word: "coated blend"' in word["mend"]


def test_trials_are_held_one_by_one_and_the_others_go_on(demo):
    key, views = demo
    trials = views["trials"].set_index("trial_id")["status"]
    held = set(key.loc[key["severity_expected"] == "holds the trial", "trial_id"])
    assert set(trials[trials == "held"].index) == held and len(held) == 4
    assert trials.value_counts().to_dict() == {"accepted": 81, "held": 4, "not harvested": 2}
    plots = views["plots"].set_index(["trial_id", "plot"])
    hail = key.set_index("defect").loc["hail"]
    assert plots.loc[hail["trial_id"], "reason"].dropna().tolist() == ["damaged: hail"]


def test_a_correction_mends_the_harvest_width_and_a_stale_one_changes_nothing(demo):
    key, views = demo[0].set_index("defect"), demo[1]
    corrections = views["corrections"].set_index("state")
    assert sorted(corrections.index) == ["applied", "no longer matches"]
    assert corrections.loc["applied", "n_changed"] == int(key.loc["harvest width", "n_rows"])
    trials = views["trials"].set_index("trial_id")["status"]
    assert trials[key.loc["harvest width", "trial_id"]] == "accepted"


@pytest.fixture(scope="module")
def clean(tmp_path_factory) -> dict[str, pd.DataFrame]:
    """The demo without any defect, as people send it: what is known once every row is checked."""
    folder = tmp_path_factory.mktemp("clean")
    write_demo(folder, defects=False)
    return TinyProgram(folder).checked()


def test_a_clean_copy_has_no_false_finding(clean):
    assert_no_false_finding(clean)


@pytest.mark.thorough
@pytest.mark.parametrize("random_seed", [11, 12, 13])
def test_another_clean_program_has_none_either(tmp_path, random_seed):
    write_demo(tmp_path, random_seed=random_seed, defects=False)
    assert_no_false_finding(TinyProgram(tmp_path).load())


def assert_no_false_finding(tables: dict[str, pd.DataFrame]) -> None:
    findings = tables["reports.findings"]
    assert set(findings["check_name"]) == RIGHT_TO_SAY, findings[["check_name", "file", "row_number", "found"]]
    assert len(findings) == 3 and set(findings["severity"]) == {"noted"}
    counts = tables["reports.row_counts"]
    assert counts["used"].sum() == counts["delivered"].sum()


def test_yields_are_the_same_in_whatever_shape_they_are_sent(clean, clean_demo):
    """Kilograms, meters, own words and codes, two picks: to half a gram and half a millimeter, as far as they were
    rounded.
    """
    checked = TinyProgram(clean_demo).checked()
    plain, sent = (tables["reports.plots"].set_index(["trial_id", "plot"]) for tables in (checked, clean))
    both = plain.join(sent, rsuffix="_sent", how="outer")
    assert len(both) == len(plain) == len(sent)
    assert (both["treatment_code"] == both["treatment_code_sent"]).all()
    assert both["yield_kg_ha_sent"].tolist() == pytest.approx(both["yield_kg_ha"].tolist(), rel=1e-3)
