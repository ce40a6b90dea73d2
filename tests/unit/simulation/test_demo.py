"""The written program folder: readable by the pipeline's own declarations, the same for the same seed."""

from __future__ import annotations

import csv
import json
from dataclasses import astuple
from pathlib import Path

import pandas as pd
import pytest

from pipeline.contract.tables import declared_tables
from pipeline.settings.program import read_program
from pipeline.simulation.demo import write_demo
from pipeline.simulation.truth import CONTRASTS
from pipeline.simulation.weather import REFERENCE_YEARS, WINDOWS

REFERENCE = Path(__file__).parents[3] / "sql" / "reference"
TABLES = {"trials", "treatments", "nitrogen_applications", "plots", "weather_daily"}


def delivered(folder: Path) -> dict[tuple[int, str], pd.DataFrame]:
    """Every delivered table as text, by season and table."""
    found = {}
    for season in sorted((folder / "seasons").iterdir()):
        for path in season.iterdir():
            if path.suffix == ".xlsx":
                sheets = pd.read_excel(path, sheet_name=None, dtype=str, keep_default_na=False)
            else:
                sheets = {path.stem: pd.read_csv(path, dtype=str, keep_default_na=False)}
            found |= {(int(season.name), name): frame for name, frame in sheets.items()}
    return found


@pytest.fixture(scope="module")
def clean(clean_demo) -> dict[tuple[int, str], pd.DataFrame]:
    """Every delivered table of the demo without defects; read them, never change them."""
    return delivered(clean_demo)


def test_each_season_delivers_its_tables_and_the_first_what_comes_once(clean, clean_demo):
    tables = {}
    for season, name in clean:
        tables.setdefault(season, set()).add(name)
    watered = TABLES | {"irrigations"}  # the site that is irrigated rests in the first season
    assert tables == {2091: TABLES | {"sites", "rain_history"}, 2092: watered, 2093: watered, 2094: watered}
    assert [p.name for p in (clean_demo / "seasons" / "2092").iterdir()] == ["season_2092.xlsx"]
    assert not (clean_demo / "defects.csv").exists()


def test_every_heading_is_declared_and_every_required_cell_filled(clean):
    for (season, name), frame in clean.items():
        table = declared_tables()[name]
        assert [h for h in frame.columns if not table.knows(h)] == [], (season, name)
        for column in table.plain_columns:
            headings = [h for h in column.unit_of_heading if h in frame.columns]
            if column.required:
                assert headings and (frame[headings] != "").any(axis=1).all(), (season, name, column.name)


def test_every_word_is_known(clean):
    checked = 0
    for (season, name), frame in clean.items():
        for column in declared_tables()[name].plain_columns:
            words = set(column.words)
            if column.words_from:
                with (REFERENCE / f"{column.words_from.split('.')[1]}.csv").open(encoding="utf-8") as file:
                    words = {row["word"] for row in csv.DictReader(file)}
            if column.type == "yes_no":
                words = {"yes", "no"}
            if words and column.name in frame.columns:
                assert set(frame[column.name]) - {""} <= words, (season, name, column.name)
                checked += 1
    assert checked > 40


def test_numbers_lie_in_their_hard_ranges_and_keys_are_unique(clean):
    crops = pd.concat(frame for (_, name), frame in clean.items() if name == "trials").set_index("trial_id")["crop"]
    for (season, name), frame in clean.items():
        table = declared_tables()[name]
        assert not frame.duplicated(list(table.key)).any(), (season, name)
        for column in table.plain_columns:
            heading = next((h for h in column.unit_of_heading if h in frame.columns), None)
            if heading is None or not (column.hard or column.by_crop):
                continue
            values = pd.to_numeric(frame[heading])
            ranges = {crop: limits["hard"] for crop, limits in column.by_crop.items()} or {"": column.hard}
            for crop, (low, high) in ranges.items():
                own = values if not crop else values[frame["trial_id"].map(crops) == crop]
                assert own.dropna().between(low, high).all(), (season, name, heading, crop)


def test_the_settings_are_read_and_agree_with_the_generator(clean_demo):
    program = read_program(clean_demo)
    assert {crop: astuple(window) for crop, window in program.rainfall.windows.items()} == WINDOWS
    assert astuple(program.rainfall.reference) == REFERENCE_YEARS
    assert {c.id: c.crop for c in program.comparisons} == {name: contrast.crop for name, contrast in CONTRASTS.items()}
    assert {c.target for c in program.comparisons} == {"seasons tested", "seasons to come"}


def test_rain_history_is_thirty_whole_years_of_every_place(clean):
    history = clean[(2091, "rain_history")]
    assert history.groupby("place").size().to_dict() == dict.fromkeys(clean[(2091, "sites")]["place"], 10957)


def test_same_seed_same_folder_to_the_byte(sent_folder, tmp_path):
    """Workbooks too: zip entries tell time in steps of two seconds, and this folder was written later than the
    other.
    """
    write_demo(tmp_path)
    files = [p.relative_to(tmp_path) for p in tmp_path.rglob("*") if p.is_file()]
    assert sorted(files) == sorted(p.relative_to(sent_folder) for p in sent_folder.rglob("*") if p.is_file())
    assert any(file.suffix == ".xlsx" for file in files)
    for file in files:
        assert (sent_folder / file).read_bytes() == (tmp_path / file).read_bytes(), file


def test_truth_is_written_for_every_comparison(demo_folder, program):
    assert json.loads((demo_folder / "truth.json").read_text(encoding="utf-8")) == program.truth


def test_other_seasons_can_be_asked_for(tmp_path):
    write_demo(tmp_path, random_seed=5, seasons=(2093, 2095), senders=False)
    tables = delivered(tmp_path)
    assert {season for season, _ in tables} == {2093, 2095}
    assert (2093, "sites") in tables and (2095, "sites") not in tables
