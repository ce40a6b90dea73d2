"""The money sections of program.yml: one dated set of planning prices, and margins of comparisons."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date

from pipeline.contract.words import reference_words
from pipeline.errors import one_of
from pipeline.settings.by_crop import read_by_crop
from pipeline.settings.file import Section, above_zero, day, filled, number, word_of
from pipeline.settings.keys import A_DAY, Key, Reader, entries, section_of, stated

LB_PER_TON = 2000
UNKNOWN = ""  # the unit of a crop that is not described well
PER_LB_N, PER_TON = "nitrogen_per_lb_n", "nitrogen_per_ton"
MARGIN_UNITS = ("bu/ac", "lb/ac", "kg/ha", "ratio")
NO_BAND = "without it no rate can count as nearly as well as the best"
NO_VERDICT = "without it the report cannot say whether the treatment is as good"
NO_MONEY = "without it nothing is said of money; a report without money needs no prices at all"
NO_N_CONTENT = "a price per ton says nothing of N without it"


def _zero_or_more(text: str) -> float:
    value = number(text)
    if value < 0:
        raise ValueError("a number, zero or more")
    return value


def _percent(text: str) -> float:
    value = number(text)
    if not 1 <= value <= 100:
        raise ValueError("a percent from 1 to 100, like 46 (not 0.46)")
    return value


@dataclass(frozen=True)
class CropPrice:
    """Price and per-unit harvest costs of one crop, per bushel (unit bu/ac) or per lb (unit lb/ac)."""

    unit: str
    price: float = stated(
        Key("of a crop reported in bu/ac", above_zero, name="price_per_bu", like="4.50"),
        Key("of a crop reported in lb/ac", above_zero, name="price_per_lb", like="0.72"),
    )
    hauling: float = stated(
        Key("cost of hauling", _zero_or_more, 0.0, name="hauling_per_bu"),
        Key("cost of hauling", _zero_or_more, 0.0, name="hauling_per_lb"),
        default=0.0,
    )
    drying_per_point: float = stated(
        Key("cost of drying a bushel by one point of moisture", _zero_or_more, 0.0, name="drying_per_point_bu"),
        default=0.0,
    )
    ginning_net: float = stated(
        Key("ginning less the value of seed, per lb lint", number, 0.0, name="ginning_net_per_lb"), default=0.0
    )


@dataclass(frozen=True)
class _PricePerTon:
    """What a ton (2,000 lb) of a nitrogen source costs, and how much N is in it."""

    price_per_ton: float = stated(Key("a price", _zero_or_more, like="450"))
    n_pct: float = stated(
        Key("percent N by the guaranteed analysis", _percent, like="46 (the N content by its guaranteed analysis)")
    )


@dataclass(frozen=True)
class PriceSet:
    """All planning prices, fixed on one date. nitrogen: source word -> price per lb N; n_pct: -> % N, where it was
    priced per ton.
    """

    fixed_on: date = stated(
        Key(f"the day of the prices, {A_DAY}", day, like="2094-11-01 (the day these prices were fixed)")
    )
    currency: str = stated(Key("its sign; default $", filled, "$"))
    nitrogen: dict[str, float] = stated(
        section_of("prices per lb N by source", entries("source", "a price"), name=PER_LB_N, default=None),
        section_of(
            "or prices per ton (2,000 lb) of product by source",
            entries("source", "a price with its N content", _PricePerTon),
            name=PER_TON,
            default=None,
        ),
    )
    coated_premium: float | None = stated(
        Key(
            "what coating adds per lb N that is coated; not beside a price of coated urea",
            _zero_or_more,
            default=None,
            name="coated_premium_per_lb_n",
        )
    )
    pass_cost: float | None = stated(
        Key("what one pass over the field costs per acre", _zero_or_more, default=None, name="pass_cost_per_ac")
    )
    crops: dict[str, CropPrice] = stated(
        section_of(
            "by crop, what a unit of yield is worth",
            entries("crop", "its prices; money is said only of crops that stand here", CropPrice),
            like="{corn: {price_per_bu: 4.50}}",
        ),
        default_factory=dict,
    )
    n_pct: dict[str, float] = field(default_factory=dict)


@dataclass(frozen=True)
class DeclaredMargin:
    """The largest loss still called as good, as it was declared: size in a unit or as a ratio."""

    size: float = stated(Key("the largest loss still called as good, above zero", above_zero, name="margin", like="3"))
    unit: str = stated(
        Key(
            f"`{'`, `'.join(MARGIN_UNITS[:-1])}` or `{MARGIN_UNITS[-1]}` (0.05 is five in a hundred)",
            word_of(*MARGIN_UNITS),
            like="bu/ac",
        )
    )
    basis: str = stated(Key("why so large, in words", filled, like='"half an LSD of these trials"'))
    fixed_on: date = stated(
        Key(f"{A_DAY}: fixed after the first harvest, it shows nothing as good", day, like="2090-11-15")
    )


@dataclass(frozen=True)
class DeclaredBand:
    """How much less per acre than the best N rate still counts as nearly as well, as it was declared; unit like
    '$/ac'.
    """

    value: float = stated(Key("money per acre, above zero", above_zero, like="5"))
    unit: str = stated(Key("the currency per acre, as in $/ac", like="$/ac"))
    basis: str = stated(Key("why so much, in words", filled, like='"less than a pass costs"'))
    fixed_on: date = stated(Key(f"{A_DAY}: fixed after the first harvest, it is exploratory", day, like="2090-11-15"))


def read_band(section: Section, prices: PriceSet | None) -> DeclaredBand:
    """The nearly_as_well_within section. UserError where there are no prices to work it out with."""
    if prices is None:
        raise section.error(
            f'"{section.name}" is money per acre, and there are no prices: add "prices", or leave it out'
        )
    unit = f"{prices.currency}/ac"
    asked = Reader(section, DeclaredBand, without=NO_BAND)
    asked.take("value")
    asked.take("unit", word_of(unit), like=unit)
    return DeclaredBand(**asked.values())


def read_prices(section: Section, display_units: Mapping[str, str]) -> PriceSet:
    """The prices section. display_units: crop -> bu/ac or lb/ac.

    UserError names the line of a price that cannot be, or that stands in another unit than its crop's.
    """
    asked = Reader(section, PriceSet, without=NO_MONEY)
    nitrogen, n_pct = asked.take("nitrogen", _nitrogen, otherwise=({}, {}))
    values = asked.values(crops=lambda crops: _crop_prices(crops, display_units))
    found = PriceSet(**values | {"nitrogen": nitrogen, "n_pct": n_pct})
    if found.coated_premium is not None and {"urea", "coated urea"} <= set(found.nitrogen):
        raise section.error(
            '"coated_premium_per_lb_n" and the price of coated urea both say what coating costs; keep one (the premium'
            " is coated urea less urea, per lb N)"
        )
    return found


def read_margin(section: Section, unit_of_crop: str) -> DeclaredMargin:
    """The noninferiority section of a comparison."""
    margin = DeclaredMargin(**Reader(section, DeclaredMargin, without=NO_VERDICT).values())
    if margin.unit == "ratio" and margin.size >= 1:
        raise section.error(
            f"a margin of {margin.size:g} as a ratio must lie below 1, such as 0.05 for five in a hundred"
        )
    if margin.unit == "bu/ac" and unit_of_crop not in ("bu/ac", UNKNOWN):
        raise section.error(f"the margin is in bu/ac, but this crop is reported in {unit_of_crop}")
    return margin


def _nitrogen(parts: dict[str, Section]) -> tuple[dict[str, float], dict[str, float]]:
    """Prices per lb N, given so or made from a price per ton of product and its % N; and that % N."""
    sources = tuple(reference_words("n_sources"))
    prices: dict[str, float] = {}
    n_pct: dict[str, float] = {}
    for key, part in parts.items():
        for source, node in part.take_each():
            if source not in sources:
                raise part.error(f'"{source}" is no nitrogen source known here: {one_of(list(sources), source)}', node)
            if source in prices:
                raise part.error(f'"{source}" has two prices; keep one', node)
            if key == PER_LB_N:
                prices[source] = part.take(source, _zero_or_more)
            else:
                asked = Reader(part.take_section(source), _PricePerTon, without=NO_N_CONTENT)
                per_ton = _PricePerTon(**asked.values())
                prices[source] = per_ton.price_per_ton / (LB_PER_TON * per_ton.n_pct / 100)
                n_pct[source] = per_ton.n_pct
    return prices, n_pct


def _crop_prices(section: Section, display_units: Mapping[str, str]) -> dict[str, CropPrice]:
    def price(part: Section) -> CropPrice | None:
        crop, unit = part.name, display_units[part.name]
        if unit == UNKNOWN:
            return None
        without = f"without it nothing is said of money for {crop}, which is reported in {unit}"
        asked = Reader(part, CropPrice, without=without, ending=f"_{unit.removesuffix('/ac')}")
        return CropPrice(unit, **asked.values())

    return read_by_crop(section, display_units, price)
