"""When the trials may say that the weather explains the gain: every rule of the slopes, as readers see it.

The rules and checks were fixed, and tried on simulated programs (tests/simulated/weather_slopes.py), before any program
was looked at.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from pipeline.contract.vocabulary import BETWEEN_SEASONS, TESTED, WITHIN_SEASONS

FEWEST_SITE_YEARS, FEWEST_SEASONS, FEWEST_VALUES = 10, 3, 6
HARDLY = 0.05  # a part with less of the covariate's sum of squares than this says nothing by itself
ALPHA = 0.05
BOTH_PARTS, NEITHER_PART = "both", "neither"

REASONS = {
    "site-years": "Too few: a slope needs 10 site-years with a value for {covariate}, and there are {n}.",
    "seasons": "Too few seasons: a slope needs 3 seasons with values for {covariate}, and there are {n}.",
    "values": "Too few different values: a slope needs 6 different values of {covariate}, and there are {n}.",
    "not fitted": "No slope can be fitted to these site-years.",
    WITHIN_SEASONS: (
        "Values for {covariate} were nearly the same at all places in a season, so there is no slope within seasons."
    ),
    BETWEEN_SEASONS: "Season means of {covariate} were nearly the same, so there is no slope between seasons.",
    "outside": "{percent} of reference years lie outside the values of {covariate} that the trials met.",
    "no years": "The weather history of these places has no values for {covariate}.",
}

# How the slope stands; the sentence depends on where the differences lie.
RESTS_ON = {
    BETWEEN_SEASONS: (
        "The covariate was nearly the same at all places in a season, so the slope rests on differences between"
        " seasons: its standard error is at least that of a line through the season means, with df of seasons less 2."
    ),
    WITHIN_SEASONS: "The covariate differs mostly within seasons: df are at most site-years less 2.",
    BOTH_PARTS: "The covariate differs within and between seasons: df are at most site-years less 2.",
}
ADJUSTMENTS = {
    "seasons few": (
        "The wider of two intervals is given: the model's, or that of the slopes within and between seasons put"
        " together, where seasons are few and the part between them has df of seasons less 2."
    ),
    "places few": (
        "The covariate was nearly the same in all seasons at a place, so the slope rests on differences between places:"
        " its df are at most places less 2."
    ),
    "two stages": (
        "For the seasons tested the wider of two intervals is given: the model's, or that of the two-stage line."
    ),
    "model missing": "The mixed model cannot be fitted to these site-years, so the two-stage line leads.",
    "held": "{percent} of reference years lie outside the values met; they count as the nearest value met.",
}


@dataclass(frozen=True)
class Shown:
    """What the checks look at. p_holm: adjusted p value of this target; p_holm_to_come: that with seasons random.

    seasons_out, site_years_out: the slope without each of them (NaN where none can be told). within, between: (slope,
    p).
    """

    target: str
    estimate: float
    p_holm: float
    p_holm_to_come: float
    seasons_out: np.ndarray
    site_years_out: np.ndarray
    within: tuple[float, float]
    between: tuple[float, float]


def _keeps_its_sign(shown: Shown, left_out: np.ndarray) -> bool:
    return bool(np.all(np.sign(left_out) == np.sign(shown.estimate)))


def _parts_do_not_disagree(shown: Shown) -> bool:
    both = shown.within[1] <= ALPHA and shown.between[1] <= ALPHA
    return not both or np.sign(shown.within[0]) == np.sign(shown.between[0])


@dataclass(frozen=True)
class Check:
    """One condition of `is_shown`, as a reader is told it."""

    sentence: str
    holds: Callable[[Shown], bool]


# A slope is shown where every check holds. Exploratory covariates are never shown.
CHECKS = (
    Check("The p value, adjusted for the number of declared covariates, is 0.05 or less.", lambda s: s.p_holm <= ALPHA),
    Check(
        "The slope is also shown with seasons as a sample of future seasons: seasons that differ for other reasons can"
        " look like a slope.",
        lambda s: s.target != TESTED or s.p_holm_to_come <= ALPHA,
    ),
    Check("The slope keeps its sign whichever season is left out.", lambda s: _keeps_its_sign(s, s.seasons_out)),
    Check("The slope keeps its sign whichever site-year is left out.", lambda s: _keeps_its_sign(s, s.site_years_out)),
    Check("The slopes within and between seasons do not point opposite ways.", _parts_do_not_disagree),
)


def too_few(covariate: str, n_site_years: int, n_seasons: int, n_distinct: int) -> str:
    """Why there is no slope, '' where there may be one."""
    counts = (
        ("site-years", n_site_years, FEWEST_SITE_YEARS),
        ("seasons", n_seasons, FEWEST_SEASONS),
        ("values", n_distinct, FEWEST_VALUES),
    )
    return next((REASONS[name].format(covariate=covariate, n=n) for name, n, least in counts if n < least), "")


def rests_on(within_share: float) -> str:
    """Which differences between site-years the slope rests on, by the share of its sum of squares within seasons."""
    if within_share < HARDLY:
        return BETWEEN_SEASONS
    return WITHIN_SEASONS if within_share > 1 - HARDLY else BOTH_PARTS


def carried_by(estimate: float, within: tuple[float, float], between: tuple[float, float]) -> str:
    """The part or parts (slope, p value) that differ from zero by themselves, in the direction of the whole."""
    parts = {WITHIN_SEASONS: within, BETWEEN_SEASONS: between}
    found = [name for name, (slope, p) in parts.items() if p <= ALPHA and np.sign(slope) == np.sign(estimate)]
    return {0: NEITHER_PART, 1: found[0] if found else "", 2: BOTH_PARTS}[len(found)]


def failed(shown: Shown) -> list[str]:
    """The sentences of the checks that do not hold."""
    return [check.sentence for check in CHECKS if not check.holds(shown)]
