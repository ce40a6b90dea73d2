"""Which interval is printed, by how many site-years and seasons there are.

The rules were fixed on simulated programs with known truth before any program was
looked at; sentences here are the ones readers see.
"""

from __future__ import annotations

from dataclasses import dataclass

from pipeline.contract.vocabulary import TESTED, TO_COME

CONF_LEVEL = 0.95  # of every interval
MIXED, TWO_STAGE, PLAIN = "mixed model", "two-stage", "plain mean"
CLUSTERED = "two-stage, seasons as clusters"  # beside the others for seasons to come; never leads
METHODS = (MIXED, TWO_STAGE, PLAIN)

MANY = 10**9
FEWEST_FOR_A_MEAN = 3
FEWEST_FOR_THE_MODEL = 6
FEWEST_SEASONS_TO_COME = 3
FEWEST_PLACES = 3  # below, places are no sample: what is said holds for these places
FEW_PLACES = 4  # up to here, a place variance of zero says little
FEWEST_FOR_A_SEPARATE_MEAN = 4
DISAGREEMENT_IN_STD_ERRORS = 0.5
NOTABLE_SD_RATIO = 2.0
# With so few degrees of freedom Student's t has no variance: an interval from it says nothing about money.
TOO_FEW_DF_FOR_MONEY = 2


@dataclass(frozen=True)
class Rule:
    """For this many site-years and seasons (both ends included): which method leads, and why."""

    target: str
    site_years: tuple[int, int]
    seasons: tuple[int, int]
    headline: str
    has_estimate: bool
    sentence: str


RULES = (
    Rule(TESTED, (0, 0), (0, MANY), PLAIN, False, "No site-year has this comparison."),
    Rule(TESTED, (1, 2), (1, MANY), PLAIN, False,
         "Too few for an average: fewer than 3 site-years, so the trials are only listed."),
    Rule(TESTED, (3, 3), (1, MANY), PLAIN, True, "Only 3 site-years: plain mean with a t interval, very wide."),
    Rule(TESTED, (4, 5), (1, MANY), PLAIN, True,
         "With 4 or 5 site-years the plain mean leads; its t interval is exact where no place has two of them."),
    Rule(TESTED, (6, 9), (1, MANY), MIXED, True,
         ("With 6 to 9 site-years the mixed model leads, df no more than site-years less 1; a range for one field is"
          " rough from so few.")),
    Rule(TESTED, (10, MANY), (1, MANY), MIXED, True,
         "With 10 or more site-years the mixed model leads, df no more than site-years less 1."),
    Rule(TO_COME, (0, 0), (0, MANY), PLAIN, False, "No site-year has this comparison."),
    Rule(TO_COME, (1, 2), (1, MANY), PLAIN, False,
         "Too few for an average: fewer than 3 site-years, so the trials are only listed."),
    Rule(TO_COME, (3, MANY), (1, 2), PLAIN, False,
         ("Not estimable: 1 or 2 seasons cannot show how much seasons differ; the average holds for the seasons tested"
          " only.")),
    Rule(TO_COME, (3, 5), (3, MANY), PLAIN, True,
         "With fewer than 6 site-years the mean of the season means leads, t on seasons less 1; very wide."),
    Rule(TO_COME, (6, MANY), (3, 4), MIXED, True,
         "Only 3 or 4 seasons: mixed model with season random; the interval is wide and rests on few seasons."),
    Rule(TO_COME, (6, MANY), (5, MANY), MIXED, True,
         "With 5 or more seasons the mixed model with season random leads."),
)  # fmt: skip


@dataclass(frozen=True)
class PlaceRule:
    """For this many places (both ends included): whether place is random, and the sentence that readers see."""

    places: tuple[int, int]
    sentence: str


PLACE_RULES = (
    PlaceRule((1, 1), "All site-years are at one place: the figure holds for this place."),
    PlaceRule(
        (2, 2),
        "Two places are too few to show how much places differ: place is not random, and the figure holds for these 2"
        " places.",
    ),
    PlaceRule((3, 4), "Only 3 or 4 places: place is random, and the interval rests on few places."),
    PlaceRule((5, MANY), ""),
)

# What is added to the sentence when the fit itself calls for it.
ADJUSTMENTS = {
    "singular": (
        "The model finds no spread between site-years beyond plot error, which is often chance: "
        "the interval uses t with site-years less 1, and a prediction interval is not estimable from it."
    ),
    "season zero": (
        "The season variance is estimated as zero, so the wider of the model's interval and that of the season means is"
        " given."
    ),
    "place zero": (
        "The place variance is estimated as zero, which from so few places says little: the wider of the model's"
        " interval and that of the plain mean with places as clusters is given."
    ),
    "plots zero": (
        "Trials are on the same plots in several years, and the model finds no plot error that lasts: the wider of its"
        " interval and that of the plain mean with the shared error is given."
    ),
    "plots in the plain mean": (
        "Trials are on the same plots in several years, so the plot error that lasts is added to the spread of the"
        " gains: the interval can be wider than that spread alone gives."
    ),
    "season zero, long run": (
        "The season variance is estimated as zero, so at long-run weather the wider of the model's interval and that of"
        " the season means is given, each widened by the root of (seasons less 1) / (seasons left once each rainfall"
        " class has its mean). The factor was found by simulation, not derived."
    ),
    "season zero, classes": (
        "The season variance is estimated as zero, so class means and their test have no more df than differences"
        " between seasons are left once each class has its mean."
    ),
    "no narrower": (
        "The interval for the seasons tested is the wider one; other seasons can only add doubt, so its width is given"
        " here too."
    ),
    "disagreement": (
        "The mixed model and the mean of site-years that counts each alike differ by more than half a standard error,"
        " so the plain mean leads; large and small trials may show different gains."
    ),
    "not fitted": "The mixed model cannot be fitted to these site-years.",
}

# One class of a breakdown.
CLASS_RULES = {
    "count": "1 or 2 site-years in this class: only counted.",
    "grey": "Fewer than 6 site-years, or a single season: a figure in gray, nothing is claimed from it.",
    "sentence": "",
    "none": "Too few site-years for a mean of this class.",
    "to come": "Not estimable for future seasons: too few site-years or seasons.",
    MIXED: "Class mean from one model of all classes with a common spread between site-years.",
    PLAIN: "Plain mean of this class alone, t on its own site-years or seasons less 1.",
    "separate": "The spread differs more than twofold between classes, so the plain mean of this class alone leads.",
}


def rule_for(target: str, n_site_years: int, n_seasons: int) -> Rule:
    """The one rule that holds for this target and these counts."""
    return next(
        rule
        for rule in RULES
        if rule.target == target
        and rule.site_years[0] <= n_site_years <= rule.site_years[1]
        and rule.seasons[0] <= n_seasons <= rule.seasons[1]
    )


def places_are_few(n_places: int) -> bool:
    """Whether place is random but rests on few places."""
    return FEWEST_PLACES <= n_places <= FEW_PLACES


def place_sentence(n_places: int) -> str:
    """What few places mean for a figure; '' from 5 places on."""
    return next((rule.sentence for rule in PLACE_RULES if rule.places[0] <= n_places <= rule.places[1]), "")


def shown_as(n_site_years: int, n_seasons: int) -> str:
    """How much a reader is shown: a bare count, a figure in grey, or a sentence."""
    if n_site_years < FEWEST_FOR_A_MEAN:
        return "count"
    if n_site_years < FEWEST_FOR_THE_MODEL or n_seasons < 2:
        return "grey"
    return "sentence"


def disagrees(model_estimate: float, model_std_error: float, plain_estimate: float) -> bool:
    """Whether model and plain mean lie further apart than half a standard error of the model."""
    return abs(model_estimate - plain_estimate) > DISAGREEMENT_IN_STD_ERRORS * model_std_error
