"""The findings command: reads, checks, says, and changes nothing."""

from __future__ import annotations

import hashlib
import shutil
from contextlib import redirect_stdout
from io import BytesIO, TextIOWrapper
from pathlib import Path

import pytest
from openpyxl import Workbook
from openpyxl.utils import get_column_letter

from pipeline.__main__ import main
from pipeline.warehouse import open_warehouse
from tests.tiny_program import TinyProgram


def asked(tiny, *more: str) -> int:
    return main(["findings", "--program", str(tiny.folder), *more])


@pytest.fixture(scope="module")
def asked_once(sound_program, tmp_path_factory) -> tuple[Path, str]:
    """The folder of the tiny program, never loaded, with one mistake and its findings; copy it. And what was said."""
    tiny = TinyProgram(shutil.copytree(sound_program, tmp_path_factory.mktemp("asked") / "program"))
    tiny.change("plots", 4, "moisture_pct", "0.182")
    said = TextIOWrapper(BytesIO(), encoding="utf-8")
    with redirect_stdout(said):
        assert asked(tiny) == 0
    said.seek(0)
    return tiny.folder, " ".join(said.read().split())


def test_a_program_never_loaded_is_checked_and_no_warehouse_made(asked_once):
    folder, said = asked_once
    assert (
        "found 0.182; expected 8 to 45% (corn)" in said and "1 trial held" in said and "12 new or changed files" in said
    )
    assert not (folder / "warehouse.duckdb").exists() and not (folder / "published").exists()
    assert "0.182" in (folder / "findings/2091.txt").read_text()


def test_what_was_loaded_is_known_and_stays_as_it_is(loaded_tiny, capsys):
    tiny = loaded_tiny
    stored = tiny.folder / "warehouse.duckdb"
    before = hashlib.sha256(stored.read_bytes()).hexdigest()
    assert asked(tiny) == 0
    assert "No file is new or changed" in capsys.readouterr().out
    tiny.change("plots", 4, "moisture_pct", "0.182")
    assert asked(tiny) == 0
    said = capsys.readouterr().out
    assert "1 new or changed file: seasons/2091/plots.csv" in said
    assert hashlib.sha256(stored.read_bytes()).hexdigest() == before


def test_the_list_is_that_of_a_report(loaded_tiny, capsys):
    """The same findings as a run stores, whichever of the two came first."""
    tiny = loaded_tiny
    tiny.change("plots", 4, "moisture_pct", "0.182")
    tiny.change("plots", 5, "outcome", "eaten")
    asked(tiny)
    alone = (tiny.folder / "findings/all.txt").read_text()
    tiny.load()
    with open_warehouse(tiny.folder / "warehouse.duckdb", read_only=True) as warehouse:
        stored = warehouse.table("reports.findings")
    assert len(stored) and all(str(row.found) in alone and row.mend in alone for row in stored.itertuples())
    assert alone.count("row ") >= len(stored)


def test_one_sender_alone(tiny, capsys):
    tiny.add_delivery("north")
    tiny.change("plots", 4, "moisture_pct", "0.182")
    tiny.change("plots", 3, "moisture_pct", "0.177", "2091/north")
    capsys.readouterr()
    assert asked(tiny, "--only", "north") == 0
    said = " ".join(capsys.readouterr().out.split())
    assert "0.177" in said and "0.182" not in said and "1 trial held and out until this is settled: north" in said
    assert asked(tiny, "--only", "nort") == 1
    assert 'did you mean "north"?' in capsys.readouterr().err


def test_a_sender_of_plots_alone_hears_of_the_trial_that_waits_for_them(tiny, capsys):
    heads, *rows = tiny.rows("plots")
    tiny.write("plots", [heads, *(row for row in rows if row[0] == "2091-A-corn")], "2091/north")
    tiny.write("plots", [heads, *(row for row in rows if row[0] != "2091-A-corn")])
    for row in (2, 3):
        tiny.change("plots", row, "moisture_pct", "wet", "2091/north")
    assert asked(tiny, "--only", "north") == 0
    said = " ".join(capsys.readouterr().out.split())
    assert "In what north sent: " in said and "1 trial held and out until this is settled: 2091-A-corn." in said


def test_each_sender_has_a_letter_of_their_own(tiny):
    """A sender's folder in a folder, and one whose name is what the file of the other would be called."""
    senders = {"a/b": "0.181", "a-b": "0.182", "A-b": "0.183", "c/" + "far " * 40 + "away": "0.184"}
    for sender, found in senders.items():
        tiny.add_delivery(sender)
        tiny.change("plots", 3, "moisture_pct", found, f"2091/{sender}")
    assert asked(tiny) == 0
    letters = [path.read_text() for path in (tiny.folder / "findings").glob("2091-*.txt")]
    assert len(letters) == len(senders)
    for sender, found in senders.items():
        (own,) = (letter for letter in letters if f"To {sender}" in " ".join(letter.split()))
        assert [each for each in senders.values() if f"found: {each}" in own] == [found]


def test_a_letter_that_is_answered_goes_and_files_of_others_stay(asked_once, tmp_path):
    tiny = TinyProgram(shutil.copytree(asked_once[0], tmp_path / "program"))
    for name in ("notes.txt", "2091-sent to north.txt"):
        (tiny.folder / "findings" / name).write_text("mine")
    assert (tiny.folder / "findings/2091.html").exists()
    tiny.change("plots", 4, "moisture_pct", "18.2")
    asked(tiny)
    left = sorted(path.name for path in (tiny.folder / "findings").iterdir())
    assert left == ["2091-sent to north.txt", "all.txt", "notes.txt"]
    assert (tiny.folder / "findings/all.txt").read_text() == "No findings.\n"


@pytest.mark.parametrize("content", [b"", b"not a database at all", b"\0" * 5000])
def test_a_warehouse_that_cannot_be_read_is_said(tiny, capsys, content):
    (tiny.folder / "warehouse.duckdb").write_bytes(content)
    status = asked(tiny)
    said = capsys.readouterr()
    assert status in (0, 1) and "Traceback" not in said.err
    assert (tiny.folder / "warehouse.duckdb").read_bytes() == content


def test_a_column_is_named_as_its_sender_heads_it(tiny, capsys):
    """Of a column that may come in two units the one that came is named, and what the sender calls it."""
    mail = tiny.folder / "seasons/2091/alder"
    tiny.add_delivery("alder")
    tiny.rename("plots", "harvest_weight_lb", "Wt (lbs)", "2091/alder")
    tiny.change("plots", 3, "Wt (lbs)", "41,3", "2091/alder")
    (mail / "headings.yml").write_text('headings: {plots: {"Wt (lbs)": harvest_weight_lb}}\n')
    tiny.change("plots", 4, "harvest_weight_lb", "4O.1")
    tiny.fill("plots", "harvest_weight_kg", "")
    tiny.change("plots", 5, "harvest_weight_lb", "NA")
    tiny.change("plots", 5, "harvest_weight_kg", "18,5")
    assert asked(tiny) == 0
    said = " ".join(capsys.readouterr().out.split())
    assert 'plots.csv row 3, harvest_weight_lb ("Wt (lbs)"): found 41,3' in said
    assert "seasons/2091/plots.csv row 4, harvest_weight_lb: found 4O.1" in said
    assert "seasons/2091/plots.csv row 5, harvest_weight_kg: found 18,5" in said
    letters = [path.read_text() for path in (tiny.folder / "findings").glob("*alder*.txt")]
    assert any('plots.csv, row 3, column "Wt (lbs)"' in letter for letter in letters)


def test_lines_of_program_yml_that_nobody_filled_in_are_told(tiny, capsys):
    asked(tiny)
    assert "FILL IN" not in capsys.readouterr().out
    lines = tiny.settings_file.read_text().splitlines()
    tiny.settings_file.write_text(
        "\n".join([lines[0] + "  # FILL IN: the name", *lines[1:-1], lines[-1] + "  # FILL IN"])
    )
    asked(tiny)
    said = "program.yml: 2 lines still marked FILL IN, the first is line 1. Write there what you mean, then take the"
    assert said in capsys.readouterr().out


def test_a_file_that_is_not_read_is_asked_for_again_and_what_follows_from_it_is_not(tiny, capsys):
    """The only sites of a place lie in a damaged workbook; another sender has its weather and a trial there."""
    tiny.add_delivery("north")
    tiny.change("trials", 2, "site_id", "Cedar Hill", "2091/north")
    tiny.write("weather_daily", [["place", "date", "rain_in"], ["Cedar", "2091-05-01", "0.2"]], "2091/south")
    (tiny.folder / "seasons/2091/west").mkdir()
    (tiny.folder / "seasons/2091/west/sites.xlsx").write_bytes(b"PK\x03\x04 not a zip")
    assert asked(tiny) == 0
    said = " ".join(capsys.readouterr().out.split())
    letters = {path.stem: path.read_text() for path in (tiny.folder / "findings").glob("2091*.txt")}
    assert list(letters) == ["2091-west"] and "sites.xlsx\n   The workbook is damaged" in letters["2091-west"]
    assert "1 letter to send" in said
    assert "2 findings in no letter yet: what is missed may stand in a file that is not read." in said
    shutil.rmtree(tiny.folder / "seasons/2091/west")
    assert asked(tiny) == 0
    assert sorted(path.stem for path in (tiny.folder / "findings").glob("2091*.txt")) == ["2091-north", "2091-south"]
    assert "in no letter yet" not in capsys.readouterr().out


def test_a_file_that_needs_nothing_gets_no_letter(tiny, capsys):
    """A title, a row of units and a block number merged over its plots: all are read, and told the analyst alone."""
    heads, *rows = tiny.rows("plots")
    tiny.path("plots").unlink()
    book = Workbook()
    book.active.title = "plots"
    units = ["%" if heading == "moisture_pct" else "" for heading in heads]
    for row in (["Harvest of the season"], heads, units, *rows):
        book.active.append(row)
    letter = get_column_letter(heads.index("block") + 1)
    book.active.merge_cells(f"{letter}4:{letter}6")
    book.save(tiny.folder / "seasons/2091/plots.xlsx")
    assert asked(tiny) == 0
    assert "letter" not in capsys.readouterr().out
    told = (tiny.folder / "findings/all.txt").read_text()
    assert "stands above the headings" in told and "holds their units" in told and "are merged" in told
    assert [path.name for path in (tiny.folder / "findings").iterdir()] == ["all.txt"]
