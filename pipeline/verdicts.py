"""The rules that give a claim its verdict, and their words: fixed beforehand, printed on the methods page."""

from __future__ import annotations

from collections.abc import Mapping

import pandas as pd

from pipeline.contract.vocabulary import DOES_NOT_APPLY, NOT_SHOWN, SHOWN, TO_COME, TOO_FEW
from pipeline.estimates.engines import interval_rules

FEWEST_SITE_YEARS = interval_rules.FEWEST_FOR_THE_MODEL
FEWEST_SEASONS, FEWEST_SEASONS_TO_COME = 2, interval_rules.FEWEST_SEASONS_TO_COME
CONTRADICTED, BORNE_OUT, SAYS_MORE = "contradicted", "borne out", "says more than shown"
FEW = (
    f"fewer than {FEWEST_SITE_YEARS} site-years or {FEWEST_SEASONS} seasons ({FEWEST_SEASONS_TO_COME} where it speaks"
    " of future seasons) are behind it, or no average can be estimated"
)
VERDICTS = {
    TOO_FEW: (
        f"{FEW}; of money also where its interval has {interval_rules.TOO_FEW_DF_FOR_MONEY} degrees of freedom or"
        " fewer, and of a percentage where no yield of the comparator is known"
    ),
    CONTRADICTED: "the stated gain is above the upper limit of the interval (a stated loss: below the lower limit)",
    BORNE_OUT: (
        "the interval is on the stated side of zero, and what is stated is no more than the average plus the last"
        " printed decimal"
    ),
    SAYS_MORE: "the interval is on the stated side of zero, but more is stated than that",
    NOT_SHOWN: "the interval reaches zero, so the average difference could be zero",
}
AS_GOOD_VERDICTS = {
    TOO_FEW: FEW,
    CONTRADICTED: (
        "even the upper limit of the interval loses more than the margin: more than may still be called as good"
    ),
    BORNE_OUT: (
        "even the lower limit of the interval loses less than the margin, and the trials could have shown a loss"
    ),
    NOT_SHOWN: (
        "the lower limit of the interval exceeds the allowed loss, the trials are not shown to be able to show a loss,"
        " or the margin was fixed after the first harvest"
    ),
}
SLOPE_VERDICTS = {
    TOO_FEW: "too few site-years, seasons or different values are behind it for a slope, or their weather is not known",
    CONTRADICTED: "a slope is shown, and it points the other way",
    BORNE_OUT: "a slope is shown that points this way: it passes every check that the methods page lists",
    NOT_SHOWN: (
        "no slope is shown: it fails a check that the methods page lists, or it was not declared before the first"
        " harvest"
    ),
}
# With one of these a sentence must not be printed as it stands.
BLOCKING = (CONTRADICTED, SAYS_MORE)


def verdict(stated: float, found: Mapping, *, rounding: float) -> str:
    """The verdict on a stated gain, or a loss where it is below zero.

    found: target, estimate, conf_low, conf_high (the unit of stated), n_site_years, n_seasons. rounding: one unit of
    the last decimal that reports print; the printed average, not the writer's choice of decimals, decides. stated: NaN
    where it is a share of what is not known.
    """
    if is_few(found) or pd.isna(found["conf_low"]) or pd.isna(stated):
        return TOO_FEW
    side = -1 if stated < 0 else 1
    low, high = sorted((side * found["conf_low"], side * found["conf_high"]))
    if side * stated > high:
        return CONTRADICTED
    if not low > 0:
        return NOT_SHOWN
    return BORNE_OUT if side * stated <= side * found["estimate"] + rounding else SAYS_MORE


def as_good_verdict(found: Mapping) -> str:
    """The verdict on 'as good': found has target, conf_low, conf_high, margin_limit, margin_is_late, assay_sensitivity,
    n_site_years, n_seasons.

    A margin fixed late shows nothing, unless the test needs none: it found the treatment better (is_better).
    """
    if is_few(found) or pd.isna(found["conf_low"]):
        return TOO_FEW
    if found["conf_high"] < found["margin_limit"]:
        return CONTRADICTED
    is_able = found["assay_sensitivity"] in (SHOWN, DOES_NOT_APPLY)
    if found["margin_is_late"] and not found["is_better"]:
        return NOT_SHOWN
    return BORNE_OUT if is_able and found["conf_low"] > found["margin_limit"] else NOT_SHOWN


def slope_verdict(side: int, found: Mapping) -> str:
    """The verdict on a gain that is said to be larger (side 1) or smaller (-1) with more of a covariate: found has
    estimate, is_shown.
    """
    if pd.isna(found["estimate"]):
        return TOO_FEW
    if not found["is_shown"]:
        return NOT_SHOWN
    return BORNE_OUT if side * found["estimate"] > 0 else CONTRADICTED


def is_few(found: Mapping) -> bool:
    """Whether too few site-years or seasons stand behind a figure to claim anything: found has target, n_site_years,
    n_seasons.
    """
    fewest = FEWEST_SEASONS_TO_COME if found["target"] == TO_COME else FEWEST_SEASONS
    return bool(found["n_site_years"] < FEWEST_SITE_YEARS or found["n_seasons"] < fewest)
