"""Editions: kept when something that decides the numbers changed, and only then."""

from __future__ import annotations

import shutil
from datetime import datetime

import pandas as pd
import pytest

from pipeline.publishing.editions import DECIDES, editions_with, keep_edition


def program(hour: int = 9, **changed) -> pd.Series:
    return pd.Series({"started": datetime(2094, 11, 20, hour)} | dict.fromkeys(DECIDES, "a") | changed)


@pytest.fixture
def published(tmp_path):
    """A published folder with one edition."""
    keep(tmp_path, program())
    return tmp_path


def keep(folder, run) -> pd.DataFrame:
    editions = editions_with(run, folder)
    (folder / "corn.pdf").write_bytes(f"%PDF {run['started']}".encode())
    keep_edition(editions, pd.DataFrame({"estimate": [5.77]}), [folder / "corn.pdf"], folder)
    return editions


def names(folder) -> list[str]:
    return sorted(path.name for path in (folder / "editions").iterdir())


def test_the_first_edition_has_its_reports_and_gains(published):
    (edition,) = (published / "editions").iterdir()
    assert edition.name == "2094-11-20-090000"
    assert {path.name for path in edition.iterdir()} == {"corn.pdf", "gains.csv", "edition.json"}
    assert pd.read_csv(edition / "gains.csv")["estimate"].tolist() == [5.77]


def test_the_same_again_is_no_edition(published):
    assert keep(published, program(hour=10))["is_new"].tolist() == [False]
    assert names(published) == ["2094-11-20-090000"]


@pytest.mark.parametrize("what", DECIDES)
def test_a_change_of_what_decides_is_a_new_edition_and_the_old_stays(published, tmp_path, what):
    before = (published / "editions/2094-11-20-090000/corn.pdf").read_bytes()
    editions = keep(published, program(hour=10, **{what: "b"}))
    assert editions["edition"].tolist() == ["2094-11-20-100000", "2094-11-20-090000"] and editions[
        "is_new"
    ].tolist() == [True, False]
    assert names(published) == ["2094-11-20-090000", "2094-11-20-100000"]
    assert (published / "editions/2094-11-20-090000/corn.pdf").read_bytes() == before


def test_only_the_newest_edition_is_compared(published):
    keep(published, program(hour=10, inputs_sha256="b"))
    assert keep(published, program(hour=11))["is_new"].tolist() == [True, False, False]


def test_an_edition_taken_away_by_hand_is_written_again(published):
    shutil.rmtree(published / "editions")
    assert keep(published, program(hour=10))["edition"].tolist() == ["2094-11-20-100000"]
