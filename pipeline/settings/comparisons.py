"""The comparisons of program.yml: two arms, what they are matched on, and the question asked of them."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import date

from pipeline.contract.units import KG_HA_PER_LB_AC
from pipeline.contract.words import column_words
from pipeline.settings.file import Section, above_zero, count, day, filled, known_word, number, word_of
from pipeline.settings.money import DeclaredMargin, read_margin

SEASONS_TESTED = "seasons tested"
SEASONS_TO_COME = "seasons to come"
SAME_RATE = "same N rate"
AS_GOOD = "as good"
ARM_COLUMNS = (
    "n_source", "coated_n_fraction", "n_rate_lb_ac", "n_rate_kg_ha", "timing", "passes", "placement", "additive",
)  # fmt: skip
WORD_COLUMNS = ("n_source", "timing", "placement")
UNIT_OF_RATES = {"rates_lb_ac": ("lb/ac", KG_HA_PER_LB_AC), "rates_kg_ha": ("kg/ha", 1.0)}
WRITTEN_ALIKE_KG_HA = 0.5  # one rate in two spellings or two units
ROLES = {"zero-N": "is_zero_n", "grower standard": "is_grower_standard"}
POINTED_TO = ("treatment", "comparator", "rates_lb_ac", "rates_kg_ha", "declared", "noninferiority")
DIFFERABLE = ("n_source", "coated_n_fraction", "n_rate_kg_ha", "timing", "passes", "placement", "additive")


@dataclass(frozen=True)
class Arm:
    """One side of a comparison: every condition must hold. `columns` maps a treatment column to allowed words."""

    columns: dict[str, tuple[str, ...]] = field(default_factory=dict)
    codes: tuple[str, ...] = ()
    role: str = ""


@dataclass(frozen=True)
class Comparison:
    """A declared question. `rates` maps a named N rate in kg/ha to its fixed weight; empty when rates are not matched.

    lines: where the keys of program.yml stand that messages point to.
    """

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
    lines: dict[str, int] = field(default_factory=dict, compare=False)


def read_comparisons(sections: list[Section], units: dict[str, str]) -> tuple[Comparison, ...]:
    """The comparisons in their order; units: crop -> display unit. UserError names the line of a mistake or of a doubled id."""
    found = tuple(_comparison(section, units) for section in sections)
    _unique_ids(sections, found)
    return found


def _unique_ids(sections: list[Section], comparisons: tuple[Comparison, ...]) -> None:
    seen: dict[str, int] = {}
    for section, comparison in zip(sections, comparisons, strict=True):
        if comparison.id in seen:
            raise section.error(f'the id "{comparison.id}" stands in line {seen[comparison.id]} too; ids must differ')
        seen[comparison.id] = section.line


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
        lines={key: section.line_of(key) for key in POINTED_TO if section.has(key)},
    )
    section.done()
    if found.question == AS_GOOD and found.margin is None:
        raise section.error(
            f'"{found.id}" asks whether it is as good: add noninferiority: {{margin: ..., unit: ..., basis: ..., fixed_on: ...}}'
        )
    if found.treatment == found.comparator:
        raise section.error(f'both arms of "{found.id}" ask for the same treatments: change one of them')
    if match == SAME_RATE and not found.rates:
        raise section.error(
            f'"{found.id}" matches N rates: name them with their weights, rates_lb_ac: {{80: 1, 120: 1}}'
        )
    if match == "none" and found.rates:
        raise section.error(f'"{found.id}" names rates but has match: none; use match: {SAME_RATE}')
    return found


def _differable(text: str) -> str:
    text = "n_rate_kg_ha" if text in ("n_rate", "n_rate_lb_ac") else text
    return text if text.startswith("factor_") else word_of(*DIFFERABLE)(text)


def _rates(section: Section) -> dict[float, float]:
    rates: dict[float, float] = {}
    for key, (_, factor) in UNIT_OF_RATES.items():
        part = section.take_section(key, None)
        for rate, weight in part.take_each_as(_rate, above_zero) if part else ():
            if any(abs(rate * factor - other) < WRITTEN_ALIKE_KG_HA for other in rates):
                raise part.error(
                    f"the N rate {rate:g} {UNIT_OF_RATES[key][0]} stands here twice; keep one, with its weight"
                )
            rates[rate * factor] = weight
    return rates


def _rate(text: str) -> float:
    value = number(text)
    if value < 0:
        raise ValueError("an N rate, zero or more")
    return value


def _fraction(text: str) -> float:
    value = number(text)
    if not 0 <= value <= 1:
        raise ValueError("a fraction from 0 to 1, like 0.5")
    return value


NUMBER_COLUMNS = {"coated_n_fraction": _fraction, "n_rate_lb_ac": _rate, "n_rate_kg_ha": _rate, "passes": count}


def _arm(section: Section) -> Arm:
    columns: dict[str, tuple[str, ...]] = {}
    codes: tuple[str, ...] = ()
    role = ""
    for key, node in section.take_each():
        if key == "codes":
            codes = section.values(key, node)
        elif key == "role":
            role = section.take("role", word_of(*ROLES))
        elif key in ARM_COLUMNS or key.startswith("factor_"):
            columns[key] = _arm_words(section, key, node)
        else:
            raise section.error(
                f'"{key}" cannot pick treatments; use codes, role, factor_..., {", ".join(ARM_COLUMNS)}', node
            )
    if not (columns or codes or role):
        raise section.error("an arm needs at least one condition")
    return Arm(columns, codes, role)


def _arm_words(section: Section, key: str, node: object) -> tuple[str, ...]:
    """The words of one condition, each a number or a known word where the treatments table asks for one."""
    words = section.values(key, node)
    if key not in (*NUMBER_COLUMNS, *WORD_COLUMNS):
        return words
    cast = NUMBER_COLUMNS[key] if key in NUMBER_COLUMNS else known_word(*column_words("treatments", key))
    for word in words:
        try:
            cast(word)
        except ValueError as problem:
            raise section.error(f'"{key}" is "{word}"; expected {problem}', node) from None
    return words
