"""Every key of program.yml with what it holds, for the data dictionary; a test holds it against what the reader asks for."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from pipeline.settings.claims import AS_GOOD, CLASSES, GAIN, PERCENT, YIELD_UNITS
from pipeline.settings.comparisons import ARM_COLUMNS, DIFFERABLE, ROLES, SAME_RATE, SEASONS_TESTED, SEASONS_TO_COME
from pipeline.settings.money import MARGIN_UNITS
from pipeline.settings.program import N_RATE, PREVIOUS_CROP, TILES

ALWAYS, OPTIONAL = "always", "may be left out"
A_DAY = "year-month-day"


@dataclass(frozen=True)
class Key:
    """place: the keys above it, such as 'rainfall: reference'. name: in <> where it is a word of the user's own."""

    place: str
    name: str
    holds: str
    filled: str = OPTIONAL


def keys() -> list[Key]:
    """Every key, in the order of the page."""
    return [Key(place, *entry) for place, entries in _ENTRIES.items() for entry in entries]


def _or(words) -> str:
    *first, last = words
    return f"{', '.join(first)} or {last}" if first else last


def _arm(side: str) -> Iterator[tuple]:
    yield "codes", f"treatment codes of the {side}, where no column tells it apart"
    yield "role", _or(ROLES)
    yield "factor_...", "the word of a free factor, under its heading in the treatments table"
    for name in ARM_COLUMNS:
        yield name, "one or several values of this column of the treatments table; [a, b] takes either"


_ENTRIES: dict[str, list[tuple]] = {
    "the file": [
        ("program", "the program's name, as it stands on the pages", ALWAYS),
        ("display_units", "us (else taken) or metric"),
        ("fewest_blocks", "how many blocks must hold both arms for a trial to be used; 2 where nothing is said"),
        ("rainfall", "by which rule site-years are classed dry, normal or wet", ALWAYS),
        ("comparisons", "the questions: a list, each entry beginning with -", ALWAYS),
        ("claims", "sentences to be held against the evidence: a list"),
        ("prices", "one dated set of planning prices; without it nothing is said of money"),
        ("nearly_as_well_within", "how much less per acre than the best N rate still counts as nearly as well; without it no such band is drawn"),
        ("crops", "crops beyond corn, cotton and soybean"),
        ("also_divide_by", "further ways of dividing the site-years, declared beforehand"),
    ],
    "rainfall": [
        ("reference", "the fixed years that rain is held against", ALWAYS),
        ("windows", "by crop, the days of the year over which rain is summed", ALWAYS),
        ("dry_at_or_below", "standardized precipitation index; -1.0 where nothing is said"),
        ("wet_at_or_above", "the same; 1.0 where nothing is said"),
        ("most_missing_days", "days of a window that may lack rain; 3 where nothing is said"),
        ("fewest_reference_years", "reference years that a place must have; 20 where nothing is said"),
        ("fixed_on", f"the day on which this was fixed, {A_DAY}", ALWAYS),
    ],
    "rainfall: reference": [("first_year", "year", ALWAYS), ("last_year", "year", ALWAYS)],
    "rainfall: windows": [("<crop>", "a window for each crop that is compared")],
    "rainfall: windows: <crop>": [("first_day", "month-day, like 05-01", ALWAYS), ("last_day", "month-day, in the same year", ALWAYS)],
    "comparisons": [
        ("id", "a short name of your own; claims name it exactly so", ALWAYS),
        ("says", "both sides in words: first, against second; it stands on the pages", ALWAYS),
        ("crop", "crop", ALWAYS),
        ("question", f"{GAIN} (else taken): how much more; or {AS_GOOD}: as good within the margin"),
        ("target", f"{SEASONS_TESTED} or {SEASONS_TO_COME}: the average that answers it", ALWAYS),
        ("treatment", "the first arm: all its conditions hold", ALWAYS),
        ("comparator", "the second arm", ALWAYS),
        ("match", f"{SAME_RATE}: plots are compared at the named rates; or none", ALWAYS),
        ("rates_lb_ac", "the named N rates with their weights in the average"),
        ("rates_kg_ha", "the same in kg/ha"),
        ("may_differ", f"what may differ between the arms: {', '.join(DIFFERABLE)} or a factor_..."),
        ("noninferiority", "the margin within which the treatment counts as good"),
        ("declared", f"the day on which all this was fixed, {A_DAY}: after the first harvest it is exploratory", ALWAYS),
    ],
    "comparisons: treatment": list(_arm("first arm")),
    "comparisons: comparator": list(_arm("second arm")),
    "comparisons: rates_lb_ac": [("<rate>", "its weight, above zero")],
    "comparisons: noninferiority": [
        ("margin", "the largest loss still called as good, above zero", ALWAYS),
        ("unit", f"{_or(MARGIN_UNITS)} (0.05 is five in a hundred)", ALWAYS),
        ("basis", "why so large, in words", ALWAYS),
        ("fixed_on", f"{A_DAY}: fixed after the first harvest, it shows nothing as good", ALWAYS),
    ],
    "claims": [
        ("sentence", "the sentence as it is printed", ALWAYS),
        ("where", "where it is printed", ALWAYS),
        ("comparison", "the id of the comparison it speaks of", ALWAYS),
        ("states", f"{GAIN} (else taken) or {AS_GOOD}, which takes neither gain nor unit"),
        ("gain", "what is stated; below zero for a loss; asked for where a gain is stated", ALWAYS),
        ("unit", f"{', '.join(YIELD_UNITS)}, {PERCENT} of the comparator's yield, or money as in $/ac (a net change)", ALWAYS),
        ("target", f"{SEASONS_TESTED} or {SEASONS_TO_COME}; that of its comparison where nothing is said"),
        ("only_in", f"the class it speaks of: {', '.join(CLASSES[:6])}, or both as in {CLASSES[6]}; yield gains only"),
    ],
    "prices": [
        ("fixed_on", f"the day of the prices, {A_DAY}", ALWAYS),
        ("currency", "its sign; $ where nothing is said"),
        ("nitrogen_per_lb_n", "prices per lb N by source"),
        ("nitrogen_per_ton", "or prices per ton (2,000 lb) of product by source"),
        ("coated_premium_per_lb_n", "what coating adds per lb N that is coated; not beside a price of coated urea"),
        ("pass_cost_per_ac", "what one pass over the field costs per acre"),
        ("crops", "by crop, what a unit of yield is worth", ALWAYS),
    ],
    "prices: nitrogen_per_lb_n": [("<source>", "a price")],
    "prices: nitrogen_per_ton": [("<source>", "a price with its N content")],
    "prices: nitrogen_per_ton: <source>": [("price_per_ton", "a price", ALWAYS), ("n_pct", "percent N by the guaranteed analysis", ALWAYS)],
    "prices: crops": [("<crop>", "its prices; money is said only of crops that stand here")],
    "prices: crops: <crop>": [
        ("price_per_bu", "of a crop reported in bu/ac", ALWAYS),
        ("price_per_lb", "of a crop reported in lb/ac", ALWAYS),
        ("hauling_per_bu", "cost of hauling"),
        ("hauling_per_lb", "cost of hauling"),
        ("drying_per_point_bu", "cost of drying a bushel by one point of moisture"),
        ("ginning_net_per_lb", "ginning less the value of seed, per lb lint"),
    ],
    "nearly_as_well_within": [
        ("value", "money per acre, above zero", ALWAYS),
        ("unit", "the currency per acre, as in $/ac", ALWAYS),
        ("basis", "why so much, in words", ALWAYS),
        ("fixed_on", f"{A_DAY}: fixed after the first harvest, it is exploratory", ALWAYS),
    ],
    "crops": [("<crop>", "a crop that is not known here")],
    "crops: <crop>": [
        ("product", "grain (else taken) or lint"),
        ("bushel_lb", "pounds in a bushel; of grain", ALWAYS),
        ("standard_moisture_pct", "the moisture that yields are brought to, in percent; 0 for dry matter; of grain", ALWAYS),
        ("display_unit", "bu/ac or lb/ac"),
        ("display_digits", "decimals that pages print; 1 where nothing is said"),
        ("typical", "[low, high] in the display unit; outside it a yield is noted", ALWAYS),
        ("hard", "[low, high]; outside it a yield is refused", ALWAYS),
    ],
    "also_divide_by": [
        ("classes", f"a list of {_or((TILES, PREVIOUS_CROP, N_RATE))}", ALWAYS),
        ("declared", f"the day on which it was declared, {A_DAY}", ALWAYS),
    ],
}  # fmt: skip
