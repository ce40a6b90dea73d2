"""Editions: kept when something that decides the numbers changed, and only then."""

from __future__ import annotations

import json
import shutil
from datetime import datetime

import pandas as pd
import pytest

from pipeline.errors import UserError
from pipeline.publishing.editions import DECIDES, editions_with, keep_edition, withdraw_editions


def program(hour: int = 9, **changed) -> pd.Series:
    return pd.Series(
        {"started": datetime(2094, 11, 20, hour)}
        | dict.fromkeys(DECIDES, "a")
        | {"may_be_named": "place only"}
        | changed
    )


@pytest.fixture
def published(tmp_path):
    """A published folder with one edition."""
    keep(tmp_path / "published", program())
    return tmp_path / "published"


def keep(folder, run) -> pd.DataFrame:
    editions = editions_with(run, folder)
    folder.mkdir(exist_ok=True)
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


@pytest.mark.parametrize("what", ["inputs_sha256", "settings_sha256", "code_commit", "lock_sha256"])
def test_a_change_of_what_decides_is_a_new_edition_and_the_old_stays(published, what):
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


@pytest.mark.parametrize(
    ("named", "allowed", "stays"),
    [
        ("place only", "place only", True),
        ("place only", "cooperator", True),
        ("nobody", "place only", True),
        ("place only", "nobody", False),
        ("cooperator", "place only", False),
        (None, "place only", False),
        (None, "cooperator", True),
    ],
)
def test_an_edition_that_names_more_than_is_allowed_now_is_moved_out(published, named, allowed, stays):
    """Without a word on its card it is of a version that named everybody."""
    inside = published / "editions/2094-11-20-090000"
    card = json.loads((inside / "edition.json").read_text())
    (inside / "edition.json").write_text(json.dumps({k: v for k, v in (card | {"may_be_named": named}).items() if v}))
    before = {path.name: path.read_bytes() for path in inside.iterdir()}
    found = editions_with(program(may_be_named=allowed), published)
    assert found["is_new"].tolist() == [not stays], "what goes is not listed, and stands for no edition of this run"
    withdraw_editions(published, allowed)
    now = inside if stays else published.parent / "editions_withdrawn" / inside.name
    assert inside.exists() == stays and {path.name: path.read_bytes() for path in now.iterdir()} == before


def test_an_edition_that_cannot_be_moved_out_is_named(published):
    inside = published / "editions/2094-11-20-090000"
    taken = published.parent / "editions_withdrawn" / inside.name
    taken.mkdir(parents=True)
    (taken / "mine.txt").write_text("of the user")
    with pytest.raises(UserError, match="names more than program.yml allows now, and cannot be moved"):
        withdraw_editions(published, "nobody")
    assert (inside / "corn.pdf").exists() and [path.name for path in taken.iterdir()] == ["mine.txt"]


@pytest.mark.parametrize("said", ["everyone", 3, None])
def test_a_card_with_a_strange_word_is_taken_for_one_that_names_everybody(published, said):
    inside = published / "editions/2094-11-20-090000"
    card = json.loads((inside / "edition.json").read_text())
    (inside / "edition.json").write_text(json.dumps(card | {"may_be_named": said}))
    withdraw_editions(published, "place only")
    assert not inside.exists() and (published.parent / "editions_withdrawn" / inside.name / "corn.pdf").exists()


@pytest.mark.parametrize("text", ["", "{", "[]", "\u0000"])
def test_a_card_that_cannot_be_read_stops_nothing(published, text):
    inside = published / "editions/2094-11-20-090000"
    (inside / "edition.json").write_text(text)
    assert editions_with(program(may_be_named="cooperator"), published)["edition"].iloc[-1] == inside.name
    withdraw_editions(published, "place only")
    assert not inside.exists()
