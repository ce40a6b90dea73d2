"""program.yml: what a program compares and by which rules, all fixed before yields are looked at."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from datetime import date
from pathlib import Path

from pipeline.contract.vocabulary import COOPERATOR, NOBODY, PLACE_ONLY, TO_COME
from pipeline.contract.words import reference_column
from pipeline.errors import UserError
from pipeline.settings.claims import Claim, read_claims
from pipeline.settings.comparisons import Comparison, read_comparisons
from pipeline.settings.crops import Crop, read_crops
from pipeline.settings.file import Section, count, day, filled, read_settings, word_of
from pipeline.settings.growers_rates import GrowersRate, read_growers_rates
from pipeline.settings.keys import A_DAY, LIST, SECTIONS, Key, Reader, entries, section_of, stated
from pipeline.settings.mistakes import Mistake
from pipeline.settings.money import UNKNOWN, DeclaredBand, PriceSet, read_band, read_prices
from pipeline.settings.rainfall import Rainfall, read_rainfall
from pipeline.settings.weather import ReleaseTest, read_release_tests

MISTAKEN = object()
# what to write where there is no question
A_COMPARISON = f"""
  - id: corn-blend-vs-urea
    says: half-coated blend, one application, against urea, one application
    crop: corn
    target: {TO_COME}
    treatment: {{n_source: coated blend, passes: 1}}
    comparator: {{n_source: urea, passes: 1}}
    match: same N rate
    rates_lb_ac: {{80: 1, 120: 1, 160: 1}}
    may_differ: [n_source, coated_n_fraction]
    declared: 2090-11-15"""
# Ways of dividing the site-years that a program may declare beside those of every program.
TILES, PREVIOUS_CROP, N_RATE = "tiled and untiled within a drainage group", "previous crop", "N rate"


@dataclass(frozen=True)
class AlsoDeclared:
    """Breakdowns declared beside those of every program."""

    classes: tuple[str, ...] = stated(
        Key(
            f"a list of {TILES}, {PREVIOUS_CROP} or {N_RATE}",
            word_of(TILES, PREVIOUS_CROP, N_RATE),
            kind=LIST,
            like=f"[{N_RATE}]",
        )
    )
    declared: date = stated(Key(f"the day on which it was declared, {A_DAY}", day, like="2090-11-15"))


@dataclass(frozen=True)
class FixedDay:
    """What was fixed on which day, in which line. Of all comparisons where `comparison` is empty."""

    line: int
    what: str
    fixed_on: date
    comparison: str | None = None


@dataclass(frozen=True, kw_only=True)
class Program:
    """All of program.yml."""

    folder: Path
    name: str = stated(
        Key(
            "the program's name, as it stands on the pages",
            filled,
            name="program",
            like="Nitrogen trials of our county",
        )
    )
    display_units: str = stated(Key("`us` (default) or `metric`", word_of("us", "metric"), "us"))
    may_be_named: str = stated(
        Key(
            "who may be named in what is published: nobody (codes stand for places and trials), place only (default; no"
            " cooperator, no sender and nobody who corrected) or cooperator (everybody)",
            word_of(NOBODY, PLACE_ONLY, COOPERATOR),
            PLACE_ONLY,
        )
    )
    fewest_blocks: int = stated(
        Key(
            "how many blocks must hold both arms for a trial to be used; default 2. A trial that is CRD, strips or"
            " unreplicated has no blocks to count, so it is used with fewer",
            count,
            2,
        )
    )
    rainfall: Rainfall = stated(section_of("by which rule site-years are classed dry, normal or wet", Rainfall))
    comparisons: tuple[Comparison, ...] = stated(
        Key("the questions: a list, each entry beginning with -", kind=SECTIONS, within=Comparison, like=A_COMPARISON)
    )
    claims: tuple[Claim, ...] = stated(
        Key("sentences to be held against the evidence: a list", default=(), kind=SECTIONS, within=Claim)
    )
    prices: PriceSet | None = stated(
        section_of("one dated set of planning prices; without it nothing is said of money", PriceSet, default=None)
    )
    nearly_as_well: DeclaredBand | None = stated(
        section_of(
            "how much less per acre than the best N rate still counts as nearly as well; without it no such band is"
            " drawn",
            DeclaredBand,
            default=None,
            name="nearly_as_well_within",
        )
    )
    growers_rates: dict[str, GrowersRate] = stated(
        section_of(
            "by crop, the N rate growers usually apply, to be printed next to the economic optimum; optional",
            entries("crop", "their usual rate", GrowersRate),
            default={},
            name="growers_n_rates",
        )
    )
    crops: tuple[Crop, ...] = stated(
        section_of(
            "crops beyond corn, cotton and soybean", entries("crop", "a crop that is not known here", Crop), default=()
        )
    )
    also_declared: AlsoDeclared | None = stated(
        section_of(
            "further ways of dividing the site-years, declared beforehand",
            AlsoDeclared,
            default=None,
            name="also_divide_by",
        )
    )
    release_tests: tuple[ReleaseTest, ...] = stated(
        Key(
            "how fast coated products release N, each by its own test; without it nothing is said of N released",
            default=(),
            kind=SECTIONS,
            within=ReleaseTest,
        )
    )
    fixed_days: tuple[FixedDay, ...] = ()

    @property
    def warehouse_file(self) -> Path:
        return self.folder / "warehouse.duckdb"

    @property
    def published(self) -> Path:
        return self.folder / "published"


def read_program(folder: Path) -> Program:
    """Reads and checks program.yml; UserError names every mistake with its line.

    A claim is read once comparisons and prices are right, a margin in bushels held against its crop once the crop is.
    """
    file = read_settings(folder / "program.yml")
    asked = Reader(file, Program)
    units = reference_column("crops", "display_unit") | dict.fromkeys(_own_crops(file), UNKNOWN)
    crops = asked.take("crops", read_crops, otherwise=MISTAKEN)
    if crops is not MISTAKEN:
        units |= {crop.word: crop.display_unit for crop in crops}
    comparisons = asked.take("comparisons", lambda sections: _comparisons(file, sections, units), otherwise=MISTAKEN)
    prices = asked.take("prices", lambda section: read_prices(section, units), otherwise=MISTAKEN)
    if MISTAKEN in (crops, comparisons, prices):
        asked.take("claims", lambda sections: (), otherwise=())
    else:
        asked.take("claims", lambda sections: read_claims(sections, comparisons, crops, prices), otherwise=())
    if prices is MISTAKEN:
        asked.take("nearly_as_well", lambda section: None, otherwise=None)
    values = asked.values(
        rainfall=lambda section: read_rainfall(section, tuple(units)),
        nearly_as_well=lambda section: read_band(section, prices),
        growers_rates=lambda section: read_growers_rates(section, tuple(units)),
        also_declared=lambda section: AlsoDeclared(**Reader(section, AlsoDeclared).values()),
        release_tests=read_release_tests,
    )
    program = Program(folder=folder, **values)
    return replace(program, fixed_days=tuple(_fixed_days(program, file)))


def _comparisons(file: Section, sections: list[Section], units: dict[str, str]) -> tuple[Comparison, ...]:
    if not sections:
        line = file.line_of("comparisons")
        raise Mistake(
            f'{file.file}, line {line}: "comparisons" is empty: declare at least one question to answer', line
        )
    return read_comparisons(sections, units)


def _own_crops(file: Section) -> tuple[str, ...]:
    """The words under `crops`, be they described well or not."""
    try:
        section = file.take_section("crops", None)
    except UserError:
        return ()  # told when it is read
    return tuple(word.lower() for word, _ in section.take_each()) if section else ()


def _fixed_days(program: Program, file: Section) -> Iterator[FixedDay]:
    yield FixedDay(file.line_of("rainfall", "fixed_on"), "the rainfall rule", program.rainfall.fixed_on)
    for key, found, named in (
        ("also_divide_by", program.also_declared, "declared"),
        ("nearly_as_well_within", program.nearly_as_well, "fixed_on"),
    ):
        if found:
            yield FixedDay(file.line_of(key, named), key, getattr(found, named))
    for each in program.comparisons:
        yield FixedDay(each.lines["declared"], f"{each.id}", each.declared, each.id)
        if each.margin:
            yield FixedDay(each.lines["noninferiority"], f"the margin of {each.id}", each.margin.fixed_on, each.id)
        for explanation in each.explained_by:
            what = f"{explanation.covariate} for {each.id}"
            yield FixedDay(explanation.line, what, explanation.declared, each.id)
