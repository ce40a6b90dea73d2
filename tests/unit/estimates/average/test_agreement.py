import pandas as pd
import pytest

from pipeline.estimates.average import agreement
from pipeline.estimates.engines import mixed, restricted_likelihood
from pipeline.estimates.engines.interval_rules import MIXED, PLAIN, TWO_STAGE

EQUAL = "The two-stage average differs from the headline, whose site-year gains are all equal"


def by_method(leads=MIXED, *, mixed=10.0, two_stage=10.0, plain=10.0, std_error=2.0, df_method="Satterthwaite"):
    rows = [(MIXED, mixed), (TWO_STAGE, two_stage), (PLAIN, plain)]
    frame = pd.DataFrame(rows, columns=["method", "estimate"]).set_index("method")
    frame["is_headline"] = frame.index == leads
    return frame.assign(std_error=std_error, df_method=df_method, rule="Too few.")


def third(estimate=10.0, std_error=2.0):
    return restricted_likelihood.RemlMean(estimate, std_error, 5.0, {}, 5)


@pytest.mark.parametrize(
    "changes, other, agrees, words",
    [
        ({}, third(), True, "agree"),
        ({"plain": 10.99}, third(), True, "agree"),
        ({"plain": 11.02}, third(), False, "plain mean is 0.51 standard errors"),
        ({"two_stage": 8.0}, third(), False, "two-stage average is 1.00 standard errors"),
        ({"two_stage": None}, third(), True, "agree"),
        ({"two_stage": 10.0 + 4e-15, "std_error": 1e-15, "mixed": None, "leads": PLAIN}, None, True, "agree"),
        ({"two_stage": 10.1, "std_error": 0.0, "mixed": None, "leads": PLAIN}, None, False, EQUAL),
        ({"two_stage": 10.1, "std_error": 1e-15, "mixed": None, "leads": PLAIN}, None, False, EQUAL),
        ({"two_stage": 0.0, "std_error": 0.0, "plain": 0.0, "mixed": 0.0, "leads": PLAIN}, None, True, "agree"),
        ({}, third(10.11), False, "other code"),
        ({}, third(10.09), True, "agree"),
        ({}, third(9.89), False, "other code"),
        ({}, third(std_error=2.11), False, "other code"),
        ({}, third(std_error=1.89), False, "other code"),
        ({}, third(std_error=1.91), True, "agree"),
        ({"df_method": "season means, seasons less 1"}, third(std_error=3.0), True, "agree"),
        ({"leads": PLAIN, "mixed": None}, None, True, "agree"),
        ({"leads": PLAIN, "mixed": None, "plain": None}, None, None, "nothing to compare: Too few."),
    ],
)
def test_rule(changes, other, agrees, words):
    found = agreement._row(by_method(**changes), other)
    assert found["agrees"] is agrees and words in found["sentence"]


@pytest.mark.parametrize(
    ("changes", "other", "told"),
    [
        ({}, third(), False),
        ({"df_method": "season means, seasons less 1"}, third(std_error=3.0), True),
        ({"leads": PLAIN}, third(std_error=3.0), True),
        ({"leads": PLAIN, "mixed": None}, None, False),
    ],
)
def test_a_standard_error_that_is_not_the_models_is_not_held_against_the_refit(changes, other, told):
    """2.0 beside 3.0 under 'the methods agree' needs its reason."""
    sentence = agreement._row(by_method(**changes), other)["sentence"]
    assert (agreement.NOT_COMPARED in sentence) is told


def test_the_roads_of_a_program_agree(build):
    """lme4 against the third road, which share no code."""
    with mixed.by(mixed.LME4):
        own, pooled, _ = build.averages(*build.program(8, season_sd=100.0))
        found = agreement.agreement(pooled, own.grouped)
    assert found["target"].to_list() == ["seasons tested", "seasons to come"]
    assert found["agrees"].all() and (found["leads"] == MIXED).all()
    assert found["third_road"].to_list() == pytest.approx(found["mixed_model"].to_list(), rel=1e-4)
    assert found["third_road_std_error"].iloc[0] == pytest.approx(found["std_error"].iloc[0], rel=1e-3)


@pytest.mark.parametrize(("target", "told"), [("seasons tested", False), ("seasons to come", True)])
def test_seasons_counted_alike_are_named_where_they_part_the_roads(monkeypatch, target, told):
    monkeypatch.setattr(restricted_likelihood, "fit_gains", lambda blocks, target: third())
    pooled = by_method(plain=13.0).reset_index().assign(comparison_id="c", target=target, moderator="all")
    (sentence,) = agreement.agreement(pooled, pd.DataFrame({"comparison_id": ["c"]}))["sentence"]
    assert "1.50 standard errors" in sentence and ("every season alike" in sentence) is told
