"""The money sections of program.yml: one dated set of planning prices, and margins of comparisons."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date

from pipeline.contract.words import reference_words
from pipeline.errors import one_of
from pipeline.settings.file import REQUIRED, Section, above_zero, day, filled, number, word_of

LB_PER_TON = 2000
UNIT_KEYS = {"price_per_bu": "bu/ac", "price_per_lb": "lb/ac"}
MARGIN_UNITS = ("bu/ac", "lb/ac", "kg/ha", "ratio")
MARGIN_LIKE = {"margin": "3", "unit": "bu/ac", "basis": '"half an LSD of these trials"', "fixed_on": "2090-11-15"}
BAND_LIKE = {"value": "5", "unit": "", "basis": '"less than a pass costs"', "fixed_on": "2090-11-15"}
NO_BAND = "without it no rate can count as nearly as well as the best"
NO_VERDICT = "without it the report cannot say whether the treatment is as good"
NO_MONEY = "without it nothing is said of money; a report without money needs no prices at all"


@dataclass(frozen=True)
class CropPrice:
    """Price and per-unit harvest costs of one crop, per bushel (unit bu/ac) or per lb (unit lb/ac)."""

    unit: str
    price: float
    hauling: float = 0.0
    drying_per_point: float = 0.0
    ginning_net: float = 0.0


@dataclass(frozen=True)
class PriceSet:
    """All planning prices, fixed on one date. nitrogen: source word -> price per lb N; n_pct: -> % N, where it was priced per ton."""

    fixed_on: date
    currency: str
    nitrogen: dict[str, float]
    coated_premium: float | None
    pass_cost: float | None
    crops: dict[str, CropPrice] = field(default_factory=dict)
    n_pct: dict[str, float] = field(default_factory=dict)


@dataclass(frozen=True)
class DeclaredMargin:
    """The largest loss still called as good, as it was declared: size in a unit or as a ratio."""

    size: float
    unit: str
    basis: str
    fixed_on: date


@dataclass(frozen=True)
class DeclaredBand:
    """How much less per acre than the best N rate still counts as nearly as well, as it was declared; unit like '$/ac'."""

    value: float
    unit: str
    basis: str
    fixed_on: date


def read_band(section: Section | None, prices: PriceSet | None) -> DeclaredBand | None:
    """The nearly_as_well_within section; None where there is none. UserError where there are no prices to work it out with."""
    if section is None:
        return None
    if prices is None:
        raise section.error(
            f'"{section.name}" is money per acre, and there are no prices: add "prices", or leave it out'
        )
    unit = f"{prices.currency}/ac"
    for key, like in (BAND_LIKE | {"unit": unit}).items():
        _needed(section, key, like, NO_BAND)
    band = DeclaredBand(
        value=section.take("value", above_zero),
        unit=section.take("unit", word_of(unit)),
        basis=section.take("basis", filled),
        fixed_on=section.take("fixed_on", day),
    )
    section.done()
    return band


def read_prices(section: Section | None, display_units: Mapping[str, str]) -> PriceSet | None:
    """The prices section; None where there is none. display_units: crop -> bu/ac or lb/ac.

    UserError names the line of a price that cannot be, or that stands in another unit than its crop's.
    """
    if section is None:
        return None
    _needed(section, "fixed_on", "2094-11-01 (the day these prices were fixed)", NO_MONEY)
    _needed(section, "crops", "{corn: {price_per_bu: 4.50}}", NO_MONEY)
    crops = section.take_section("crops")
    nitrogen, n_pct = _nitrogen(section)
    found = PriceSet(
        fixed_on=section.take("fixed_on", day),
        currency=section.take("currency", filled, "$"),
        nitrogen=nitrogen,
        coated_premium=section.take("coated_premium_per_lb_n", _zero_or_more, None),
        pass_cost=section.take("pass_cost_per_ac", _zero_or_more, None),
        crops={crop: _crop_price(crops, crop, node, display_units) for crop, node in crops.take_each()},
        n_pct=n_pct,
    )
    section.done()
    if found.coated_premium is not None and {"urea", "coated urea"} <= set(found.nitrogen):
        raise section.error(
            '"coated_premium_per_lb_n" and the price of coated urea both say what coating costs; keep one (the premium is coated urea less urea, per lb N)'
        )
    return found


def read_margin(section: Section | None, unit_of_crop: str) -> DeclaredMargin | None:
    """The noninferiority section of a comparison; None where there is none."""
    if section is None:
        return None
    for key, like in MARGIN_LIKE.items():
        _needed(section, key, like, NO_VERDICT)
    margin = DeclaredMargin(
        size=section.take("margin", above_zero),
        unit=section.take("unit", word_of(*MARGIN_UNITS)),
        basis=section.take("basis", filled),
        fixed_on=section.take("fixed_on", day),
    )
    section.done()
    if margin.unit == "ratio" and margin.size >= 1:
        raise section.error(
            f"a margin of {margin.size:g} as a ratio must lie below 1, such as 0.05 for five in a hundred"
        )
    if margin.unit == "bu/ac" and unit_of_crop != "bu/ac":
        raise section.error(f"the margin is in bu/ac, but this crop is reported in {unit_of_crop}")
    return margin


def _nitrogen(section: Section) -> tuple[dict[str, float], dict[str, float]]:
    """Prices per lb N, given so or made from a price per ton of product and its % N; and that % N."""
    sources = tuple(reference_words("n_sources"))
    prices: dict[str, float] = {}
    n_pct: dict[str, float] = {}
    for key in ("nitrogen_per_lb_n", "nitrogen_per_ton"):
        part = section.take_section(key, None)
        for source, node in part.take_each() if part else []:
            if source not in sources:
                raise part.error(f'"{source}" is no nitrogen source known here: {one_of(list(sources), source)}', node)
            if source in prices:
                raise part.error(f'"{source}" has two prices; keep one', node)
            if key == "nitrogen_per_lb_n":
                prices[source] = part.take(source, _zero_or_more)
            else:
                prices[source], n_pct[source] = _from_ton(part.take_section(source))
    return prices, n_pct


def _from_ton(section: Section) -> tuple[float, float]:
    """Price per lb N and % N."""
    _needed(
        section,
        "n_pct",
        "46 (the N content by its guaranteed analysis)",
        "a price per ton says nothing of N without it",
    )
    price, n_pct = section.take("price_per_ton", _zero_or_more), section.take("n_pct", _percent)
    section.done()
    return price / (LB_PER_TON * n_pct / 100), n_pct


def _crop_price(crops: Section, crop: str, node: object, display_units: Mapping[str, str]) -> CropPrice:
    if crop not in display_units:
        raise crops.error(f'"{crop}" is no crop known here: {one_of(list(display_units), crop)}', node)
    section = crops.take_section(crop)
    unit = display_units[crop]
    key = next(key for key, of_key in UNIT_KEYS.items() if of_key == unit)
    per = key.removeprefix("price_per_")
    _needed(
        section,
        key,
        "4.50" if per == "bu" else "0.72",
        f"without it nothing is said of money for {crop}, which is reported in {unit}",
    )
    found = CropPrice(
        unit=unit,
        price=section.take(key, above_zero, REQUIRED),
        hauling=section.take(f"hauling_per_{per}", _zero_or_more, 0.0),
        drying_per_point=section.take("drying_per_point_bu", _zero_or_more, 0.0) if per == "bu" else 0.0,
        ginning_net=section.take("ginning_net_per_lb", number, 0.0) if per == "lb" else 0.0,
    )
    section.done()
    return found


def _needed(section: Section, key: str, like: str, without: str) -> None:
    if not section.has(key):
        raise section.error(f'"{section.name}" has no "{key}": add {key}: {like}; {without}')


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
