"""A few of the hostile inputs of `make soak`, from fixed seeds, and that its judges see what is wrong."""

from __future__ import annotations

from dataclasses import replace

import pandas as pd
import pytest

from pipeline.incoming import csv_reader
from pipeline.incoming.sheet import NotRead
from tests.examples import examples
from tests.hard_to_break.soak import judge, loads, reading, settings_files
from tests.hard_to_break.soak.__main__ import AT_A_TIME, Attack
from tests.hard_to_break.soak.commands import Ended
from tests.hard_to_break.soak.kills import of_end

FEW = {"csv": 150, "xlsx": 30, "settings": 60}


@pytest.mark.parametrize("kind", ["csv", "xlsx"])
def test_hostile_deliveries_are_read_or_refused_with_their_place(tmp_path, kind):
    for number in range(examples(FEW[kind], 10 * FEW[kind])):
        assert reading.faults(kind, f"{kind} sample-{number}", tmp_path) == [], number


def test_hostile_settings_are_read_or_refused_with_their_line(tmp_path):
    for number in range(examples(FEW["settings"], 10 * FEW["settings"])):
        assert settings_files.faults(f"settings sample-{number}", tmp_path) == [], number


def test_a_load_of_hostile_mail_loses_no_row(sound_program, tmp_path):
    loads.write("load sample-0", sound_program, tmp_path / "program")
    assert loads.faults(tmp_path / "program") == []


@pytest.mark.slow
@pytest.mark.parametrize("kind", AT_A_TIME)
def test_all_kinds(tmp_path, kind):
    attack = Attack(tmp_path)
    tried = attack.several([f"{kind} sample-{number}" for number in range(3 * AT_A_TIME[kind])])
    assert [each for each in tried if each[2]] == []


def test_a_row_that_is_lost_is_seen(tmp_path, monkeypatch):
    whole = csv_reader.read_csv

    def forgetful(*arguments, **named):
        sheet = whole(*arguments, **named)
        return replace(sheet, row_numbers=sheet.row_numbers[1:], columns={h: c[1:] for h, c in sheet.columns.items()})

    monkeypatch.setattr("pipeline.incoming.readers.read_csv", forgetful)
    found = [reading.faults("csv", f"csv sample-{number}", tmp_path) for number in range(20)]
    assert any("filled rows, read" in fault for faults in found for fault in faults)


def test_what_a_judge_must_see():
    counts = pd.DataFrame([{"delivered": 3, "used": 1, "set_aside": 1, "held": 0, "superseded": 0}])
    assert judge.of_counts(counts)
    assert judge.of_screen(3, "", "not your doing") and judge.of_screen(0, "\x1b[2J", "") and judge.of_screen(1, "", "")
    assert judge.of_refusal("not its name: wrong", "seasons/2091/plots.csv")
    assert of_end(Ended(0 - 11, "", "", 1.0, []), judge.signal.SIGTERM, 1.0)
    assert of_end(Ended(143, "", "Stopped.", 1.0, []), judge.signal.SIGTERM, 1.0)
    assert judge.of_held(NotRead("f", 1), [[letter] for letter in "abcde"])
