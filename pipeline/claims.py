"""Printed sentences against the evidence: which verdict each claim gets, by rules fixed beforehand.

A claim states a gain on one target. It is held against the headline of its comparison on that target, or of
the class it speaks of. Everything is in kg/ha, stated gains too.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

import pandas as pd

from pipeline.estimates import interval_rules
from pipeline.estimates.columns import frame_of
from pipeline.planning.next_season import layout_of, site_years_needed
from pipeline.settings_claims import Claim

FEWEST_SITE_YEARS = interval_rules.FEWEST_FOR_THE_MODEL
FEWEST_SEASONS = 2
TOO_FEW, CONTRADICTED, BORNE_OUT = "too few", "contradicted", "borne out"
SAYS_MORE, NOT_SHOWN = "says more than shown", "not shown"
VERDICTS = {
    TOO_FEW: f"fewer than {FEWEST_SITE_YEARS} site-years or {FEWEST_SEASONS} seasons stand behind it, or no average can be estimated",
    CONTRADICTED: "the stated gain lies above the upper limit of the interval",
    BORNE_OUT: "the lower limit is above zero, and the stated gain is no more than the average plus the last printed decimal",
    SAYS_MORE: "the lower limit is above zero, but the stated gain is higher than that",
    NOT_SHOWN: "the interval reaches zero, so the average difference could be zero",
}
# With one of these a sentence must not be printed as it stands.
BLOCKING = (CONTRADICTED, SAYS_MORE)
COLUMNS = (
    "position", "sentence", "printed_in", "comparison_id", "target", "only_in", "stated_kg_ha", "stated_gain", "stated_unit", "verdict",
    "estimate_id", "estimate", "conf_low", "conf_high", "n_site_years", "n_seasons",
    "half_width_wanted", "more_site_years", "more_seasons", "settling",
)  # fmt: skip
A_CLASS = "It takes site-years of this class in more seasons; their weather cannot be planned."
NO_TRIALS = "More trials are not expected to help: the sentence needs another number."


@dataclass(frozen=True)
class Evidence:
    """What claims are held against: pooled and site-year gains and variance components (kg/ha), and the last
    printed decimal of each crop's reports in kg/ha by comparison_id."""

    pooled_gains: pd.DataFrame
    site_year_gains: pd.DataFrame
    variance_components: pd.DataFrame
    rounding: dict[str, float]


def judge(claims: Iterable[Claim], evidence: Evidence) -> pd.DataFrame:
    """One row per claim with its verdict, what it rests on and what would settle it; columns COLUMNS."""
    return frame_of([_row(position, claim, evidence) for position, claim in enumerate(claims, start=1)], COLUMNS)


def verdict(stated: float, found: dict, *, rounding: float) -> str:
    """The verdict on a stated gain.

    found: estimate, conf_low, conf_high (the unit of stated), n_site_years, n_seasons. rounding: one unit of the
    last decimal that reports print; the printed average, not the writer's choice of decimals, decides.
    """
    if found["n_site_years"] < FEWEST_SITE_YEARS or found["n_seasons"] < FEWEST_SEASONS or pd.isna(found["conf_low"]):
        return TOO_FEW
    if stated > found["conf_high"]:
        return CONTRADICTED
    if not found["conf_low"] > 0:
        return NOT_SHOWN
    return BORNE_OUT if stated <= found["estimate"] + rounding else SAYS_MORE


def _row(position: int, claim: Claim, evidence: Evidence) -> dict:
    found = _headline(claim, evidence.pooled_gains)
    said = verdict(claim.gain_kg_ha, found, rounding=evidence.rounding[claim.comparison])
    stated = {
        "position": position, "sentence": claim.sentence, "printed_in": claim.where, "comparison_id": claim.comparison,
        "target": claim.target, "only_in": claim.only_in, "stated_kg_ha": claim.gain_kg_ha, "stated_gain": claim.gain,
        "stated_unit": claim.unit, "verdict": said,
    }  # fmt: skip
    return stated | found | _settling(claim, said, found, evidence)


def _headline(claim: Claim, pooled: pd.DataFrame) -> dict:
    """The leading row of the comparison, target and class; counts of zero where the class holds no site-year."""
    is_class = pooled["moderator"].ne("all") & pooled["level"].eq(claim.only_in) if claim.only_in else pooled["moderator"].eq("all")
    leads = pooled["is_headline"].eq(True) & is_class
    found = pooled[leads & (pooled["comparison_id"] == claim.comparison) & (pooled["target"] == claim.target)]
    columns = ["estimate_id", "estimate", "conf_low", "conf_high", "n_site_years", "n_seasons"]
    if found.empty:
        return dict.fromkeys(columns) | {"n_site_years": 0, "n_seasons": 0}
    return found.iloc[0][columns].to_dict()


def _settling(claim: Claim, said: str, found: dict, evidence: Evidence) -> dict:
    """How many more site-years, in how many seasons, would be expected to settle the claim one way or the other."""
    if said == BORNE_OUT:
        return {"settling": ""}
    if said == CONTRADICTED:
        return {"settling": NO_TRIALS}
    if claim.only_in:
        return {"settling": A_CLASS}
    # Precise enough to tell the stated gain from zero, or from the average found.
    wanted = claim.gain_kg_ha - found["estimate"] if said == SAYS_MORE else claim.gain_kg_ha
    used = evidence.site_year_gains
    used = used[(used["comparison_id"] == claim.comparison) & used["is_pooled"].eq(True)]
    needed = site_years_needed(claim.comparison, layout_of(used), evidence.variance_components, half_width=wanted)
    needed = needed[needed["target"] == claim.target]
    reached = needed[needed["more_site_years"].notna()]
    if reached.empty:
        return {"half_width_wanted": wanted, "settling": needed["reason"].iloc[-1]}
    least = reached.sort_values(["more_site_years", "more_seasons"]).iloc[0]
    return {
        "half_width_wanted": wanted, "more_site_years": least["more_site_years"],
        "more_seasons": least["more_seasons"], "settling": least["reason"],
    }  # fmt: skip
