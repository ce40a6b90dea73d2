"""Claims in words: no sentence says more than its verdict allows."""

from __future__ import annotations

import dataclasses

import pandas as pd
import pytest

from pipeline import verdicts as rules
from pipeline.contract.vocabulary import MORE_WITH, RAIN_AFTER
from pipeline.display.words import claims
from pipeline.estimates.average.robustness import SEASON
from tests.unit.display.rows import DECLARED, NONE, gain_row
from tests.unit.display.weather_rows import covariate_row, no_slope_row, slope_row


def claim_row(**changed) -> dict:
    row = {
        "position": 1, "sentence": "Five more = better.", "printed_in": "flyer", "comparison_id": "blend",
        "crop": "corn", "unit": "bu/ac", "digits": 1,
        "target": "seasons tested", "only_in": "", "weather": None, "states": "gain", "stated": 5.0, "stated_gain": 5.0,
        "stated_unit": "bu/ac", "verdict": rules.BORNE_OUT, "estimate_id": "b78c8b79",
        "estimate": 5.77, "conf_low": 3.37, "conf_high": 8.16, "n_site_years": 33, "n_seasons": 4,
        "half_width_wanted": NONE,
        "more_site_years": NONE, "more_seasons": NONE, "settling": "", **DECLARED,
    }  # fmt: skip
    assert not set(changed) - set(row)
    return row | changed


def evidence(**views: pd.DataFrame) -> claims.Evidence:
    """What claims rest on; nothing of what is not given."""
    nothing = dict.fromkeys(claims.EVIDENCE, pd.DataFrame()) | {"robustness": moved_rows().iloc[:0]}
    return claims.evidence_in(nothing | views)


def moved_rows(**changed) -> pd.DataFrame:
    """Rows of reports.robustness: of two seasons left out, one changes what is concluded of zero and of a margin."""
    row = {"comparison_id": "blend", "target": "seasons tested", "moderator": "all", "kind": SEASON, "estimate": 5.0}
    moves = ({"conf_low": 1.0, "changes_conclusion": False}, {"conf_low": -9.0, "changes_conclusion": True})
    return pd.DataFrame([row | move | changed for move in moves])


FOUND = evidence(gains=pd.DataFrame([gain_row()]))
BUDGET = {
    "comparison_id": "blend", "target": "seasons tested", "says": "blend against urea", "conf_low": 2.0,
    "conf_high": 18.0, "net_change": 10.0,
    "currency": "$", "df": 4.0, "n_seasons": 4, "gives_chances": True, "break_even_gain": 2.3, "digits": 1,
    "unit": "bu/ac", "weather": "long-run weather", "weather_reason": "", "gain": 7.0, "reference_first_year": 2061,
    "reference_last_year": 2090, "n_site_years": 33,
}  # fmt: skip
FOUND_MONEY = evidence(gains=FOUND.gains, money=pd.DataFrame([BUDGET]))


def test_a_claim_with_its_evidence_on_the_screen():
    said = "\n".join(claims.lines(pd.DataFrame([claim_row()]), FOUND))
    assert "1. \u201cFive more = better.\u201d (flyer)" in said
    assert (
        "States 5 bu/ac, in the seasons tested; shown 5.8 (3.4 to 8.2) bu/ac; 33 site-years in 4 seasons [b78c8b79]"
        in said
    )
    assert "Borne out: the interval is on the stated side of zero" in said and "What would settle it" not in said
    assert "May be said. Half-coated blend, one application, yielded 5.8 bu/ac (362 kg/ha) more" in said


def test_what_may_be_said_of_a_gain_says_on_which_part_of_the_data_it_depends():
    """Only where the same average with a part left out says something else."""
    fragile = "Leave out one season, and the gain is no longer shown in 1 of 2 cases."
    assert claims.supported(claim_row(), dataclasses.replace(FOUND, robustness=moved_rows())).endswith(fragile)
    for other in ({"comparison_id": "other"}, {"target": "seasons to come"}, {"moderator": "rainfall class"}):
        moved = dataclasses.replace(FOUND, robustness=moved_rows(**other))
        assert claims.supported(claim_row(), moved) == claims.supported(claim_row(), FOUND)


def test_a_claim_on_a_comparison_declared_late_says_so():
    said = claims.why(claim_row(declared=pd.Timestamp("2110-11-15"), is_late=True))
    assert said.startswith("Borne out: ")
    assert said.endswith(
        "The comparison was declared on November 15, 2110, after the first harvest it uses (October 2, 2091):"
        " exploratory."
    )


def test_no_claims_are_said_to_be_none():
    assert claims.lines(pd.DataFrame(columns=list(claim_row())), FOUND) == [claims.NONE_MADE]


@pytest.mark.parametrize(
    ("changes", "says"),
    [
        (
            {"more_site_years": 83, "more_seasons": 1, "half_width_wanted": 1.23},
            "About 83 more site-years over 1 season should narrow the interval to 1.2 bu/ac either side.",
        ),
        (
            {"more_site_years": 1, "more_seasons": 1, "half_width_wanted": 1.23, "settling": "Too hopeful."},
            "About 1 more site-year over 1 season should narrow the interval to 1.2 bu/ac either side. Too hopeful.",
        ),
        (
            {"more_site_years": 0, "more_seasons": 1, "half_width_wanted": 4.0},
            "as narrow already as 4.0 bu/ac either side",
        ),
        ({"settling": "It takes more seasons."}, "It takes more seasons."),
        ({}, ""),
    ],
)
def test_what_would_settle_it(changes, says):
    said = claims.settling(claim_row(**changes))
    assert says in said and bool(said) == bool(says)


def test_a_class_is_named():
    row = claim_row(only_in="P x wet", estimate_id="none of these")
    assert claims.about(row) == "In the seasons tested, drainage group P (somewhat poorly drained and wetter), wet only"
    assert (
        claims.supported(row, FOUND)
        == "Nothing can be said: there is no site-year of this class, drainage group P (somewhat poorly drained and"
        " wetter), wet."
    )


def test_a_claim_without_an_average_shows_none():
    row = claim_row(estimate=NONE, conf_low=NONE, conf_high=NONE, n_site_years=2, n_seasons=1)
    assert "no average; 2 site-years in 1 season" in claims.claims_table(pd.DataFrame([row]))


def test_sentences_of_others_cannot_act_as_markdown():
    table = claims.claims_table(pd.DataFrame([claim_row(sentence="*Wow* | [x](http://x)")]))
    assert r"\*Wow\* \| \[x\](http://x)" in table


@pytest.mark.parametrize("verdict", list(rules.VERDICTS))
def test_only_contradicted_and_overstated_claims_block(verdict):
    found = claims.blocking(pd.DataFrame([claim_row(verdict=verdict)]))
    assert len(found) == (verdict in ("contradicted", "says more than shown"))


@pytest.mark.parametrize(
    ("changes", "says"),
    [
        ({}, "5 bu/ac"), ({"stated_gain": -5.0, "stated": -5.0}, "\u22125 bu/ac"),
        ({"stated_gain": 2.5, "stated_unit": "%", "stated": 4.26}, "2.5% (4.3 bu/ac)"),
        ({"stated_gain": 300.0, "stated_unit": "kg/ha", "stated": 4.8}, "300 kg/ha"),
        ({"states": "net change", "stated_gain": 15.0, "stated_unit": "$/ac"}, "$15.00 per acre"),
        ({"states": "as good", "stated_gain": NONE, "stated_unit": "", "stated": -3.0},
         "as good (no worse than \u22123.0 bu/ac)"),
    ],
)  # fmt: skip
def test_what_is_stated(changes, says):
    assert claims.stated(claim_row(**changes)) == says


def test_as_good_and_money_say_what_their_own_test_says():
    test = {
        "comparison_id": "blend", "target": "seasons tested", "says": "blend against urea", "unit": "bu/ac",
        "digits": 1, "margin": 3.0, "margin_limit": -3.0, "is_declared": True,
        "margin_fixed_on": pd.Timestamp("2090-11-15"), "margin_basis": "half an LSD", "estimate": 1.4,
        "n_site_years": 33, "n_seasons": 4, "n_without_ratio": None, "lower_limit": -0.4, "upper_limit": 3.2,
        "verdict": "as good within the margin", "reason": "Even the lower limit loses less than the margin.",
        "assay_sensitivity": "shown",
        "assay_reason": "it out-yields zero-N", "assay_estimate": 75.7, "assay_n_site_years": 33,
    }  # fmt: skip
    found = evidence(gains=FOUND.gains, as_good=pd.DataFrame([test]), money=pd.DataFrame([BUDGET]))
    good, paid = claim_row(states="as good"), claim_row(states="net change")
    assert "is as good as urea within a margin of 3.0 bu/ac" in claims.supported(
        good, found
    ) and "These trials could have shown a loss" in claims.supported(good, found)
    assert claims.supported(paid, found).startswith(
        "For blend against urea, it pays on average: $10 per acre (95% interval $2 to $18)."
    )
    moved = dataclasses.replace(found, robustness=moved_rows())
    fragile = "Leave out one season, and as good is no longer shown in 1 of 2 cases. These trials"
    assert fragile in claims.supported(good, moved)
    assert "the trials could have shown a loss" in claims.why(good) and "the last printed decimal" in claims.why(paid)


def test_a_claim_of_as_good_on_the_ratio_scale_is_held_against_a_ratio():
    row = claim_row(
        states="as good", stated=0.98, unit="ratio", digits=3, estimate=1.012, conf_low=0.99, conf_high=1.035
    )
    assert claims.stated(row) == "as good (no worse than a ratio of 0.980)"
    assert claims._shown(row) == "a ratio of 1.012 (0.990 to 1.035); 33 site-years in 4 seasons"


def test_money_on_too_few_degrees_of_freedom_is_told_as_on_the_season_page():
    row = claim_row(
        states="net change", stated=5.0, stated_gain=5.0, stated_unit="$/ac", estimate=-1.5, verdict="too few"
    )
    row |= {"conf_low": float("nan"), "conf_high": float("nan"), "n_site_years": 9, "n_seasons": 4}
    (line,) = [line for line in claims.lines(pd.DataFrame([row]), FOUND_MONEY) if "shown" in line]
    assert (
        "shown \u2212\u2060$2 per acre; whether it pays is not known from 9 site-years; 9 site-years in 4 seasons"
        in line
    )
    assert "of money also where its interval has 2 degrees of freedom or fewer" in claims.why(row)


@pytest.mark.parametrize(
    ("states", "says", "shown"),
    [
        ("as good", "no average to hold against the margin", "no average; 0 site-years"),
        ("net change", "Nothing can be said of money", "no net change is worked out on this target"),
    ],
)
def test_without_a_test_or_a_budget_nothing_is_said_of_them(states, says, shown):
    row = claim_row(
        states=states,
        estimate=NONE,
        conf_low=NONE,
        conf_high=NONE,
        stated=NONE,
        n_site_years=0,
        n_seasons=0,
        estimate_id=None,
    )
    assert says in claims.supported(row, FOUND) and shown in claims.claims_table(pd.DataFrame([row]))


WEATHER = {
    "states": MORE_WITH,
    "weather": RAIN_AFTER,
    "stated": NONE,
    "stated_gain": NONE,
    "stated_unit": None,
    "unit": "bu/ac per in.",
}


def of_weather(slope: dict) -> claims.Evidence:
    return evidence(
        weather_slopes=pd.DataFrame([slope]), weather_covariates=pd.DataFrame([covariate_row("Alder", 2091, 4.0)])
    )


def test_a_claim_on_the_weather_is_told_with_its_slope_and_the_sentence_of_the_season_report():
    row = claim_row(**WEATHER, estimate=0.93, conf_low=0.1, conf_high=1.72)
    assert claims.stated(row) == "a gain that is more with more rain after application"
    told = claims.lines(pd.DataFrame([row]), of_weather(slope_row()))
    assert "shown 0.9 (0.1 to 1.7) bu/ac per in.; 33 site-years in 4 seasons" in told[1]
    assert told[2].strip() == f"Borne out: {rules.SLOPE_VERDICTS[rules.BORNE_OUT]}."
    assert (
        told[3]
        .strip()
        .startswith("May be said. Each extra inch of rain in the month after application went with 0.9 bu/ac more gain")
    )


def test_a_claim_on_the_weather_without_a_slope_says_why():
    row = claim_row(
        **WEATHER, verdict=rules.TOO_FEW, estimate=NONE, conf_low=NONE, conf_high=NONE, settling="Too few seasons."
    )
    told = claims.lines(pd.DataFrame([row]), of_weather(no_slope_row("Too few seasons.")))
    assert "shown no slope" in told[1] and "Too few seasons." in told[3]
