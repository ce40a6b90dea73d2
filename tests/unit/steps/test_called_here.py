"""A sender's sheets and headings count for staging as they count for the reader."""

import shutil
from pathlib import Path

import pandas as pd
import pytest

from pipeline.incoming.accompanying import read_accompanying
from pipeline.incoming.deliveries import find_files, read_sheets
from pipeline.incoming.sheet import tidy_heading
from pipeline.warehouse import open_warehouse
from tests.tiny_program import TinyProgram

THEIRS = """\
tables: {Plot data: plots}
headings: {plots: {Wt: harvest_weight_lb}, treatments: {Wt: n_source}}
"""


@pytest.fixture(scope="module")
def loaded_once(sound_program, tmp_path_factory) -> Path:
    """The folder of the tiny program with one trial sent in a folder of its own, under the sender's words, loaded; copy
    it, never change it.
    """
    tiny = TinyProgram(shutil.copytree(sound_program, tmp_path_factory.mktemp("sent") / "program"))
    tiny.add_delivery("sender")
    folder = tiny.folder / "seasons/2091/sender"
    tiny.rename("plots", "harvest_weight_lb", "Wt", "2091/sender")
    tiny.rename("plots", "moisture_pct", "Moisture PCT", "2091/sender")
    (folder / "plots.csv").rename(folder / "Plot data.csv")
    (folder / "headings.yml").write_text(THEIRS)
    tiny.load()
    return tiny.folder


@pytest.fixture
def sent_and_loaded(loaded_once, tmp_path) -> TinyProgram:
    """That program, a test's own."""
    return TinyProgram(shutil.copytree(loaded_once, tmp_path / "program"))


@pytest.fixture
def sent(sent_and_loaded) -> TinyProgram:
    """The same before it was ever loaded."""
    (sent_and_loaded.folder / "warehouse.duckdb").unlink()
    return sent_and_loaded


def test_staging_goes_by_the_headings_that_the_reader_checked(sent):
    files = find_files(sent.folder)
    accompanying = read_accompanying(sent.folder, [f.folder for f in files])
    with sent.staged() as warehouse:
        staged = warehouse.table("staging.headings").groupby("file")
        for file in files:
            words = accompanying.words_for(file.folder)
            (sheet,) = read_sheets(file, words)
            rows, table = staged.get_group(file.file), words.table(sheet.table)
            assert list(rows["heading"]) == words.ours(table, sheet.headings) and set(rows["table_name"]) == {table}
        yields = "select count(harvest_weight_kg) as n from staging.plots where file like '%/sender/%'"
        assert warehouse.read(yields)["n"][0] == 6


def test_only_sheets_with_words_of_their_sender_are_translated(sent):
    with sent.staged() as warehouse:
        sheets = warehouse.table("staging.sheets")
    assert list(sheets.loc[~sheets["is_called_as_here"], "file"]) == ["seasons/2091/sender/Plot data.csv"]


def test_two_columns_that_mean_one_of_ours_hold_the_file_also_when_only_the_words_change(sent_and_loaded):
    """One of them would be read and the other dropped without a word."""
    sent = sent_and_loaded
    text = THEIRS.replace("Wt: harvest_weight_lb", "Wt: harvest_weight_lb, harvest_length_ft: harvest_weight_lb")
    (sent.folder / "seasons/2091/sender/headings.yml").write_text(text)
    (said,) = sent.held().values()
    assert said.startswith("seasons/2091/sender/Plot data.csv: the columns ") and '"Wt"' in said
    assert '"harvest_length_ft"' in said and "both mean harvest_weight_lb" in said and "sender/headings.yml" in said


def test_words_that_change_are_followed_without_a_new_file(sent_and_loaded):
    sent = sent_and_loaded
    text = THEIRS.replace("Wt: harvest_weight_lb", "Wt: harvest_weight_kg")
    (sent.folder / "seasons/2091/sender/headings.yml").write_text(text)
    with sent.staged() as warehouse:
        weights = "select min(harvest_weight_kg) as kg from staging.plots where file like '%/sender/%'"
        assert warehouse.read(weights)["kg"][0] == 22.3


def test_a_sheet_that_an_earlier_version_read_is_still_known_by_its_headings(tiny):
    """It kept the slash of a heading, where it is now an underscore."""
    named = {2091: "Wt (lb/plot)", 2092: "Wt lb/plot"}
    for season, heading in named.items():
        tiny.rename("plots", "harvest_weight_lb", heading, season)
        said = f'headings: {{plots: {{"{heading}": harvest_weight_lb}}}}'
        (tiny.folder / f"seasons/{season}/headings.yml").write_text(said)
    before = tiny.load()["reports.plots"]["yield"].tolist()
    assert len(before) == 18 and not any(pd.isna(each) for each in before)
    with open_warehouse(tiny.folder / "warehouse.duckdb") as warehouse:
        for season, heading in named.items():
            now, then = tidy_heading(heading), "_".join(heading.lower().split())
            assert now != then
            of_season = f"where sha256 in (select sha256 from raw.current_files where season = {season})"
            warehouse.execute(
                f"update raw.sheets set headings = list_transform(headings, lambda h: replace(h, ?, ?)) {of_season}",
                [now, then],
            )
            warehouse.execute(
                f"update raw.rows set cells = replace(cells::varchar, ?, ?)::json {of_season}", [now, then]
            )
    after = tiny.checked()
    assert after["reports.plots"]["yield"].tolist() == before and after["reports.findings"].empty
