"""Printed sentences against the evidence: which verdict each claim gets, by rules fixed beforehand.

A claim states a gain (or loss) in yield, a net change in money, or that something is as good, on one target. A gain is
held against the headline of its comparison on that target, or of the class it speaks of (kg/ha); money against the
partial budget; "as good" against the margin; more or less with the weather against the slope that leads. A loss is
judged as a gain with all signs turned.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np
import pandas as pd

from pipeline.contract.results import frame_of
from pipeline.contract.vocabulary import AS_GOOD, DECLARED, DOES_NOT_APPLY, GAIN, LESS_WITH, MORE_WITH, SHOWN
from pipeline.estimates.engines.interval_rules import TOO_FEW_DF_FOR_MONEY
from pipeline.estimates.passes.noninferiority import BETTER
from pipeline.estimates.where.breakdown import MODERATORS, levels_of
from pipeline.planning.next_season import layout_of, site_years_needed
from pipeline.settings.claims import NET_CHANGE, Claim
from pipeline.verdicts import (
    BORNE_OUT,
    CONTRADICTED,
    NOT_SHOWN,
    SAYS_MORE,
    TOO_FEW,
    as_good_verdict,
    slope_verdict,
    verdict,
)

MORE_SEASONS_FOR_MONEY = "It takes more seasons: with so few, no interval of what it returns is given."
CENT = 0.01  # the last decimal in which money is printed
EVIDENCE = ("estimate_id", "estimate", "conf_low", "conf_high", "n_site_years", "n_seasons")
# what a row leaves empty that nothing more would settle
SETTLED = dict.fromkeys(("half_width_wanted", "more_site_years", "more_seasons", "stated", "evidence_unit"))
A_CLASS = "It takes site-years of this class in more seasons; their weather cannot be planned."
NO_TRIALS = "More trials are not expected to help: the sentence needs another number."
NOT_AS_GOOD = "More trials are not expected to help: the average itself lies beyond the margin."
NO_RATIO_PLAN = "How many more site-years it takes is not worked out for a margin that is a ratio."
OTHER_TARGET = "Net change is not worked out on this target: name the target of the budget, or state a gain in yield."
NO_YIELD = "There is no comparator yield yet that a percentage could be taken of."
LATE_MARGIN = "It takes a margin fixed before the harvest of the trials it is held against: new trials."
WIDER_THAN_PLANNED = (
    "How many more site-years it takes cannot be planned: the printed interval is wider than its variances lead one to"
    " expect."
)
OTHER_WAY = "More trials are not expected to help: the slope points the other way."
NOT_DECLARED_WEATHER = "It takes future trials: declare it under explained_by before their harvest."
MORE_SLOPE = "It takes site-years in more seasons, whose weather differs."
NO_ASSAY = "It takes plots without N in these trials, which the comparator clearly out-yields."


@dataclass(frozen=True)
class Evidence:
    """What claims are held against: pooled and site-year gains and variance components (kg/ha), tests against margins,
    budgets, the last printed decimal of each crop's reports in kg/ha by comparison_id, and slopes on weather
    covariates.
    """

    pooled_gains: pd.DataFrame
    site_year_gains: pd.DataFrame
    variance_components: pd.DataFrame
    noninferiority: pd.DataFrame
    budgets: pd.DataFrame
    rounding: dict[str, float]
    weather_slopes: pd.DataFrame


def judge(claims: Iterable[Claim], evidence: Evidence) -> pd.DataFrame:
    """One row per claim with its verdict, what it rests on and what would settle it; columns of claims."""
    held = {GAIN: _gain, AS_GOOD: _as_good, NET_CHANGE: _net_change, MORE_WITH: _slope, LESS_WITH: _slope}
    rows = [
        SETTLED | _words(position, claim) | held[claim.states](claim, evidence)
        for position, claim in enumerate(claims, start=1)
    ]
    return frame_of(rows, "claims")


def _words(position: int, claim: Claim) -> dict:
    return {
        "position": position,
        "sentence": claim.sentence,
        "printed_in": claim.where,
        "comparison_id": claim.comparison,
        "target": claim.target,
        "only_in": claim.only_in,
        "weather": claim.weather or None,
        "states": claim.states,
        "stated_gain": claim.gain,
        "stated_unit": claim.unit,
    }


def _gain(claim: Claim, evidence: Evidence) -> dict:
    found = _headline(claim, evidence.pooled_gains)
    stated = claim.gain * (claim.kg_ha_per_unit or _comparator_mean(claim, evidence) / 100)
    said = verdict(stated, found | {"target": claim.target}, rounding=evidence.rounding[claim.comparison])
    settled = {BORNE_OUT: "", CONTRADICTED: NO_TRIALS}
    if said in settled or claim.only_in or pd.isna(stated):
        settling = {"settling": settled.get(said, A_CLASS if claim.only_in else NO_YIELD)}
    else:
        # precise enough to tell the stated gain from zero, or from the average found
        settling = _needed(claim, evidence, found, abs(stated - found["estimate"] if said == SAYS_MORE else stated))
    return found | {"stated": stated, "verdict": said, "evidence_unit": "kg/ha"} | settling


def _headline(claim: Claim, pooled: pd.DataFrame) -> dict:
    """The leading row of the comparison, target and class; counts of zero where the class holds no site-year."""
    is_class = (
        pooled["moderator"].ne("all") & pooled["level"].eq(claim.only_in)
        if claim.only_in
        else pooled["moderator"].eq("all")
    )
    leads = pooled["is_headline"] & is_class
    found = pooled[leads & (pooled["comparison_id"] == claim.comparison) & (pooled["target"] == claim.target)]
    return found.iloc[0][list(EVIDENCE)].to_dict() if len(found) else _nothing()


def _nothing() -> dict:
    return dict.fromkeys(EVIDENCE) | {"n_site_years": 0, "n_seasons": 0}


def _comparator_mean(claim: Claim, evidence: Evidence) -> float:
    """The average yield that a percentage is taken of (kg/ha): over the site-years that the claim speaks of."""
    used = _used(claim, evidence)
    if claim.only_in:
        is_class = [levels_of(used, columns).eq(claim.only_in) for columns in MODERATORS.values()]
        used = used[np.logical_or.reduce(is_class)]
    return float(used["comparator_mean"].mean())


def _used(claim: Claim, evidence: Evidence) -> pd.DataFrame:
    used = evidence.site_year_gains
    return used[(used["comparison_id"] == claim.comparison) & used["is_pooled"]]


def _as_good(claim: Claim, evidence: Evidence) -> dict:
    tests = evidence.noninferiority
    tests = tests[(tests["comparison_id"] == claim.comparison) & (tests["target"] == claim.target)]
    if tests.empty:
        return _nothing() | {"verdict": TOO_FEW, "settling": ""}
    test = tests.iloc[0]
    found = {
        "estimate_id": test["estimate_id"],
        "estimate": test["estimate"],
        "conf_low": test["lower_limit"],
        "conf_high": test["upper_limit"],
        "n_site_years": test["n_site_years"],
        "n_seasons": test["n_seasons"],
    }
    decides = test[["target", "margin_limit", "margin_is_late", "assay_sensitivity"]].to_dict()
    said = as_good_verdict(found | decides | {"is_better": test["verdict"] == BETTER})
    shared = found | {"stated": test["margin_limit"], "verdict": said, "evidence_unit": test["scale"]}
    if said in (BORNE_OUT, CONTRADICTED):
        return shared | {"settling": "" if said == BORNE_OUT else NO_TRIALS}
    return shared | _as_good_settling(claim, evidence, test, found)


def _as_good_settling(claim: Claim, evidence: Evidence, test: pd.Series, found: dict) -> dict:
    if test["margin_is_late"]:
        return {"settling": LATE_MARGIN}
    if test["scale"] != "kg/ha":
        return {"settling": NO_RATIO_PLAN}
    room = test["estimate"] - test["margin_limit"]
    if pd.isna(room):
        return _needed(claim, evidence, found, -test["margin_limit"])
    if room <= 0:
        return {"settling": NOT_AS_GOOD}
    no_assay = "" if test["assay_sensitivity"] in (SHOWN, DOES_NOT_APPLY) else NO_ASSAY
    if no_assay and test["lower_limit"] > test["margin_limit"]:
        return {"settling": no_assay}
    needed = _needed(claim, evidence, found, room)
    return needed | {"settling": " ".join(filter(None, [needed["settling"], no_assay]))}


def _net_change(claim: Claim, evidence: Evidence) -> dict:
    budgets = evidence.budgets
    budgets = budgets[(budgets["comparison_id"] == claim.comparison) & (budgets["target"] == claim.target)]
    shared = {"stated": claim.gain, "evidence_unit": claim.unit}
    if budgets.empty or pd.isna(budgets.iloc[0]["net_change"]):
        return (
            shared
            | _nothing()
            | {
                "verdict": TOO_FEW,
                "settling": OTHER_TARGET if budgets.empty else budgets.iloc[0]["reason"],
            }
        )
    budget = budgets.iloc[0]
    found = budget[["estimate_id", "conf_low", "conf_high", "n_site_years", "n_seasons"]].to_dict()
    found |= {"estimate": budget["net_change"]}
    if budget["df"] <= TOO_FEW_DF_FOR_MONEY:
        found |= {"conf_low": np.nan, "conf_high": np.nan}
    said = verdict(claim.gain, found | {"target": claim.target}, rounding=CENT)
    if said in (BORNE_OUT, CONTRADICTED):
        return shared | found | {"verdict": said, "settling": "" if said == BORNE_OUT else NO_TRIALS}
    if said == TOO_FEW and pd.isna(found["conf_low"]):
        return shared | found | {"verdict": said, "settling": MORE_SEASONS_FOR_MONEY}
    apart = claim.gain - found["estimate"] if said == SAYS_MORE else claim.gain
    per_unit = budget["value_per_unit"] / budget["kg_ha_per_unit"]  # money per acre for one kg/ha of gain
    in_yield = {name: found[name] / per_unit for name in ("conf_low", "conf_high")} if per_unit > 0 else {}
    settling = _needed(claim, evidence, in_yield, abs(apart) / per_unit) if in_yield else {"settling": NO_TRIALS}
    wanted = settling.get("half_width_wanted", np.nan)
    return shared | found | {"verdict": said} | settling | {"half_width_wanted": wanted * per_unit}


def _slope(claim: Claim, evidence: Evidence) -> dict:
    slopes = evidence.weather_slopes
    mine = slopes["comparison_id"].eq(claim.comparison) & slopes["target"].eq(claim.target)
    leads = slopes[mine & slopes["covariate"].eq(claim.weather) & slopes["is_headline"]]
    if leads.empty:
        return _nothing() | {"verdict": TOO_FEW, "settling": MORE_SLOPE}
    slope = leads.iloc[0]
    said = slope_verdict(-1 if claim.states == LESS_WITH else 1, slope)
    settled = {BORNE_OUT: "", CONTRADICTED: OTHER_WAY, TOO_FEW: slope["reason"]}
    settled[NOT_SHOWN] = MORE_SLOPE if slope["kind"] == DECLARED else NOT_DECLARED_WEATHER
    unit = f"kg/ha per {slope['covariate_unit']}"
    return slope[list(EVIDENCE)].to_dict() | {"verdict": said, "settling": settled[said], "evidence_unit": unit}


def _needed(claim: Claim, evidence: Evidence, found: dict, half_width: float) -> dict:
    """How many more site-years, in how many seasons, are expected to give an interval of this half-width (kg/ha).

    found: conf_low and conf_high as printed, kg/ha. Where they are further apart than the variances lead one to expect,
    and these would have it that enough is there already, nothing can be planned.
    """
    needed = site_years_needed(
        claim.comparison, layout_of(_used(claim, evidence)), evidence.variance_components, half_width=half_width
    )
    needed = needed[needed["target"] == claim.target]
    reached = needed[needed["more_site_years"].notna()]
    if reached.empty:
        return {"half_width_wanted": half_width, "settling": needed["reason"].iloc[-1]}
    least = reached.sort_values(["more_site_years", "more_seasons"]).iloc[0]
    if least["more_site_years"] == 0 and found["conf_high"] - found["conf_low"] > 2 * half_width:
        return {"half_width_wanted": half_width, "settling": f"{WIDER_THAN_PLANNED} {least['reason']}".strip()}
    return {
        "half_width_wanted": half_width, "more_site_years": least["more_site_years"],
        "more_seasons": least["more_seasons"], "settling": least["reason"],
    }  # fmt: skip
