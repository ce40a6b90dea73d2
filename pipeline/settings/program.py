"""program.yml: what a program compares and by which rules, all fixed before yields are looked at."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from datetime import date
from pathlib import Path

from pipeline.contract.words import reference_column, reference_words
from pipeline.errors import one_of
from pipeline.settings.claims import Claim, read_claims
from pipeline.settings.comparisons import SEASONS_TESTED, SEASONS_TO_COME, Comparison, read_comparisons
from pipeline.settings.file import (
    Section,
    above_zero,
    count,
    count_to,
    day,
    filled,
    month_day,
    number,
    read_settings,
    word_of,
    year,
)
from pipeline.settings.money import DeclaredBand, PriceSet, read_band, read_prices

# Ways of dividing the site-years that a program may declare beside those of every program.
TILES, PREVIOUS_CROP, N_RATE = "tiled and untiled within a drainage group", "previous crop", "N rate"
MOST_MOISTURE_PCT = 90  # silage is reported as wet as this or less (common practice, no source)
MOST_DIGITS = 6
DISPLAY_UNIT = {"grain": "bu/ac", "lint": "lb/ac"}


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
class AlsoDeclared:
    """Breakdowns declared beside those of every program."""

    classes: tuple[str, ...]
    declared: date


@dataclass(frozen=True)
class FixedDay:
    """What was fixed on which day, in which line. Of all comparisons where `comparison` is empty."""

    line: int
    what: str
    fixed_on: date
    comparison: str | None = None


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
    also_declared: AlsoDeclared | None = None
    nearly_as_well: DeclaredBand | None = None
    fixed_days: tuple[FixedDay, ...] = ()

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
    comparisons = read_comparisons(file.take_sections("comparisons"), units)
    prices = read_prices(file.take_section("prices", None), units)
    claims = read_claims(file.take_sections("claims"), comparisons, crops, (SEASONS_TESTED, SEASONS_TO_COME), prices)
    rainfall, also = file.take_section("rainfall"), file.take_section("also_divide_by", None)
    band = file.take_section("nearly_as_well_within", None)
    program = Program(
        folder=folder,
        name=file.take("program", filled),
        display_units=file.take("display_units", word_of("us", "metric"), "us"),
        rainfall=_rainfall(rainfall, known_crops),
        fewest_blocks=file.take("fewest_blocks", count, 2),
        crops=crops,
        comparisons=comparisons,
        claims=claims,
        prices=prices,
        also_declared=_also_declared(also),
        nearly_as_well=read_band(band, prices),
    )
    file.done()
    if not program.comparisons:
        raise file.error('"comparisons" is empty: declare at least one question to answer')
    return replace(program, fixed_days=tuple(_fixed_days(program, rainfall, also, band)))


def _fixed_days(program: Program, rainfall: Section, also: Section | None, band: Section | None) -> Iterator[FixedDay]:
    yield FixedDay(rainfall.line_of("fixed_on"), "the rainfall rule", program.rainfall.fixed_on)
    if program.also_declared:
        yield FixedDay(also.line_of("declared"), "also_divide_by", program.also_declared.declared)
    if program.nearly_as_well:
        yield FixedDay(band.line_of("fixed_on"), "nearly_as_well_within", program.nearly_as_well.fixed_on)
    for each in program.comparisons:
        yield FixedDay(each.lines["declared"], f"{each.id}", each.declared, each.id)
        if each.margin:
            yield FixedDay(each.lines["noninferiority"], f"the margin of {each.id}", each.margin.fixed_on, each.id)


def _also_declared(section: Section | None) -> AlsoDeclared | None:
    if section is None:
        return None
    found = AlsoDeclared(
        classes=section.take_list("classes", word_of(TILES, PREVIOUS_CROP, N_RATE)),
        declared=section.take("declared", day),
    )
    section.done()
    return found


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
    if found.fewest_reference_years > (n_years := found.last_year - found.first_year + 1):
        raise section.error(
            f"fewest_reference_years is {found.fewest_reference_years}, but the reference period has {n_years} years"
        )
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
        raise section.error(
            f"the rainfall window ends ({last}) before it begins ({first}); it must lie in one calendar year"
        )
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
        display_unit=section.take(
            "display_unit", word_of(*(("bu/ac", "lb/ac") if product == "grain" else ("lb/ac",))), DISPLAY_UNIT[product]
        ),
        display_digits=section.take("display_digits", count_to(MOST_DIGITS), 1),
        typical=_pair(section, "typical"),
        hard=_pair(section, "hard"),
    )
    section.done()
    if not crop.hard[0] <= crop.typical[0] <= crop.typical[1] <= crop.hard[1]:
        raise section.error(f"the typical range must lie in its hard range: [{crop.hard[0]:g}, {crop.hard[1]:g}]")
    return crop


def _moisture(text: str) -> float:
    value = number(text)
    if value != 0 and not 1 <= value <= MOST_MOISTURE_PCT:  # below 1 it is a fraction typed as percent
        raise ValueError(f"0 (dry matter) or a percent from 1 to {MOST_MOISTURE_PCT}, like 15.5 (not 0.155)")
    return value


def _pair(section: Section, key: str) -> tuple[float, float]:
    values = section.take_list(key, number)
    if len(values) != 2 or values[0] >= values[1]:
        raise section.error(f'"{key}" must be [low, high], two numbers, the lower one first')
    return values
