"""What a headline hangs on: one season, place or site-year left out."""

from __future__ import annotations

import pandas as pd
import pytest

from pipeline.display.words import firmness
from pipeline.estimates.passes.noninferiority import NOT_SHOWN_AS_GOOD
from tests.unit.display.rows import NONE, gain_row
from tests.unit.display.words.test_passes import row as pass_row

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


def limits(kind: str, lows: list[float], ratio: float) -> list[dict]:
    """One row a limit; that of the ratio is the same in all but the last of a kind."""
    ratios = [0.96] * (len(lows) - 1) + [ratio]
    return [
        {"kind": kind, "left_out": str(2091 + n), "estimate": low, "conf_low": low, "ratio_low": of_ratio}
        for n, (low, of_ratio) in enumerate(zip(lows, ratios, strict=True))
    ]


AS_GOOD_WITHOUT = pd.DataFrame(
    [
        *limits(firmness.SITE_YEAR, [-2.1, -2.9], ratio=0.951),
        *limits(firmness.PLACE, [-2.0, -3.0, -1.0], ratio=0.95),
        *limits(firmness.SEASON, [-4.4, -1.2, -3.1, NONE], ratio=NONE),
    ]
).assign(changes_conclusion=False)


@pytest.mark.parametrize(
    ("changed", "said"),
    [
        ({}, "Leave out one season, and as good is no longer shown in 2 of 3 cases; one place, in 1 of 3."),
        ({"margin_limit": -5.0}, ""),
        ({"verdict": NOT_SHOWN_AS_GOOD}, ""),
        ({"assay_sensitivity": "not shown"}, ""),
        ({"n_site_years": 3}, ""),
        (
            {"unit": "ratio", "margin_limit": 0.95},
            "Leave out one place, and as good is no longer shown in 1 of 3 cases.",
        ),
    ],
)
def test_as_good_is_held_against_its_margin_with_a_part_left_out_not_against_zero(changed, said):
    assert firmness.how_firm_as_good(pass_row(**changed), AS_GOOD_WITHOUT) == said
