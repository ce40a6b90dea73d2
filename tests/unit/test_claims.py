"""Verdicts on claims: each limit at, below and above."""

from __future__ import annotations

import pandas as pd
import pytest

from pipeline import claims
from pipeline.claims import BORNE_OUT, CONTRADICTED, NOT_SHOWN, SAYS_MORE, TOO_FEW
from pipeline.settings_claims import Claim

NONE = float("nan")
FOUND = {"estimate": 5.0, "conf_low": 2.0, "conf_high": 8.0, "n_site_years": 20, "n_seasons": 3}


@pytest.mark.parametrize(
    ("stated", "changes", "expected"),
    [
        # no more than the average plus one rounding unit of 0.1
        (1.0, {}, BORNE_OUT), (5.0, {}, BORNE_OUT), (5.1, {}, BORNE_OUT), (5.11, {}, SAYS_MORE),
        # the upper limit
        (7.99, {}, SAYS_MORE), (8.0, {}, SAYS_MORE), (8.01, {}, CONTRADICTED),
        # the lower limit against zero
        (4.0, {"conf_low": 0.01}, BORNE_OUT), (4.0, {"conf_low": 0.0}, NOT_SHOWN), (4.0, {"conf_low": -0.01}, NOT_SHOWN),
        (7.0, {"conf_low": -0.01}, NOT_SHOWN), (8.01, {"conf_low": -0.01}, CONTRADICTED),
        # a loss is shown: any stated gain lies above it
        (1.0, {"estimate": -5.0, "conf_low": -8.0, "conf_high": -2.0}, CONTRADICTED),
        # counts
        (5.0, {"n_site_years": 5}, TOO_FEW), (5.0, {"n_site_years": 6}, BORNE_OUT), (5.0, {"n_site_years": 7}, BORNE_OUT),
        (5.0, {"n_seasons": 1}, TOO_FEW), (5.0, {"n_seasons": 2}, BORNE_OUT),
        (99.0, {"n_site_years": 5}, TOO_FEW),
        (5.0, {"estimate": NONE, "conf_low": NONE, "conf_high": NONE}, TOO_FEW),
    ],
)  # fmt: skip
def test_the_rule(stated, changes, expected):
    assert claims.verdict(stated, FOUND | changes, rounding=0.1) == expected


def test_every_verdict_has_its_rule_in_words():
    assert set(claims.VERDICTS) == {TOO_FEW, CONTRADICTED, BORNE_OUT, SAYS_MORE, NOT_SHOWN}
    assert set(claims.BLOCKING) == {CONTRADICTED, SAYS_MORE}


def evidence(n_site_years: int = 12, **changed) -> claims.Evidence:
    row = {"comparison_id": "blend", "target": "seasons tested", "moderator": "all", "level": "all", "is_headline": True, "estimate_id": "e1"}
    rows = [
        row | FOUND | {"n_site_years": n_site_years} | changed,
        row | FOUND | {"is_headline": False, "estimate": 99.0, "estimate_id": "e2"},
        row | FOUND | {"moderator": "rainfall class", "level": "wet", "n_site_years": 4, "estimate_id": "e3"},
    ]
    seasons = [2091 + i % 3 for i in range(n_site_years)]
    site_years = pd.DataFrame({
        "comparison_id": "blend", "place": [f"p{i}" for i in range(n_site_years)], "season": seasons, "n_blocks": 4, "is_pooled": True,
    })  # fmt: skip
    parts = [("site-year", 16.0), ("residual", 40.0)]
    components = pd.DataFrame([{"comparison_id": "blend", "target": "seasons tested", "component": c, "variance": v} for c, v in parts])
    return claims.Evidence(pd.DataFrame(rows), site_years, components, {"blend": 0.1})


def judged(found: claims.Evidence, gain: float, **changed) -> pd.Series:
    claim = {"sentence": "More.", "comparison": "blend", "gain": gain, "unit": "kg/ha", "gain_kg_ha": gain, "where": "flyer", "target": "seasons tested"}
    return claims.judge([Claim(**claim | changed)], found).iloc[0]


def test_the_headline_is_what_a_claim_is_held_against():
    row = judged(evidence(), 5.0)
    assert (row["verdict"], row["estimate_id"], row["settling"]) == (BORNE_OUT, "e1", "")


def test_a_claim_on_a_class_is_held_against_that_class():
    row = judged(evidence(), 5.0, only_in="wet")
    assert (row["verdict"], row["estimate_id"], row["settling"]) == (TOO_FEW, "e3", claims.A_CLASS)


def test_a_class_without_site_years_has_too_few():
    row = judged(evidence(), 5.0, only_in="dry")
    assert row["verdict"] == TOO_FEW and row["n_site_years"] == 0 and pd.isna(row["estimate_id"])


def test_what_would_settle_it_is_precise_enough_to_tell_the_stated_gain_from_what_is_found():
    more, zero = judged(evidence(), 6.0), judged(evidence(conf_low=-1.0), 1.0)
    assert more["verdict"] == SAYS_MORE and more["half_width_wanted"] == pytest.approx(1.0)
    assert zero["verdict"] == NOT_SHOWN and zero["half_width_wanted"] == pytest.approx(1.0)
    # about (16 + 40/4) / k = (1 / 1.98)^2, so about 102 site-years in all
    assert more["more_site_years"] == pytest.approx(102 - 12, abs=3)


def test_with_too_few_site_years_nothing_can_be_planned_yet():
    row = judged(evidence(5), 5.0)
    assert row["verdict"] == TOO_FEW and pd.isna(row["more_site_years"]) and "no variances to plan from" in row["settling"]


def test_a_contradicted_claim_is_not_saved_by_more_trials():
    assert judged(evidence(), 9.0)["settling"] == claims.NO_TRIALS
