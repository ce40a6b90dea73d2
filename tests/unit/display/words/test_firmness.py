"""What a headline hangs on: one season, place or site-year left out."""

from __future__ import annotations

import pandas as pd
import pytest

from pipeline.display.words import firmness
from tests.unit.display.rows import NONE, gain_row

LOSS = {"estimate": -6.1, "conf_low": -9.2, "conf_high": -3.0}
ZERO = {"estimate": 5.7, "conf_low": -1.0, "conf_high": 12.4}


def left_out(kind: str, changes: list) -> list[dict]:
    """A row per part left out; None: no average without it, so nothing to compare."""
    return [
        {"kind": kind, "estimate": NONE if change is None else 5.0, "changes_conclusion": change} for change in changes
    ]


ROBUSTNESS = pd.DataFrame(
    [
        *left_out(firmness.SITE_YEAR, [False] * 4),
        *left_out(firmness.PLACE, [True, False, False]),
        *left_out(firmness.SEASON, [True, True, False, None]),
        *left_out("other estimator", [True]),
    ]
)


@pytest.mark.parametrize(
    ("changed", "said"),
    [
        ({}, "Leave out one season, and the gain is no longer shown in 2 of 3 cases; one place, in 1 of 3."),
        (LOSS, "Leave out one season, and the loss is no longer shown in 2 of 3 cases; one place, in 1 of 3."),
        (ZERO, "Leave out one season, and zero is outside the interval in 2 of 3 cases; one place, in 1 of 3."),
        ({"shown_as": "grey"}, ""),
    ],
)
def test_what_a_headline_hangs_on_is_counted(changed, said):
    assert firmness.how_firm(gain_row(**changed), ROBUSTNESS) == said


def test_only_parts_that_change_the_answer_are_named():
    assert firmness.hangs_on(ROBUSTNESS) == "depends on one season or place"
    firm = ROBUSTNESS[ROBUSTNESS["kind"] == firmness.SITE_YEAR]
    assert firmness.hangs_on(firm) == "" == firmness.how_firm(gain_row(), firm)
    assert firmness.hangs_on(ROBUSTNESS.iloc[:0]) == ""
