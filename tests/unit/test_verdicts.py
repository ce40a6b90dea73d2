"""The rules of verdicts: each limit at, below and above."""

from __future__ import annotations

import pytest

from pipeline import verdicts
from pipeline.verdicts import BORNE_OUT, CONTRADICTED, NOT_SHOWN, SAYS_MORE, TOO_FEW

NONE = float("nan")
FOUND = {
    "target": "seasons tested",
    "estimate": 5.0,
    "conf_low": 2.0,
    "conf_high": 8.0,
    "n_site_years": 20,
    "n_seasons": 3,
}


@pytest.mark.parametrize(
    ("stated", "changes", "expected"),
    [
        # no more than the average plus one rounding unit of 0.1
        (1.0, {}, BORNE_OUT), (5.0, {}, BORNE_OUT), (5.1, {}, BORNE_OUT), (5.11, {}, SAYS_MORE),
        # the upper limit
        (7.99, {}, SAYS_MORE), (8.0, {}, SAYS_MORE), (8.01, {}, CONTRADICTED),
        # the lower limit against zero
        (4.0, {"conf_low": 0.01}, BORNE_OUT), (4.0, {"conf_low": 0.0}, NOT_SHOWN),
        (4.0, {"conf_low": -0.01}, NOT_SHOWN),
        (7.0, {"conf_low": -0.01}, NOT_SHOWN), (8.01, {"conf_low": -0.01}, CONTRADICTED),
        # a loss is shown: any stated gain lies above it
        (1.0, {"estimate": -5.0, "conf_low": -8.0, "conf_high": -2.0}, CONTRADICTED),
        # a stated loss is a stated gain with all signs turned
        (-1.0, {"estimate": -5.0, "conf_low": -8.0, "conf_high": -2.0}, BORNE_OUT),
        (-5.1, {"estimate": -5.0, "conf_low": -8.0, "conf_high": -2.0}, BORNE_OUT),
        (-5.11, {"estimate": -5.0, "conf_low": -8.0, "conf_high": -2.0}, SAYS_MORE),
        (-8.0, {"estimate": -5.0, "conf_low": -8.0, "conf_high": -2.0}, SAYS_MORE),
        (-8.01, {"estimate": -5.0, "conf_low": -8.0, "conf_high": -2.0}, CONTRADICTED), (-1.0, {}, CONTRADICTED),
        (-1.0, {"estimate": -5.0, "conf_low": -8.0, "conf_high": 0.0}, NOT_SHOWN),
        (-9.0, {"estimate": -5.0, "conf_low": -8.0, "conf_high": 1.0}, CONTRADICTED),
        # counts
        (5.0, {"n_site_years": 5}, TOO_FEW), (5.0, {"n_site_years": 6}, BORNE_OUT),
        (5.0, {"n_site_years": 7}, BORNE_OUT),
        (5.0, {"n_seasons": 1}, TOO_FEW), (5.0, {"n_seasons": 2}, BORNE_OUT),
        # 2 seasons cannot show how much seasons differ
        (5.0, {"n_seasons": 2, "target": "seasons to come"}, TOO_FEW),
        (5.0, {"n_seasons": 3, "target": "seasons to come"}, BORNE_OUT),
        (99.0, {"n_site_years": 5}, TOO_FEW),
        (5.0, {"estimate": NONE, "conf_low": NONE, "conf_high": NONE}, TOO_FEW),
        # a percentage of a yield that is not known
        (NONE, {}, TOO_FEW),
    ],
)  # fmt: skip
def test_the_rule(stated, changes, expected):
    assert verdicts.verdict(stated, FOUND | changes, rounding=0.1) == expected


def test_every_verdict_has_its_rule_in_words():
    assert set(verdicts.VERDICTS) == {TOO_FEW, CONTRADICTED, BORNE_OUT, SAYS_MORE, NOT_SHOWN}
    assert set(verdicts.BLOCKING) == {CONTRADICTED, SAYS_MORE}
    assert set(verdicts.AS_GOOD_VERDICTS) == set(verdicts.VERDICTS) - {SAYS_MORE}


AS_GOOD = {
    "target": "seasons tested",
    "conf_low": -2.0,
    "conf_high": 4.0,
    "margin_limit": -3.0,
    "margin_is_late": False,
    "is_better": False,
    "assay_sensitivity": "shown",
    "n_site_years": 20,
    "n_seasons": 3,
}


@pytest.mark.parametrize(
    ("changes", "expected"),
    [
        ({}, BORNE_OUT), ({"conf_low": -2.99}, BORNE_OUT), ({"conf_low": -3.0}, NOT_SHOWN),
        ({"conf_low": -3.01}, NOT_SHOWN), ({"conf_low": 1.0}, BORNE_OUT),
        # less, but not by more than the margin: neither shown nor ruled out
        ({"conf_low": -6.0, "conf_high": -1.0}, NOT_SHOWN), ({"conf_low": -6.0, "conf_high": -3.0}, NOT_SHOWN),
        ({"conf_low": -6.0, "conf_high": -3.01}, CONTRADICTED),
        # trials in which everything looks alike prove nothing
        ({"assay_sensitivity": "not shown"}, NOT_SHOWN), ({"assay_sensitivity": "does not apply"}, BORNE_OUT),
        ({"assay_sensitivity": None}, NOT_SHOWN),
        # a margin fixed when yields could be seen shows nothing as good; better needs none, worse stays worse
        ({"margin_is_late": True}, NOT_SHOWN), ({"margin_is_late": True, "is_better": True, "conf_low": 1.0},
                                                BORNE_OUT),
        ({"margin_is_late": True, "conf_low": -6.0, "conf_high": -3.01}, CONTRADICTED),
        # a margin that is a ratio
        ({"margin_limit": 0.97, "conf_low": 0.98, "conf_high": 1.02}, BORNE_OUT),
        ({"margin_limit": 0.97, "conf_low": 0.96, "conf_high": 1.02}, NOT_SHOWN),
        # a treatment that must gain: the margin lies above zero
        ({"margin_limit": 1.0, "conf_low": 0.5, "conf_high": 3.0}, NOT_SHOWN),
        ({"n_site_years": 5}, TOO_FEW), ({"n_seasons": 1}, TOO_FEW), ({"conf_low": NONE}, TOO_FEW),
        ({"n_seasons": 2}, BORNE_OUT), ({"n_seasons": 2, "target": "seasons to come"}, TOO_FEW),
    ],
)  # fmt: skip
def test_as_good(changes, expected):
    assert verdicts.as_good_verdict(AS_GOOD | changes) == expected
