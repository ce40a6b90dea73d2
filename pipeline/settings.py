"""program.yml: what a program compares and by which rules, all fixed before yields are looked at."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import date
from pathlib import Path

from pipeline.contract.units import KG_HA_PER_LB_AC
from pipeline.contract.words import column_words, reference_column, reference_words
from pipeline.errors import one_of
from pipeline.settings_claims import Claim, read_claims
from pipeline.settings_money import DeclaredMargin, PriceSet, read_margin, read_prices
from pipeline.settings_file import Section, above_zero, count, day, filled, known_word, month_day, number, read_settings, word_of, year

SEASONS_TESTED = "seasons tested"
SEASONS_TO_COME = "seasons to come"
SAME_RATE = "same N rate"
AS_GOOD = "as good"
ARM_COLUMNS = (
    "n_source", "coated_n_fraction", "n_rate_lb_ac", "n_rate_kg_ha", "timing", "passes", "placement", "additive",
)  # fmt: skip
NUMBER_COLUMNS = ("coated_n_fraction", "n_rate_lb_ac", "n_rate_kg_ha", "passes")
WORD_COLUMNS = ("n_source", "timing", "placement")
DISPLAY_UNIT = {"grain": "bu/ac", "lint": "lb/ac"}
ROLES = {"zero-N": "is_zero_n", "grower standard": "is_grower_standard"}
DIFFERABLE = ("n_source", "coated_n_fraction", "n_rate_kg_ha", "timing", "passes", "placement", "additive")


@dataclass(frozen=True)
class Arm:
    """One side of a comparison: every condition must hold. `columns` maps a treatment column to allowed words."""

    columns: dict[str, tuple[str, ...]] = field(default_factory=dict)
    codes: tuple[str, ...] = ()
    role: str = ""


@dataclass(frozen=True)
class Comparison:
    """A declared question. `rates` maps a named N rate in kg/ha to its fixed weight; empty when rates are not matched."""

    id: str
    says: str
    crop: str
    question: str
    target: str
    treatment: Arm
    comparator: Arm
    match: str
    rates: dict[float, float]
    may_differ: tuple[str, ...]
    declared: date
    trait: str = "yield"
    margin: DeclaredMargin | None = None


@dataclass(frozen=True)
class Rainfall:
    """How site-years are classed: a window per crop, the fixed reference period and the cut points on the SPI."""

    first_year: int
    last_year: int
    windows: dict[str, tuple[str, str]]
    dry_at_or_below: float
    wet_at_or_above: float
    most_missing_days: int
    fewest_reference_years: int
    fixed_on: date


@dataclass(frozen=True)
class Crop:
    """A crop beyond those the tables know. Ranges are in the display unit."""

    word: str
    product: str
    bushel_lb: float | None
    standard_moisture_pct: float | None
    display_unit: str
    display_digits: int
    typical: tuple[float, float]
    hard: tuple[float, float]


@dataclass(frozen=True)
class Program:
    """All of program.yml."""

    folder: Path
    name: str
    display_units: str
    rainfall: Rainfall
    fewest_blocks: int
    crops: tuple[Crop, ...]
    comparisons: tuple[Comparison, ...]
    prices: PriceSet | None = None
    claims: tuple[Claim, ...] = ()

    @property
    def warehouse_file(self) -> Path:
        return self.folder / "warehouse.duckdb"

    @property
    def published(self) -> Path:
        return self.folder / "published"


def read_program(folder: Path) -> Program:
    """Reads and checks program.yml; UserError names the line of the first mistake."""
    file = read_settings(folder / "program.yml")
    crops = _crops(file.take_section("crops", None))
    units = reference_column("crops", "display_unit") | {crop.word: crop.display_unit for crop in crops}
    known_crops = tuple(units)
    sections = file.take_sections("comparisons")
    comparisons = tuple(_comparison(section, units) for section in sections)
    claims = read_claims(file.take_sections("claims"), comparisons, crops, (SEASONS_TESTED, SEASONS_TO_COME))
    program = Program(
        folder=folder,
        name=file.take("program", filled),
        display_units=file.take("display_units", word_of("us", "metric"), "us"),
        rainfall=_rainfall(file.take_section("rainfall"), known_crops),
        fewest_blocks=file.take("fewest_blocks", count, 2),
        crops=crops,
        comparisons=comparisons,
        claims=claims,
        prices=read_prices(file.take_section("prices", None), units),
    )
    file.done()
    if not program.comparisons:
        raise file.error('"comparisons" is empty: declare at least one question to answer')
    _unique_ids(sections, program.comparisons)
    return program


def _unique_ids(sections: list[Section], comparisons: tuple[Comparison, ...]) -> None:
    seen: dict[str, int] = {}
    for section, comparison in zip(sections, comparisons, strict=True):
        if comparison.id in seen:
            raise section.error(f'the id "{comparison.id}" stands in line {seen[comparison.id]} too; ids must differ')
        seen[comparison.id] = section.line


def _rainfall(section: Section, known_crops: tuple[str, ...]) -> Rainfall:
    reference = section.take_section("reference")
    windows = section.take_section("windows")
    found = Rainfall(
        first_year=reference.take("first_year", year),
        last_year=reference.take("last_year", year),
        windows={crop: _window(windows, crop, node, known_crops) for crop, node in windows.take_each()},
        dry_at_or_below=section.take("dry_at_or_below", number, -1.0),
        wet_at_or_above=section.take("wet_at_or_above", number, 1.0),
        most_missing_days=section.take("most_missing_days", count, 3),
        fewest_reference_years=section.take("fewest_reference_years", count, 20),
        fixed_on=section.take("fixed_on", day),
    )
    for part in (reference, windows, section):
        part.done()
    if found.last_year < found.first_year:
        raise reference.error("the reference period ends before it begins")
    if found.dry_at_or_below >= found.wet_at_or_above:
        raise section.error("dry_at_or_below must be less than wet_at_or_above")
    return found


def _window(windows: Section, crop: str, node: object, known_crops: tuple[str, ...]) -> tuple[str, str]:
    if crop not in known_crops:
        raise windows.error(f'"{crop}" is no crop known here: {one_of(list(known_crops), crop)}', node)
    section = windows.take_section(crop)
    first, last = section.take("first_day", month_day), section.take("last_day", month_day)
    section.done()
    if last < first:
        raise section.error(f"the rainfall window ends ({last}) before it begins ({first}); it must lie in one calendar year")
    return first, last


def _crops(section: Section | None) -> tuple[Crop, ...]:
    if section is None:
        return ()
    return tuple(_crop(word, section.take_section(word)) for word, _ in section.take_each())


def _crop(word: str, section: Section) -> Crop:
    if word.lower() in reference_words("crops"):
        raise section.error(f'"{word}" is known already with its bushel and ranges; leave it out here')
    product = section.take("product", word_of("grain", "lint"), "grain")
    needed = {} if product == "grain" else {"default": None}
    crop = Crop(
        word=word.lower(),
        product=product,
        bushel_lb=section.take("bushel_lb", above_zero, **needed),
        standard_moisture_pct=section.take("standard_moisture_pct", _moisture, **needed),
        display_unit=section.take("display_unit", word_of(*(("bu/ac", "lb/ac") if product == "grain" else ("lb/ac",))), DISPLAY_UNIT[product]),
        display_digits=section.take("display_digits", count, 1),
        typical=_pair(section, "typical"),
        hard=_pair(section, "hard"),
    )
    section.done()
    if not crop.hard[0] <= crop.typical[0] <= crop.typical[1] <= crop.hard[1]:
        raise section.error(f'the typical range must lie in its hard range: [{crop.hard[0]:g}, {crop.hard[1]:g}]')
    return crop


def _moisture(text: str) -> float:
    value = number(text)
    if not 1 <= value < 100:
        raise ValueError("percent, like 15.5")
    return value


def _pair(section: Section, key: str) -> tuple[float, float]:
    values = section.take_list(key, number)
    if len(values) != 2 or values[0] >= values[1]:
        raise section.error(f'"{key}" must be [low, high]')
    return values


def _comparison(section: Section, units: dict[str, str]) -> Comparison:
    match = section.take("match", word_of(SAME_RATE, "none"))
    crop = section.take("crop", known_word(*units))
    found = Comparison(
        id=section.take("id", filled),
        says=section.take("says", filled),
        crop=crop,
        question=section.take("question", word_of("gain", AS_GOOD), "gain"),
        target=section.take("target", word_of(SEASONS_TESTED, SEASONS_TO_COME)),
        treatment=_arm(section.take_section("treatment")),
        comparator=_arm(section.take_section("comparator")),
        match=match,
        rates=_rates(section),
        may_differ=section.take_list("may_differ", _differable, ()),
        declared=section.take("declared", day),
        margin=read_margin(section.take_section("noninferiority", None), units[crop]),
    )
    section.done()
    if found.question == AS_GOOD and found.margin is None:
        raise section.error(f'"{found.id}" asks whether it is as good: add noninferiority: {{margin: ..., unit: ..., basis: ..., fixed_on: ...}}')
    if match == SAME_RATE and not found.rates:
        raise section.error(f'"{found.id}" matches N rates: name them with their weights, rates_lb_ac: {{80: 1, 120: 1}}')
    if match == "none" and found.rates:
        raise section.error(f'"{found.id}" names rates but has match: none; use match: {SAME_RATE}')
    return found


def _differable(text: str) -> str:
    text = "n_rate_kg_ha" if text in ("n_rate", "n_rate_lb_ac") else text
    return text if text.startswith("factor_") else word_of(*DIFFERABLE)(text)


def _rates(section: Section) -> dict[float, float]:
    rates: dict[float, float] = {}
    for key, factor in (("rates_lb_ac", KG_HA_PER_LB_AC), ("rates_kg_ha", 1.0)):
        part = section.take_section(key, None)
        if part is not None:
            rates |= {rate * factor: weight for rate, weight in part.take_each_as(_rate, above_zero)}
    return rates


def _rate(text: str) -> float:
    value = number(text)
    if value < 0:
        raise ValueError("an N rate, zero or more")
    return value


def _arm(section: Section) -> Arm:
    columns: dict[str, tuple[str, ...]] = {}
    codes: tuple[str, ...] = ()
    role = ""
    for key, node in section.take_each():
        if key == "codes":
            codes = section.values(node)
        elif key == "role":
            role = section.take("role", word_of(*ROLES))
        elif key in ARM_COLUMNS or key.startswith("factor_"):
            columns[key] = _arm_words(section, key, node)
        else:
            raise section.error(f'"{key}" cannot pick treatments; use codes, role, factor_..., {", ".join(ARM_COLUMNS)}', node)
    if not (columns or codes or role):
        raise section.error("an arm needs at least one condition")
    return Arm(columns, codes, role)


def _arm_words(section: Section, key: str, node: object) -> tuple[str, ...]:
    """The words of one condition, each a number or a known word where the treatments table asks for one."""
    words = section.values(node)
    if key not in (*NUMBER_COLUMNS, *WORD_COLUMNS):
        return words
    cast = number if key in NUMBER_COLUMNS else known_word(*column_words("treatments", key))
    for word in words:
        try:
            cast(word)
        except ValueError as problem:
            raise section.error(f'"{key}" is "{word}"; expected {problem}', node) from None
    return words
