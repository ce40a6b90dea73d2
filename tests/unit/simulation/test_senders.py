"""Two cooperators deliver in their own shape; what they say is what the generator drew."""

from __future__ import annotations

import openpyxl
import pandas as pd
import pytest

from pipeline.incoming.deliveries import find_files
from pipeline.incoming.headings import read_senders_words
from pipeline.simulation.defects import NO_FINDING


@pytest.fixture(scope="module")
def folders(sent_folder):
    found = sorted(p for p in (sent_folder / "seasons" / "2094").iterdir() if p.is_dir())
    assert len(found) == 2
    return found


def test_one_sends_a_workbook_and_one_csv_files_under_names_of_their_own(folders):
    assert [sorted(p.name for p in folder.iterdir()) for folder in folders] == [
        ["harvest_book.xlsx", "headings.yml"],
        ["harvest sheet.csv", "headings.yml", "nitrogen sheet.csv", "treatment sheet.csv", "trial sheet.csv"],
    ]


def test_units_stand_beneath_the_headings_of_the_workbook(folders):
    rows = list(openpyxl.load_workbook(folders[0] / "harvest_book.xlsx")["Plot book"].values)
    units = dict(zip(rows[0], rows[1], strict=True))
    assert (units["Plot wt"], units["Moist"], units["Length"], units["Rep"]) == ("lb", "%", "ft", None)


def test_headings_yml_is_read_and_maps_words_and_codes(folders):
    words = read_senders_words(folders[0], folders[0])
    assert words.table("plot_book") == "plots" and words.headings[("plots", "plot_wt_lb")] == "harvest_weight_lb"
    assert words.words[("treatments", "n_source", "part coated")] == "coated blend"
    assert words.words[("plots", "treatment_code", "T1")] == "ZERO"


def test_kilograms_and_metres_are_the_same_harvest(folders, program):
    sent = pd.read_csv(folders[1] / "harvest sheet.csv")
    drawn = program.tables["plots"].merge(sent, left_on=["trial_id", "plot"], right_on=["Experiment", "plot"])
    assert len(drawn) == len(sent) > 40
    assert drawn["Weight (kg)"].tolist() == pytest.approx(
        (drawn["harvest_weight_lb"] * 0.45359237).tolist(), abs=5.001e-4
    )
    assert drawn["Run (m)"].tolist() == pytest.approx((drawn["harvest_length_ft"] * 0.3048).tolist(), abs=5.001e-4)


def test_each_trial_is_delivered_once(sent_folder, folders, program):
    sent = pd.read_excel(folders[0] / "harvest_book.xlsx", sheet_name="Trial list")["Trial"].tolist()
    sent += pd.read_csv(folders[1] / "trial sheet.csv")["Experiment"].tolist()
    sent += pd.read_csv(sent_folder / "seasons/2094/trials.csv")["trial_id"].tolist()
    assert sorted(sent) == sorted(program.tables["trials"].query("season == 2094")["trial_id"])


def test_picks_add_up_to_the_weight_that_plots_no_longer_give(sent_folder, program):
    picks = pd.read_csv(sent_folder / "seasons/2093/harvests.csv")
    (trial,) = picks["trial_id"].unique()
    plots = pd.read_csv(sent_folder / "seasons/2093/plots.csv").query("trial_id == @trial")
    assert plots["harvest_weight_lb"].isna().all() and set(picks["pick"]) == {1, 2}
    total = picks.groupby("plot")["harvest_weight_lb"].sum()
    drawn = program.tables["plots"].query("trial_id == @trial").set_index("plot")["harvest_weight_lb"]
    assert total.sort_index().tolist() == pytest.approx(drawn.sort_index().tolist(), abs=1e-9)


def test_weather_of_one_place_goes_by_its_other_name(sent_folder):
    sites = pd.read_csv(sent_folder / "seasons/2091/sites.csv")
    named = sites[sites["also_called"].notna()]
    assert named[["place", "also_called"]].to_numpy().tolist() == [["Sandreth", "Sandreth Station"]]
    places = set(pd.read_csv(sent_folder / "seasons/2094/weather_daily.csv")["place"])
    assert "Sandreth Station" in places and "Sandreth" not in places


def test_the_key_tells_what_the_paperwork_changes(sent_folder):
    key = pd.read_csv(sent_folder / "defects.csv", keep_default_na=False).set_index("defect")
    assert key.loc["harvest width", "severity_expected"] == NO_FINDING
    assert list(key.index[-2:]) == ["stale correction", "file saved anew"]
    listed = pd.read_csv(sent_folder / "seasons/2093/manifest.csv").set_index("file")["sha256"]
    sent = {f.file.removeprefix("seasons/2093/"): f.sha256 for f in find_files(sent_folder) if f.season == 2093}
    assert set(listed.index) == set(sent)
    assert [file for file in sent if sent[file] != listed[file]] == ["weather_daily.csv"]
