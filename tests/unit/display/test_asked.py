"""Which findings are asked of senders."""

from __future__ import annotations

import pandas as pd

from pipeline.contract.checks import ANALYST, OF_ANY_FOLDER, OF_ITS_FOLDER, Check
from pipeline.contract.tables import HOLDS_TRIAL, NOTED
from pipeline.display.letters.asked import asked_of_senders, may_follow

CHECKS = [
    Check("file not read", HOLDS_TRIAL, "", "", asks=ANALYST),
    Check("unknown column", NOTED, "", "", asks=ANALYST),
    Check("weather of unknown place", NOTED, "", "", may_follow_from=OF_ANY_FOLDER),
    Check("plot of unknown trial", NOTED, "", "", may_follow_from=OF_ITS_FOLDER),
    Check("yield unusual", NOTED, "", ""),
]
NORTH, SOUTH, SHARED = "seasons/2094/north/plots.csv", "seasons/2094/south/plots.csv", "seasons/2094/plots.csv"


def found(*names: str, file: str = NORTH) -> pd.DataFrame:
    return pd.DataFrame({"check_name": names, "file": file})


def files(*held: str, again: tuple[str, ...] = ()) -> pd.DataFrame:
    there = [NORTH, SOUTH, SHARED]
    return pd.DataFrame(
        {"file": there, "is_held": [f in held for f in there], "only_sender_mends": [f in again for f in there]}
    )


def asked(findings: pd.DataFrame, delivered: pd.DataFrame) -> list[str]:
    return list(asked_of_senders(findings, delivered, CHECKS)["check_name"])


def test_what_only_the_analyst_can_mend_is_not_asked():
    assert asked(found("unknown column", "yield unusual", "made from a declaration"), files()) == [
        "yield unusual",
        "made from a declaration",
    ]


def test_a_file_is_asked_for_again_where_only_its_sender_can_mend_it():
    assert asked(found("file not read"), files(NORTH)) == []
    assert asked(found("file not read"), files(NORTH, again=(NORTH,))) == ["file not read"]
    assert asked(found("file not read"), files(NORTH, SOUTH, again=(SOUTH,))) == []


def test_what_an_unread_file_may_explain_waits_for_it():
    all_three = found("weather of unknown place", "plot of unknown trial", "yield unusual")
    assert asked(all_three, files()) == list(all_three["check_name"])
    assert asked(all_three, files(SOUTH)) == ["plot of unknown trial", "yield unusual"]
    for beside in (NORTH, SHARED):
        assert asked(all_three, files(beside)) == ["yield unusual"]
        assert list(may_follow(all_three, files(beside), CHECKS)) == [True, True, False]


def test_what_lies_in_the_season_waits_for_the_files_of_its_senders():
    assert asked(found("plot of unknown trial", file=SHARED), files(SOUTH)) == []
    assert asked(found("plot of unknown trial", file="seasons/2093/plots.csv"), files(SOUTH)) == [
        "plot of unknown trial"
    ]
