"""The claims of program.yml: sentences somebody printed or wants to print, to be held against the evidence."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from functools import partial

from pipeline.contract.units import KG_HA_PER_LB_AC
from pipeline.contract.vocabulary import (
    AS_GOOD,
    COVARIATES,
    GAIN,
    LESS_WITH,
    MORE_WITH,
    RAINFALL_CLASSES,
    TESTED,
    TO_COME,
)
from pipeline.contract.words import reference_column, reference_words
from pipeline.settings.comparisons import Comparison
from pipeline.settings.crops import Crop
from pipeline.settings.file import Section, filled, number, word_of
from pipeline.settings.keys import Key, Reader, stated
from pipeline.settings.mistakes import all_of
from pipeline.settings.money import PriceSet

YIELD_UNITS, PERCENT = ("bu/ac", "lb/ac", "kg/ha"), "%"
MOST_PERCENT = 1000
ON_WEATHER = (MORE_WITH, LESS_WITH)
NET_CHANGE = "net change"  # what a claim in money states, beside GAIN and AS_GOOD
GROUPS = ("R", "W", "P")
CLASSES = (*GROUPS, *RAINFALL_CLASSES, *(f"{group} x {rain}" for group in GROUPS for rain in RAINFALL_CLASSES))


@dataclass(frozen=True, kw_only=True)
class Claim:
    """A sentence on one comparison and target, and what it states.

    gain: as written in `unit`, below zero for a loss; of a claim that something is as good, or on the weather, there is
    none. kg_ha_per_unit: None for % of the comparator's yield and for money. only_in: the drainage group, rainfall
    class or cell it speaks of; empty for all site-years. where: where it is printed.
    """

    sentence: str = stated(
        Key("the sentence as it is printed", filled, like='"The blend out-yields urea by 5 bushels an acre."')
    )
    where: str = stated(Key("where it is printed", filled, like="draft of the handout, line 3"))
    comparison: str = stated(Key("the id of the comparison it speaks of", like="corn-blend-vs-urea"))
    states: str = stated(
        Key(
            f"`{GAIN}` (default); or `{AS_GOOD}`, or that the gain is `{MORE_WITH}` or `{LESS_WITH}` of what"
            " `weather` names, which take neither gain nor unit",
            word_of(GAIN, AS_GOOD, MORE_WITH, LESS_WITH),
            GAIN,
        ),
        default=GAIN,
    )
    gain: float | None = stated(
        Key("what is stated; below zero for a loss; asked for where a gain is stated", like="5"), default=None
    )
    unit: str = stated(
        Key(
            f"`{'`, `'.join(YIELD_UNITS)}`, `{PERCENT}` of the comparator's yield, or money as in `$/ac` (a net"
            " change)",
            like="bu/ac",
        ),
        default="",
    )
    target: str = stated(
        Key(
            f"`{TESTED}` or `{TO_COME}`; default: that of its comparison",
            word_of(TESTED, TO_COME),
            default="",
        )
    )
    only_in: str = stated(
        Key(
            f"the class it speaks of: {', '.join(CLASSES[:6])}, or both as in {CLASSES[6]}; yield gains only",
            word_of(*CLASSES),
            default="",
        ),
        default="",
    )
    weather: str = stated(
        Key(
            f"what the gain is {MORE_WITH} or {LESS_WITH} of: {', '.join(COVARIATES)}",
            word_of(*COVARIATES),
            default="",
        ),
        default="",
    )
    kg_ha_per_unit: float | None = None


def read_claims(
    sections: Iterable[Section],
    comparisons: Iterable[Comparison],
    crops: Iterable[Crop],
    prices: PriceSet | None = None,
) -> tuple[Claim, ...]:
    """Reads and checks every claim; UserError names its line. A claim that names no target takes its comparison's.

    prices: the planning prices; without those of its crop nothing can be stated in money.
    """
    by_id = {comparison.id: comparison for comparison in comparisons}
    own_bushels = {crop.word: crop.bushel_lb for crop in crops}
    return tuple(all_of(partial(_claim, section, by_id, own_bushels, prices) for section in sections))


def _claim(section: Section, by_id: Mapping, own_bushels: Mapping, prices: PriceSet | None) -> Claim:
    asked = Reader(section, Claim)
    comparison = by_id[asked.take("comparison", word_of(*by_id))]
    asked.take("target", default=comparison.target)
    states = asked.take("states")
    if states in ON_WEATHER and not asked.take("weather"):
        raise section.error(f"a claim that the gain is {states} something names it: weather: {COVARIATES[0]}")
    if states in (AS_GOOD, *ON_WEATHER):
        if states == AS_GOOD and comparison.margin is None:
            raise section.error(
                f'"{comparison.id}" declares no noninferiority margin, so nothing can be as good within it'
            )
        asked.leave_out("gain", "unit")
        claim = Claim(**asked.values())
    else:
        worked_out = _stated_gain(asked, section, comparison, own_bushels, prices)
        claim = Claim(**asked.values() | worked_out)
    if claim.weather and claim.states not in ON_WEATHER:
        raise section.error(f"weather goes with states: {MORE_WITH}, or states: {LESS_WITH}")
    if claim.only_in and claim.states != GAIN:
        raise section.error(
            f"a claim on a class must state a yield gain; {claim.states} is worked out over all site-years only: leave"
            " out only_in"
        )
    return claim


def _stated_gain(
    asked: Reader, section: Section, comparison: Comparison, own_bushels: Mapping, prices: PriceSet | None
) -> dict:
    """Takes gain and unit; what follows from them, as fields of Claim."""
    money = f"{prices.currency}/ac" if prices else ""
    unit = asked.take("unit", word_of(*YIELD_UNITS, PERCENT, *([money] if money else [])))
    asked.take("gain", _percentage if unit == PERCENT else _not_zero)
    if unit == money and comparison.crop not in prices.crops:
        raise section.error(
            f'there are no prices for {comparison.crop}: add it under "prices", "crops", or state a gain in yield'
        )
    if unit in (PERCENT, money):
        return {"states": NET_CHANGE if unit == money else GAIN}
    factor = _kg_ha_per(unit, comparison.crop, own_bushels)
    if factor is None:
        raise section.error(f"{comparison.crop} has no bushel weight here: state the gain in lb/ac or kg/ha")
    return {"kg_ha_per_unit": factor}


def _not_zero(text: str) -> float:
    value = number(text)
    if value == 0:
        raise ValueError("a number other than zero, below zero for a loss")
    return value


def _percentage(text: str) -> float:
    value = _not_zero(text)
    if not -100 <= value <= MOST_PERCENT:
        raise ValueError(f"a percentage from -100 to {MOST_PERCENT}")
    return value


def _kg_ha_per(unit: str, crop: str, own_bushels: Mapping) -> float | None:
    """One unit in kg/ha; None for bushels of a crop that is not sold by the bushel."""
    if unit == "kg/ha":
        return 1.0
    if unit == "lb/ac":
        return KG_HA_PER_LB_AC
    bushel_lb = (
        reference_column("crops", "bushel_lb")[crop] if crop in reference_words("crops") else own_bushels.get(crop)
    )
    return float(bushel_lb) * KG_HA_PER_LB_AC if bushel_lb else None
