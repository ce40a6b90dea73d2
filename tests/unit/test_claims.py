"""Claims held against the evidence: which row each is held against, and what would settle it."""

from __future__ import annotations

from dataclasses import replace

import pandas as pd
import pytest

from pipeline import claims
from pipeline.contract.vocabulary import AS_GOOD, DECLARED, EXPLORATORY, LESS_WITH, MORE_WITH, RAIN_AFTER, TO_COME
from pipeline.settings.claims import NET_CHANGE, Claim
from pipeline.verdicts import BORNE_OUT, CONTRADICTED, NOT_SHOWN, SAYS_MORE, TOO_FEW

NONE = float("nan")
FOUND = {"estimate": 5.0, "conf_low": 2.0, "conf_high": 8.0, "n_site_years": 20, "n_seasons": 3}
TEST = {
    "estimate_id": "t1",
    "comparison_id": "blend",
    "target": "seasons tested",
    "scale": "kg/ha",
    "estimate": 5.0,
    "lower_limit": 2.0,
    "upper_limit": 8.0,
    "margin_limit": -3.0,
    "margin_is_late": False,
    "verdict": "better",
    "assay_sensitivity": "shown",
    "n_site_years": 20,
    "n_seasons": 3,
}
BUDGET = {
    "estimate_id": "b1",
    "comparison_id": "blend", "target": "seasons tested", "net_change": 10.0, "conf_low": 2.0, "conf_high": 18.0,
    "df": 4.0, "n_site_years": 20,
    "n_seasons": 3, "value_per_unit": 4.0, "kg_ha_per_unit": 2.0, "reason": "",
}  # fmt: skip
SLOPE = {
    "estimate_id": "s1",
    "comparison_id": "blend", "target": "seasons tested", "covariate": RAIN_AFTER, "covariate_unit": "mm",
    "kind": DECLARED, "is_headline": True,
    "is_shown": True, "estimate": 2.0, "conf_low": 1.0, "conf_high": 3.0, "n_site_years": 20, "n_seasons": 3,
    "reason": "",
}  # fmt: skip


def _one(row: dict | None, default: dict) -> pd.DataFrame:
    return pd.DataFrame(columns=list(default)) if row is None else pd.DataFrame([default | row])


def evidence(
    n_site_years: int = 12,
    *,
    test: dict | None = None,
    budget: dict | None = None,
    slope: dict | None = None,
    **changed,
) -> claims.Evidence:
    row = {
        "comparison_id": "blend",
        "target": "seasons tested",
        "moderator": "all",
        "level": "all",
        "is_headline": True,
        "estimate_id": "e1",
    }
    rows = [
        row | FOUND | {"n_site_years": n_site_years} | changed,
        row | FOUND | {"is_headline": False, "estimate": 99.0, "estimate_id": "e2"},
        row | FOUND | {"moderator": "rainfall class", "level": "wet", "n_site_years": 4, "estimate_id": "e3"},
    ]
    seasons = [2091 + i % 3 for i in range(n_site_years)]
    site_years = pd.DataFrame({
        "comparison_id": "blend", "place": [f"p{i}" for i in range(n_site_years)], "season": seasons, "n_blocks": 4,
        "is_pooled": True, "comparator_mean": 100.0,
        "drainage_group": "P", "rainfall_class": "dry",
    })  # fmt: skip
    parts = [("site-year", 16.0), ("residual", 40.0)]
    components = pd.DataFrame(
        [{"comparison_id": "blend", "target": "seasons tested", "component": c, "variance": v} for c, v in parts]
    )
    return claims.Evidence(
        pd.DataFrame(rows),
        site_years,
        components,
        _one(test, TEST),
        _one(budget, BUDGET),
        {"blend": 0.1},
        _one(slope, SLOPE),
    )


def judged(found: claims.Evidence, gain: float, **changed) -> pd.Series:
    claim = {
        "sentence": "More.",
        "comparison": "blend",
        "gain": gain,
        "unit": "kg/ha",
        "kg_ha_per_unit": 1.0,
        "where": "flyer",
        "target": "seasons tested",
    }
    return claims.judge([Claim(**claim | changed)], found).iloc[0]


def test_the_headline_is_what_a_claim_is_held_against():
    row = judged(evidence(), 5.0)
    assert (row["verdict"], row["estimate_id"], row["settling"]) == (BORNE_OUT, "e1", "")


def test_a_claim_on_a_class_is_held_against_that_class():
    row = judged(evidence(), 5.0, only_in="wet")
    assert (row["verdict"], row["estimate_id"], row["settling"]) == (TOO_FEW, "e3", claims.A_CLASS)


@pytest.mark.parametrize(("only_in", "of"), [("", 100.0), ("wet", 130.0), ("P", 95.0), ("P x wet", 125.0)])
def test_a_percentage_is_taken_of_the_site_years_that_the_claim_speaks_of(only_in, of):
    found = evidence(4)
    found.site_year_gains[["drainage_group", "rainfall_class", "comparator_mean"]] = [
        ["P", "wet", 125.0], ["R", "wet", 135.0], ["P", "dry", 65.0], ["R", None, 75.0]
    ]  # fmt: skip
    others = [found.site_year_gains.assign(comparison_id="another"), found.site_year_gains.assign(is_pooled=False)]
    others = [each.assign(comparator_mean=999.0) for each in others]
    found = replace(found, site_year_gains=pd.concat([found.site_year_gains, *others], ignore_index=True))
    assert judged(found, 4.0, unit="%", kg_ha_per_unit=None, only_in=only_in)["stated"] == pytest.approx(0.04 * of)


@pytest.mark.parametrize(("n_seasons", "expected"), [(2, TOO_FEW), (3, BORNE_OUT)])
def test_seasons_to_come_take_three_seasons_whatever_is_claimed(n_seasons, expected):
    changed = {"target": "seasons to come", "n_seasons": n_seasons}
    found = evidence(test=changed, budget=changed, **changed)
    for claim in ({}, {"states": AS_GOOD, "unit": ""}, {"states": NET_CHANGE, "unit": "$/ac"}):
        assert judged(found, 5.0, target="seasons to come", **claim)["verdict"] == expected


def test_a_class_without_site_years_has_too_few():
    row = judged(evidence(), 5.0, only_in="dry")
    assert row["verdict"] == TOO_FEW and row["n_site_years"] == 0 and pd.isna(row["estimate_id"])


def test_what_would_settle_it_is_precise_enough_to_tell_the_stated_gain_from_what_is_found():
    more, zero = judged(evidence(), 6.0), judged(evidence(conf_low=-1.0), 1.0)
    assert more["verdict"] == SAYS_MORE and more["half_width_wanted"] == pytest.approx(1.0)
    assert zero["verdict"] == NOT_SHOWN and zero["half_width_wanted"] == pytest.approx(1.0)
    # about (16 + 40/4) / k = (1 / 1.98)^2, so about 102 site-years in all
    assert more["more_site_years"] == pytest.approx(102 - 12, abs=3)


@pytest.mark.parametrize(("conf_low", "is_planned"), [(-0.9, True), (-1.1, False)])
def test_an_interval_that_a_guard_widened_is_not_called_narrow_enough(conf_low, is_planned):
    """12 site-years are expected to give (16 + 40/4) / 12 and t(11): 3.24 either side, and 4 are wanted."""
    row = judged(evidence(estimate=3.0, conf_low=conf_low, conf_high=6.9 if is_planned else 7.1), 4.0)
    assert row["verdict"] == NOT_SHOWN and pd.notna(row["more_site_years"]) == is_planned
    assert (row["settling"] == claims.WIDER_THAN_PLANNED) == (not is_planned)


def test_with_too_few_site_years_nothing_can_be_planned_yet():
    row = judged(evidence(5), 5.0)
    assert (
        row["verdict"] == TOO_FEW and pd.isna(row["more_site_years"]) and "no variances to plan from" in row["settling"]
    )


def test_a_contradicted_claim_is_not_saved_by_more_trials():
    assert judged(evidence(), 9.0)["settling"] == claims.NO_TRIALS


def test_a_percentage_of_a_yield_that_no_trial_tells_is_not_said_to_be_more_than_shown():
    """As where all trials are known by printed differences alone."""
    found = evidence()
    found = replace(found, site_year_gains=found.site_year_gains.assign(comparator_mean=NONE))
    row = judged(found, 1.0, unit="%", kg_ha_per_unit=None)
    assert (row["verdict"], row["settling"]) == (TOO_FEW, claims.NO_YIELD)


@pytest.mark.parametrize(
    ("pct", "expected"),
    [(5.0, BORNE_OUT), (5.1, BORNE_OUT), (5.11, SAYS_MORE), (8.01, CONTRADICTED), (-1.0, CONTRADICTED)],
)
def test_a_percentage_is_taken_of_the_comparators_average(pct, expected):
    row = judged(evidence(), pct, unit="%", kg_ha_per_unit=None)
    assert row["verdict"] == expected and row["stated"] == pytest.approx(pct)  # of 100 kg/ha


def test_a_stated_loss_that_is_too_large_says_how_precise_it_would_have_to_be():
    row = judged(evidence(estimate=-5.0, conf_low=-8.0, conf_high=-2.0), -7.0)
    assert row["verdict"] == SAYS_MORE and row["half_width_wanted"] == pytest.approx(2.0)


def test_a_stated_loss_that_is_not_shown_says_how_precise_it_would_have_to_be():
    row = judged(evidence(estimate=-2.0, conf_low=-5.0, conf_high=1.0), -3.0)
    assert row["verdict"] == NOT_SHOWN and row["half_width_wanted"] == pytest.approx(3.0)


@pytest.mark.parametrize(
    ("test", "verdict", "settling"),
    [
        ({}, BORNE_OUT, ""),
        ({"upper_limit": -4.0, "lower_limit": -9.0, "estimate": -6.0}, CONTRADICTED, claims.NO_TRIALS),
        ({"assay_sensitivity": "not shown"}, NOT_SHOWN, claims.NO_ASSAY),
        ({"estimate": -3.5, "lower_limit": -5.0, "upper_limit": -2.0}, NOT_SHOWN, claims.NOT_AS_GOOD),
        ({"margin_is_late": True, "verdict": "not shown to be as good"}, NOT_SHOWN, claims.LATE_MARGIN),
        ({"scale": "ratio", "margin_limit": 0.97, "estimate": 0.98, "lower_limit": 0.95, "upper_limit": 1.01},
         NOT_SHOWN, claims.NO_RATIO_PLAN),
    ],
)  # fmt: skip
def test_as_good_is_held_against_the_margin(test, verdict, settling):
    row = judged(evidence(test=test), None, states=AS_GOOD, unit="", kg_ha_per_unit=None)
    assert (row["verdict"], row["settling"], row["estimate_id"]) == (verdict, settling, "t1")
    assert pd.isna(row["half_width_wanted"]), "nothing that more site-years alone would settle"


def test_what_would_settle_as_good_is_the_room_between_average_and_margin():
    row = judged(
        evidence(test={"estimate": -1.0, "lower_limit": -4.0, "upper_limit": 2.0}),
        None,
        states=AS_GOOD,
        unit="",
        kg_ha_per_unit=None,
    )
    assert row["verdict"] == NOT_SHOWN and row["half_width_wanted"] == pytest.approx(2.0) and row["more_site_years"] > 0


def test_as_good_without_a_test_has_too_few():
    row = judged(evidence(), None, states=AS_GOOD, unit="", kg_ha_per_unit=None)
    assert row["verdict"] == TOO_FEW and row["n_site_years"] == 0


@pytest.mark.parametrize(
    ("stated", "budget", "expected"),
    [
        (10.0, {}, BORNE_OUT), (10.01, {}, BORNE_OUT), (10.02, {}, SAYS_MORE), (18.01, {}, CONTRADICTED),
        (-1.0, {}, CONTRADICTED),
        (5.0, {"conf_low": -1.0}, NOT_SHOWN), (5.0, {"n_seasons": 1}, TOO_FEW), (5.0, {"df": 2.0}, TOO_FEW),
        (5.0, {"net_change": NONE, "reason": "no price"}, TOO_FEW),
        (5.0, {"target": "seasons to come"}, TOO_FEW),
    ],
)  # fmt: skip
def test_money_is_held_against_the_budget(stated, budget, expected):
    row = judged(evidence(budget=budget), stated, states=NET_CHANGE, unit="$/ac", kg_ha_per_unit=None)
    assert row["verdict"] == expected and row["evidence_unit"] == "$/ac"
    if "target" in budget:
        assert row["settling"] == claims.OTHER_TARGET


@pytest.mark.parametrize(("assay", "told"), [("not shown", claims.NO_ASSAY), ("shown", "")])
def test_an_interval_too_wide_in_trials_without_zero_n_takes_both(assay, told):
    """More site-years alone would leave it not shown."""
    test = {"estimate": 2.0, "lower_limit": -4.0, "upper_limit": 8.0, "assay_sensitivity": assay, "verdict": "x"}
    row = judged(evidence(test=test), 0.0, states=AS_GOOD)
    assert row["verdict"] == NOT_SHOWN and row["half_width_wanted"] == pytest.approx(5.0)
    assert row["settling"].endswith(told) and (claims.NO_ASSAY in row["settling"]) == bool(told)


def test_as_good_without_an_average_takes_an_interval_as_narrow_as_the_margin():
    test = dict.fromkeys(("estimate", "lower_limit", "upper_limit"), NONE) | {"verdict": "x"}
    row = judged(evidence(test=test), 0.0, states=AS_GOOD)
    assert row["verdict"] == TOO_FEW and row["half_width_wanted"] == pytest.approx(3.0)


def test_what_would_settle_money_is_told_in_money():
    row = judged(evidence(budget={"conf_low": -1.0}), 4.0, states=NET_CHANGE, unit="$/ac", kg_ha_per_unit=None)
    # $4 per acre are 2 kg/ha at $2 per acre for each kg/ha
    assert row["half_width_wanted"] == pytest.approx(4.0)
    assert row["more_site_years"] == judged(evidence(conf_low=-1.0), 2.0)["more_site_years"]


@pytest.mark.parametrize(("conf_high", "is_planned"), [(0.45, True), (0.47, False)])
def test_an_interval_of_money_that_a_guard_widened_is_held_against_its_yield(conf_high, is_planned):
    """$0.28 are 4 kg/ha at $0.07 for each, either side of which 12 site-years are expected to give 3.24."""
    budget = {
        "net_change": 0.2,
        "conf_low": -0.1,
        "conf_high": conf_high,
        "value_per_unit": 4.2,
        "kg_ha_per_unit": 60.0,
    }
    row = judged(evidence(budget=budget), 0.28, states=NET_CHANGE, unit="$/ac", kg_ha_per_unit=None)
    assert row["verdict"] == NOT_SHOWN and pd.notna(row["more_site_years"]) == is_planned
    assert (row["settling"] == claims.WIDER_THAN_PLANNED) == (not is_planned)


def test_where_a_bushel_brings_nothing_no_trial_settles_what_is_said_of_money():
    found = evidence(budget={"value_per_unit": 0.0, "conf_low": -2.0})
    row = judged(found, 10.0, states=NET_CHANGE, unit="$/ac")
    assert (row["verdict"], row["settling"]) == (NOT_SHOWN, claims.NO_TRIALS)


def test_of_several_ways_the_one_with_fewest_site_years_is_told(monkeypatch):
    ways = {"target": "seasons tested", "more_site_years": [9, 4, 4, None], "more_seasons": [1, 3, 2, 4],
            "reason": ["a", "b", "c", "d"]}  # fmt: skip
    monkeypatch.setattr(claims, "site_years_needed", lambda *_, **__: pd.DataFrame(ways))
    row = judged(evidence(conf_low=-1.0), 1.0)
    assert (row["more_site_years"], row["more_seasons"], row["settling"]) == (4, 2, "c")


def test_claims_are_counted_from_one_as_they_stand_in_program_yml():
    claim = Claim(sentence="More.", comparison="blend", gain=5.0, unit="kg/ha", kg_ha_per_unit=1.0, where="flyer",
                  target="seasons tested")  # fmt: skip
    found = claims.judge([claim, replace(claim, sentence="And more.")], evidence())
    assert found[["position", "sentence"]].to_numpy().tolist() == [[1, "More."], [2, "And more."]]
    assert found["weather"].isna().all()


def test_money_without_an_interval_takes_more_seasons():
    """An interval that is not given was said to be as narrow as wanted."""
    row = judged(evidence(budget={"df": 2.0}), 5.0, states=NET_CHANGE, unit="$/ac", kg_ha_per_unit=None)
    assert row["settling"] == claims.MORE_SEASONS_FOR_MONEY and pd.isna(row["more_site_years"])
    assert pd.isna(row["conf_low"]) and pd.isna(row["conf_high"]), "neither end is stored"


def test_a_comparison_without_site_years_has_too_few():
    found = evidence()
    nothing = claims.Evidence(
        found.pooled_gains.iloc[:0],
        found.site_year_gains.iloc[:0],
        found.variance_components.iloc[:0],
        found.noninferiority,
        found.budgets,
        found.rounding,
        found.weather_slopes,
    )
    for changes in (
        {},
        {"unit": "%", "kg_ha_per_unit": None},
        {"states": AS_GOOD, "gain": None},
        {"states": NET_CHANGE},
    ):
        assert judged(nothing, **({"gain": 5.0} | changes))["verdict"] == TOO_FEW


@pytest.mark.parametrize(
    ("states", "slope", "said", "settling"),
    [
        (MORE_WITH, {}, BORNE_OUT, ""),
        (LESS_WITH, {}, CONTRADICTED, claims.OTHER_WAY),
        (LESS_WITH, {"estimate": -2.0}, BORNE_OUT, ""),
        (MORE_WITH, {"is_shown": False}, NOT_SHOWN, claims.MORE_SLOPE),
        (MORE_WITH, {"is_shown": False, "kind": EXPLORATORY}, NOT_SHOWN, claims.NOT_DECLARED_WEATHER),
        (MORE_WITH, {"estimate": NONE, "reason": "Too few seasons."}, TOO_FEW, "Too few seasons."),
        (MORE_WITH, {"target": TO_COME}, TOO_FEW, claims.MORE_SLOPE),
        (MORE_WITH, {"is_headline": False}, TOO_FEW, claims.MORE_SLOPE),
    ],
)
def test_a_claim_on_the_weather_is_held_against_the_slope_that_leads(states, slope, said, settling):
    row = judged(evidence(slope=slope), None, states=states, unit="", weather=RAIN_AFTER, kg_ha_per_unit=None)
    assert (row["verdict"], row["settling"]) == (said, settling)


def test_the_row_that_leads_is_taken_wherever_it_stands():
    found = evidence()
    found = replace(found, pooled_gains=found.pooled_gains.iloc[::-1].reset_index(drop=True))
    assert judged(found, 5.0)["estimate_id"] == "e1"


def test_a_late_margin_takes_nothing_from_what_was_found_better():
    late = {"margin_is_late": True}
    for verdict, said in (("better", BORNE_OUT), ("as good", NOT_SHOWN)):
        row = judged(evidence(test=late | {"verdict": verdict}), None, states=AS_GOOD, unit="", kg_ha_per_unit=None)
        assert row["verdict"] == said


def test_an_average_at_the_margin_itself_is_not_helped_by_more_trials():
    at_margin = {"estimate": -3.0, "lower_limit": -6.0, "upper_limit": 0.0, "verdict": "not shown"}
    row = judged(evidence(test=at_margin), None, states=AS_GOOD, unit="", kg_ha_per_unit=None)
    assert (row["verdict"], row["settling"]) == (NOT_SHOWN, claims.NOT_AS_GOOD)


def test_money_that_says_more_needs_what_tells_it_from_the_average():
    row = judged(evidence(budget={}), 15.0, states=NET_CHANGE, unit="$/ac", kg_ha_per_unit=None)
    assert row["verdict"] == SAYS_MORE and row["half_width_wanted"] == pytest.approx(15.0 - BUDGET["net_change"])
