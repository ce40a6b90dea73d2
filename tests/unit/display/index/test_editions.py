"""Editions on the index, and what moved the headlines in the newest run."""

from __future__ import annotations

import pandas as pd
import pytest

from pipeline.display.index import editions


def step(**changed) -> dict:
    row = {"run_id": "r2", "position": 0, "comparison_id": "blend", "target": "seasons tested", "cause": "new season",
           "before": 5.0, "after": 5.77,
           "conf_low_before": 1.0, "conf_high_before": 9.0, "conf_low_after": 2.0, "conf_high_after": 9.54,
           "n_before": 8, "n_after": 9, "n_seasons_before": 3,
           "n_seasons_after": 3, "method_before": "two-stage", "method_after": "two-stage", "unit": "bu/ac",
           "digits": 1}  # fmt: skip
    return row | changed


SAME = {"after": 5.04, "conf_low_after": 1.0, "conf_high_after": 9.0, "n_after": 8}
NO_VERDICTS = pd.DataFrame(columns=["run_id", "kind", "what", "target", "before", "after"])
STILL = "1 headline did not move as printed (changed: new season)."


@pytest.mark.parametrize(
    ("steps", "says"),
    [
        (
            [step()],
            (
                "blend, seasons tested: 5.0 (1.0 to 9.0)\u00a0bu/ac from 8 site-years, now 5.8 (2.0 to 9.5)\u00a0bu/ac"
                " from 9 site-years (new season)."
            ),
        ),
        (
            [step(cause="settings") | SAME, step()],
            (
                "blend, seasons tested: 5.0 (1.0 to 9.0)\u00a0bu/ac from 8 site-years, now 5.8 (2.0 to 9.5)\u00a0bu/ac"
                " from 9 site-years (settings: not moved as printed; new season: 5.0 (1.0 to 9.0)\u00a0bu/ac to 5.8"
                " (2.0 to 9.5)\u00a0bu/ac)."
            ),
        ),
        (
            [step(before=None, conf_low_before=None, conf_high_before=None, n_before=None, n_seasons_before=None)],
            (
                "blend, seasons tested: new, 5.8 (2.0 to 9.5)\u00a0bu/ac from 9 site-years (new season). Shown now: a"
                " gain."
            ),
        ),
        (
            [step(before=None, conf_low_before=None, conf_high_before=None, n_before=1)],
            (
                "blend, seasons tested: no average from 1 site-year, now 5.8 (2.0 to 9.5)\u00a0bu/ac from 9 site-years"
                " (new season). Shown now: a gain."
            ),
        ),
        # less than its printed digits
        ([step(**SAME)], STILL),
        # the interval alone, across zero
        (
            [step(**SAME | {"conf_low_after": -0.02})],
            (
                "blend, seasons tested: 5.0 (1.0 to 9.0)\u00a0bu/ac from 8 site-years, now 5.0 (−0.02 to"
                " 9.0)\u00a0bu/ac from 8 site-years (new season). Shown before: a gain."
                " Shown now: neither a gain nor a loss."
            ),
        ),
        # what a run before this column was kept did not say, is not said
        (
            [step(**SAME | {"conf_low_after": -0.02, "n_seasons_before": None, "method_before": None})],
            (
                "blend, seasons tested: 5.0 (1.0 to 9.0)\u00a0bu/ac from 8 site-years, now 5.0 (−0.02 to"
                " 9.0)\u00a0bu/ac from 8 site-years (new season)."
            ),
        ),
        # the same figures by another method
        (
            [step(**SAME | {"method_after": "mixed model"})],
            (
                "blend, seasons tested: 5.0 (1.0 to 9.0)\u00a0bu/ac from 8 site-years, now 5.0 (1.0 to 9.0)\u00a0bu/ac"
                " from 8 site-years (new season). The method that leads was two-stage; now it is mixed model."
            ),
        ),
        # the same figures from too few seasons
        (
            [step(**SAME | {"n_seasons_before": 1})],
            (
                "blend, seasons tested: 5.0 (1.0 to 9.0)\u00a0bu/ac from 8 site-years, now 5.0 (1.0 to 9.0)\u00a0bu/ac"
                " from 8 site-years (new season). Shown before: too few trials or seasons to claim"
                " anything. Shown now: a gain."
            ),
        ),
        # an average that is gone says so itself
        (
            [step(after=None, conf_low_after=None, conf_high_after=None, n_after=2)],
            (
                "blend, seasons tested: 5.0 (1.0 to 9.0)\u00a0bu/ac from 8 site-years, now no average from 2 site-years"
                " (new season)."
            ),
        ),
        (
            [step(**SAME | {"after": -5.04, "conf_low_after": -9.0, "conf_high_after": -1.0})],
            (
                "blend, seasons tested: 5.0 (1.0 to 9.0)\u00a0bu/ac from 8 site-years, now \u22125.0 (\u22129.0 to"
                " \u22121.0)\u00a0bu/ac from 8 site-years (new season). Shown before: a gain. Shown now: a loss."
            ),
        ),
        ([step(run_id="r1")], editions.UNCHANGED),
    ],
)
def test_what_moved_a_headline(steps, says):
    assert editions.changes(pd.DataFrame(steps), NO_VERDICTS, "r2") == [says]


def test_verdicts_that_turned_are_told_of_this_run_only():
    turned = [
        {"run_id": "r2", "kind": "claim", "what": "Two more bushels", "target": "seasons tested", "before": "borne out",
         "after": "not shown"},
        {"run_id": "r2", "kind": "as good", "what": "blend", "target": "seasons tested", "before": "as good",
         "after": "not shown"},
        {"run_id": "r1", "kind": "claim", "what": "Older", "target": "seasons tested", "before": "borne out",
         "after": "not shown"},
    ]  # fmt: skip
    assert editions.changes(pd.DataFrame([step(**SAME)]), pd.DataFrame(turned), "r2") == [
        STILL,
        'Claim "Two more bushels": borne out before, not shown now.',
        "As good, blend, seasons tested: as good before, not shown now.",
    ]


def test_headlines_that_stand_still_are_counted():
    rows = [step(), step(position=1, **SAME), step(position=2, **SAME)]
    assert (
        editions.changes(pd.DataFrame(rows), NO_VERDICTS, "r2")[1]
        == "2 headlines did not move as printed (changed: new season)."
    )


def test_where_no_run_ever_changed_a_headline_no_first_run_is_claimed():
    assert editions.changes(pd.DataFrame(columns=list(step())), NO_VERDICTS, "r1") == [editions.NOTHING_BEFORE]


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


def test_a_target_is_told_in_the_words_of_the_pages():
    ahead = {"target": "seasons to come"}
    verdict = pd.DataFrame(
        [{"run_id": "r2", "kind": "as good", "what": "blend", "before": "as good", "after": "not shown"} | ahead]
    )
    said = editions.changes(pd.DataFrame([step(**ahead)]), verdict, "r2")
    assert said[0].startswith("blend, future seasons: ") and said[1].startswith("As good, blend, future seasons: ")
