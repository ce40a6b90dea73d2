"""Editions on the index, and what moved the headlines in the newest run."""

from __future__ import annotations

import pandas as pd
import pytest

from pipeline.display import editions


def step(**changed) -> dict:
    row = {"run_id": "r2", "position": 0, "comparison_id": "blend", "target": "seasons tested", "cause": "new season", "before": 5.0, "after": 5.77,
           "unit": "bu/ac", "digits": 1}  # fmt: skip
    return row | changed


@pytest.mark.parametrize(
    ("steps", "says"),
    [
        ([step()], "blend, seasons tested: 5.0 to 5.8\u00a0bu/ac (new season: 5.0 to 5.8)."),
        (
            [step(cause="settings", after=5.3), step(before=5.3)],
            "blend, seasons tested: 5.0 to 5.8\u00a0bu/ac (settings: 5.0 to 5.3; new season: 5.3 to 5.8).",
        ),
        ([step(before=float("nan"))], "blend, seasons tested: none to 5.8\u00a0bu/ac (new season: none to 5.8)."),
        ([step(after=5.04)], "No headline changed since the run before."),
        ([step(run_id="r1")], "No headline changed since the run before."),
    ],
)
def test_what_moved_a_headline(steps, says):
    assert editions.changes(pd.DataFrame(steps), "r2") == [says]


def test_on_a_first_run_there_is_nothing_to_compare_with():
    assert editions.changes(pd.DataFrame(columns=list(step())), "r1") == [editions.FIRST_RUN]


def test_the_newest_edition_is_marked_and_each_leads_to_its_gains():
    rows = pd.DataFrame(
        {
            "edition": ["2094-11-20-100000", "2094-11-20-090000"],
            "code_commit": ["b with changes", "a"],
            "is_new": [True, False],
        }
    )
    newest, older = editions.editions_list(rows).splitlines()
    assert newest == "- [2094-11-20-100000](editions/2094-11-20-100000/gains.csv): code b with changes, this one"
    assert older.endswith(": code a")
