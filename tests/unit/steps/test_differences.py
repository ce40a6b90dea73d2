"""What is other than in the last run, told by cell, row, column and file."""

from __future__ import annotations

import json
import shutil
from collections import Counter
from pathlib import Path

import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from pipeline.__main__ import main
from pipeline.steps.differences import ChangedFile, changed_beside, changed_files
from pipeline.verbs.findings import tell_findings
from pipeline.warehouse import memory_of
from tests.examples import examples
from tests.tiny_program import TinyProgram, no_estimates


@pytest.fixture(scope="module")
def seen(loaded_program, tmp_path_factory) -> dict[str, ChangedFile]:
    """What a load tells of the files that came again, by their path in seasons/."""
    tiny = TinyProgram(shutil.copytree(loaded_program, tmp_path_factory.mktemp("seen") / "program"))
    tiny.change("plots", 4, "harvest_weight_lb", "40.9")
    tiny.change("plots", 5, "cause", "deer")
    heads, *rows = tiny.rows("plots", 2092)
    tiny.write("plots", [heads, *reversed(rows)], 2092)
    tiny.remove("weather_daily", 3)
    tiny.fill("trials", "remarks", "none")
    told = []
    tiny.rebuild(no_estimates, told.append)
    return {each.file.removeprefix("seasons/"): each for each in told[0].changed_files}


def test_only_files_that_changed_are_told(seen):
    assert sorted(seen) == ["2091/plots.csv", "2091/trials.csv", "2091/weather_daily.csv", "2092/plots.csv"]


def test_each_changed_cell_is_told_with_both_texts(seen):
    changed = seen["2091/plots.csv"]
    assert (changed.n_rows_more, changed.n_rows_less) == (0, 0)
    assert [(c.row_number, c.heading, c.after) for c in changed.cells] == [
        (4, "harvest_weight_lb", "40.9"),
        (5, "cause", "deer"),
    ]
    assert changed.cells[0].before not in (None, "40.9")


def test_rows_that_only_move_are_not_told(seen):
    changed = seen["2092/plots.csv"]
    assert changed.cells == () and (changed.n_rows_more, changed.n_rows_less) == (0, 0)


def test_a_row_less_and_a_column_more(seen):
    weather, trials = seen["2091/weather_daily.csv"], seen["2091/trials.csv"]
    assert (weather.cells, weather.n_rows_more, weather.n_rows_less) == ((), 0, 1)
    assert trials.new_headings == ("remarks",) and trials.cells == ()


def test_the_command_says_them_and_what_lies_beside(estimated_program, tmp_path, capsys):
    tiny = TinyProgram(shutil.copytree(estimated_program, tmp_path / "program"))
    tiny.change("plots", 4, "harvest_weight_lb", "40.9")
    (tiny.folder / "seasons/2091/headings.yml").write_text("words: {}\n")
    assert main(["findings", "--program", str(tiny.folder)]) == 0
    said = " ".join(capsys.readouterr().out.split())
    assert "seasons/2091/plots.csv: row 4, harvest_weight_lb: " in said and ", now 40.9" in said
    assert "seasons/2091/headings.yml is new" in said


@pytest.mark.parametrize(
    ("before", "now", "told"),
    [
        ({"program.yml": "a"}, {"program.yml": "a"}, []),
        (
            {"program.yml": "a"},
            {"program.yml": "b", "x/headings.yml": ""},
            ["x/headings.yml is new", "program.yml is changed"],
        ),
        ({"program.yml": "a", "x/manifest.csv": ""}, {"program.yml": "a"}, ["x/manifest.csv is gone"]),
    ],
)
def test_what_lies_beside(before, now, told):
    assert changed_beside(json.dumps(before), json.dumps(now)) == told


ROWS = st.lists(st.lists(st.sampled_from("abc"), min_size=2, max_size=2), max_size=6)


def held_against(before: list[list[str]], after: list[list[str]]) -> ChangedFile:
    """A file of two columns that came twice."""
    with memory_of(Path("not there")) as warehouse:
        for arrival, (sha, rows) in enumerate((("one", before), ("two", after))):
            numbers, columns = list(range(2, len(rows) + 2)), {f"c{i}": [row[i] for row in rows] for i in (0, 1)}
            warehouse.store_rows(sha, None, "plots", numbers, columns)
            came = {
                "arrival": arrival,
                "file": "plots.csv",
                "delivery": "",
                "season": 2091,
                "sha256": sha,
                "size_bytes": 1,
            }
            warehouse.insert("raw.files", pd.DataFrame([came | {"withdrawn": False, "run_id": "r"}]))
        (changed,) = changed_files(warehouse, ["plots.csv"])
    return changed


@settings(max_examples=examples(15, 300), deadline=None)
@given(before=ROWS, after=ROWS)
def test_the_telling_adds_up(before, after):
    """Whatever came: the rows before, less those less, changed as told, with those more, are the rows after."""
    changed = held_against(before, after)
    assert len(before) - changed.n_rows_less + changed.n_rows_more == len(after)
    rows = {n: list(row) for n, row in enumerate(before, start=2)}
    for cell in changed.cells:
        at = int(cell.heading[1])
        assert rows[cell.row_number][at] == cell.before
        rows[cell.row_number][at] = cell.after
    if not changed.n_rows_more and not changed.n_rows_less:
        assert Counter(map(tuple, rows.values())) == Counter(map(tuple, after))


def test_a_file_under_another_name_is_one_sentence(loaded_tiny, capsys):
    plots = loaded_tiny.path("plots")
    plots.rename(plots.with_name("plots.txt"))
    assert main(["findings", "--program", str(loaded_tiny.folder)]) == 0
    told = capsys.readouterr().out
    assert "seasons/2091/plots.csv is now seasons/2091/plots.txt: the same 12 rows." in told
    assert "No longer in the season folders" not in told and "new or changed file" not in told


def test_a_senders_folder_under_another_name_is_one_sentence(tiny, capsys):
    tiny.add_delivery("coop-01")
    tiny.load()
    folder = tiny.folder / "seasons" / "2091" / "coop-01"
    folder.rename(folder.with_name("coop-one"))
    (folder.with_name("coop-one") / "treatments.csv").write_text("trial_id,treatment_code\nx,y\n")
    told = []
    tiny.rebuild(no_estimates, told.append)
    (moved,) = told[0].renamed
    assert (moved.before, moved.after, len(moved.files)) == ("seasons/2091/coop-01", "seasons/2091/coop-one", 3)
    tell_findings(told[0])
    said = capsys.readouterr().out
    assert f"seasons/2091/coop-01 is now seasons/2091/coop-one: the same 3 files, {moved.n_rows} rows." in said
    assert "1 new or changed file: seasons/2091/coop-one/treatments.csv" in said
    assert "no longer counted: seasons/2091/coop-01/treatments.csv" in said


def test_a_file_that_two_seasons_share_went_where_its_seasons_folder_went(tiny):
    """One season is taken out, the folder of the other gets a new name: their lists of sites are the same."""
    for season in (2091, 2092):
        folder = tiny.folder / "seasons" / str(season) / "coop-01"
        folder.mkdir()
        (folder / "irrigations.csv").write_text("trial_id,date,irrigation_in\n2091-A-corn,2091-07-01,1\n")
    tiny.load()
    (tiny.folder / "seasons" / "2091" / "coop-01" / "irrigations.csv").unlink()
    gone = tiny.folder / "seasons" / "2092" / "coop-01"
    gone.rename(gone.with_name("coop-one"))
    told = []
    tiny.rebuild(no_estimates, told.append)
    (moved,) = told[0].renamed
    assert moved.files == (("seasons/2092/coop-01/irrigations.csv", "seasons/2092/coop-one/irrigations.csv"),)


def test_a_file_that_left_others_behind_is_told_alone(tiny):
    """One file went to another sender's folder, two of a third folder to one each: no folder has another name now."""
    for folder in ("coop-01", "coop-02", "coop-03"):
        tiny.add_delivery(folder)
        tiny.write(
            "irrigations", [["trial_id", "date", "irrigation_in"], [folder, "2091-07-01", "1"]], f"2091/{folder}"
        )
    for table in ("trials", "treatments", "nitrogen_applications"):
        tiny.path(table, "2091/coop-03").unlink()
    tiny.load()
    moved = {
        "coop-01/irrigations.csv": "coop-02/irrigations.txt",
        "coop-03/irrigations.csv": "coop-02/irrigations.tsv",
        "coop-03/plots.csv": "coop-01/plots.txt",
    }
    for old, new in moved.items():
        season = tiny.folder / "seasons" / "2091"
        (season / old).rename(season / new)
    told = []
    tiny.rebuild(no_estimates, told.append)
    assert {(each.before, each.after, each.n_rows) for each in told[0].renamed} == {
        (f"seasons/2091/{old}", f"seasons/2091/{new}", 6 if "plots" in old else 1) for old, new in moved.items()
    }
