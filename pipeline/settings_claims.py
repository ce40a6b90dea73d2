"""The claims of program.yml: sentences somebody printed or wants to print, to be held against the evidence."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING

from pipeline.contract.units import KG_HA_PER_LB_AC
from pipeline.contract.words import reference_column, reference_words
from pipeline.settings_file import Section, above_zero, filled, known_word, word_of

if TYPE_CHECKING:
    from pipeline.settings import Crop
    from pipeline.settings_comparisons import Comparison

UNITS = ("bu/ac", "lb/ac", "kg/ha")
GROUPS, RAINFALL_CLASSES = ("R", "W", "P"), ("dry", "normal", "wet")
CLASSES = (*GROUPS, *RAINFALL_CLASSES, *(f"{group} x {rain}" for group in GROUPS for rain in RAINFALL_CLASSES))


@dataclass(frozen=True)
class Claim:
    """A stated gain of a comparison on a target; `gain` as written in `unit`, `gain_kg_ha` the same in kg/ha.

    only_in: the drainage group, rainfall class or cell it speaks of; empty for all site-years. where: where it is printed.
    """

    sentence: str
    comparison: str
    gain: float
    unit: str
    gain_kg_ha: float
    where: str
    target: str
    only_in: str = ""


def read_claims(sections: Iterable[Section], comparisons: Iterable[Comparison], crops: Iterable[Crop], targets: tuple[str, ...]) -> tuple[Claim, ...]:
    """Reads and checks every claim; UserError names its line. A claim that names no target takes its comparison's."""
    by_id = {comparison.id: comparison for comparison in comparisons}
    own_bushels = {crop.word: crop.bushel_lb for crop in crops}
    return tuple(_claim(section, by_id, own_bushels, targets) for section in sections)


def _claim(section: Section, by_id: Mapping, own_bushels: Mapping, targets: tuple[str, ...]) -> Claim:
    comparison = by_id[section.take("comparison", known_word(*by_id))]
    gain, unit = section.take("gain", above_zero), section.take("unit", word_of(*UNITS))
    factor = _kg_ha_per(unit, comparison.crop, own_bushels)
    if factor is None:
        raise section.error(f"{comparison.crop} has no bushel weight here: state the gain in lb/ac or kg/ha")
    claim = Claim(
        sentence=section.take("sentence", filled),
        comparison=comparison.id,
        gain=gain,
        unit=unit,
        gain_kg_ha=gain * factor,
        where=section.take("where", filled),
        target=section.take("target", word_of(*targets), comparison.target),
        only_in=section.take("only_in", word_of(*CLASSES), ""),
    )
    section.done()
    return claim


def _kg_ha_per(unit: str, crop: str, own_bushels: Mapping) -> float | None:
    """One unit in kg/ha; None for bushels of a crop that is not sold by the bushel."""
    if unit == "kg/ha":
        return 1.0
    if unit == "lb/ac":
        return KG_HA_PER_LB_AC
    bushel_lb = reference_column("crops", "bushel_lb")[crop] if crop in reference_words("crops") else own_bushels.get(crop)
    return float(bushel_lb) * KG_HA_PER_LB_AC if bushel_lb else None
