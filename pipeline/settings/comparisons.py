"""The comparisons of program.yml: two arms, what they are matched on, and the question asked of them."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field
from datetime import date
from functools import partial

from pipeline.contract.units import KG_HA_PER_LB_AC
from pipeline.contract.vocabulary import AS_GOOD, GAIN, TESTED, TO_COME
from pipeline.contract.words import column_words
from pipeline.errors import UserError, one_of
from pipeline.settings.file import Section, above_zero, count, day, filled, known_word, number, word_of
from pipeline.settings.keys import A_DAY, LIST, SECTIONS, Key, Reader, entries, section_of, stated
from pipeline.settings.mistakes import all_of, tell
from pipeline.settings.money import UNKNOWN, DeclaredMargin, read_margin
from pipeline.settings.weather import Explanation, read_explanations

SAME_RATE = "same N rate"
ARM_COLUMNS = (
    "n_source",
    "coated_n_fraction",
    "n_rate_lb_ac",
    "n_rate_kg_ha",
    "timing",
    "passes",
    "placement",
    "additive",
)
WORD_COLUMNS = ("n_source", "timing", "placement")
RATES_LB_AC, RATES_KG_HA = "rates_lb_ac", "rates_kg_ha"
UNIT_OF_RATES = {RATES_LB_AC: ("lb/ac", KG_HA_PER_LB_AC), RATES_KG_HA: ("kg/ha", 1.0)}
WRITTEN_ALIKE_KG_HA = 0.5  # one rate in two spellings or two units
ROLES = {"zero-N": "is_zero_n", "grower standard": "is_grower_standard"}
POINTED_TO = ("treatment", "comparator", *UNIT_OF_RATES, "declared", "noninferiority")
DIFFERABLE = ("n_source", "coated_n_fraction", "n_rate_kg_ha", "timing", "passes", "placement", "additive")


@dataclass(frozen=True)
class Arm:
    """One side of a comparison: every condition must hold. `columns` maps a treatment column to allowed words."""

    columns: dict[str, tuple[str, ...]] = field(default_factory=dict)
    codes: tuple[str, ...] = ()
    role: str = ""


def _conditions(side: str) -> tuple[Key, ...]:
    of_column = "one or several values of this column of the treatments table; [a, b] takes either"
    return (
        Key(f"treatment codes of the {side}, where no column tells it apart", name="codes", default=()),
        Key(f"`{'` or `'.join(ROLES)}`", name="role", default=""),
        Key("the word of a free factor, under its heading in the treatments table", name="factor_...", default=()),
        *(Key(of_column, name=name, default=()) for name in ARM_COLUMNS),
    )


def _differable(text: str) -> str:
    text = "n_rate_kg_ha" if text in ("n_rate", "n_rate_lb_ac") else text
    return text if text.startswith("factor_") else word_of(*DIFFERABLE)(text)


@dataclass(frozen=True, kw_only=True)
class Comparison:
    """A declared question. `rates` maps a named N rate in kg/ha to its fixed weight; empty when rates are not matched.

    lines: where the keys of program.yml stand that messages point to.
    """

    id: str = stated(Key("a short name of your own; claims name it exactly so", filled, like="corn-blend-vs-urea"))
    says: str = stated(
        Key(
            "both sides in words: first, against second; it stands on the pages",
            filled,
            like='"half-coated blend, one application, against urea, one application"',
        )
    )
    in_short: tuple[str, ...] = stated(
        Key("both sides in few words, [first, second], as the growers' sheet has them", filled, (), kind=LIST),
        default=(),
    )
    crop: str = stated(Key("crop", like="corn"))
    question: str = stated(
        Key(
            f"`{GAIN}` (default): how much more; or `{AS_GOOD}`: as good within the margin",
            word_of(GAIN, AS_GOOD),
            default=GAIN,
        )
    )
    target: str = stated(
        Key(
            f"`{TESTED}` or `{TO_COME}`: the average that answers it",
            word_of(TESTED, TO_COME),
            like=TO_COME,
        )
    )
    treatment: Arm = stated(
        section_of(
            "the first arm: all its conditions hold",
            _conditions("first arm"),
            like="{n_source: coated blend, passes: 1}",
        )
    )
    comparator: Arm = stated(
        section_of("the second arm", _conditions("second arm"), like="{n_source: urea, passes: 1}")
    )
    match: str = stated(
        Key(
            f"`{SAME_RATE}`: plots are compared at the named rates; or `none`",
            word_of(SAME_RATE, "none"),
            like=SAME_RATE,
        )
    )
    rates: dict[float, float] = stated(
        section_of(
            "the named N rates with their weights in the average",
            entries("rate", "its weight, above zero"),
            name=RATES_LB_AC,
            default=None,
        ),
        section_of("the same in kg/ha", (), name=RATES_KG_HA, default=None),
    )
    may_differ: tuple[str, ...] = stated(
        Key(f"what may differ between the arms: {', '.join(DIFFERABLE)} or a factor_...", _differable, (), kind=LIST)
    )
    margin: DeclaredMargin | None = stated(
        section_of(
            "the margin within which the treatment counts as good", DeclaredMargin, name="noninferiority", default=None
        ),
        default=None,
    )
    declared: date = stated(
        Key(
            f"the day on which all this was fixed, {A_DAY}: after the first harvest it is exploratory",
            day,
            like="2090-11-15",
        )
    )
    explained_by: tuple[Explanation, ...] = stated(
        Key(
            "what of the weather may explain the gain, declared beforehand: a list of at most three",
            default=(),
            kind=SECTIONS,
            within=Explanation,
        ),
        default=(),
    )
    trait: str = "yield"
    lines: dict[str, int] = field(default_factory=dict, compare=False)


def read_comparisons(sections: list[Section], units: dict[str, str]) -> tuple[Comparison, ...]:
    """The comparisons in their order; units: crop -> display unit. UserError names the line of a mistake, of a
    doubled id or of a doubled text.
    """
    found = tuple(all_of(partial(_comparison, section, units) for section in sections))
    tell([*_unique_ids(sections, found), *_unique_texts(sections, found)])
    return found


def _unique_ids(sections: list[Section], comparisons: tuple[Comparison, ...]) -> Iterator[UserError]:
    seen: dict[str, int] = {}
    for section, comparison in zip(sections, comparisons, strict=True):
        if comparison.id in seen:
            yield section.error(f'the id "{comparison.id}" stands in line {seen[comparison.id]} too; ids must differ')
        seen.setdefault(comparison.id, section.line)


def _unique_texts(sections: list[Section], comparisons: tuple[Comparison, ...]) -> Iterator[UserError]:
    """Pages of a crop tell its comparisons apart by what they say."""
    seen: dict[tuple[str, str], Comparison] = {}
    for section, comparison in zip(sections, comparisons, strict=True):
        other = seen.setdefault((comparison.crop, comparison.says.lower()), comparison)
        if other is not comparison and other.id != comparison.id:
            yield section.error(
                f'"{other.id}" and "{comparison.id}" say the same; change says of one, so that readers can tell them'
                " apart"
            )


def _comparison(section: Section, units: dict[str, str]) -> Comparison:
    asked = Reader(section, Comparison)
    crop = asked.take("crop", known_word(*units), otherwise="")
    values = asked.values(
        treatment=_arm,
        comparator=_arm,
        rates=_rates,
        margin=lambda margin: read_margin(margin, units.get(crop, UNKNOWN)),
        explained_by=read_explanations,
    )
    found = Comparison(**values, lines={key: section.line_of(key) for key in POINTED_TO if section.has(key)})
    tell(map(section.error, _contradictions(found)))
    return found


def _contradictions(found: Comparison) -> Iterator[str]:
    """What each key by itself cannot show."""
    if found.question == AS_GOOD and found.margin is None:
        yield (
            f'"{found.id}" asks whether it is as good: add noninferiority: {{margin: 3, unit: bu/ac, basis: "why a loss'
            ' of 3 would not matter", fixed_on: 2090-11-15}'
        )
    if len(found.in_short) not in (0, 2):
        yield f'in_short of "{found.id}" holds {len(found.in_short)} names: write [first, second], or leave it out'
    if found.treatment == found.comparator:
        yield f'both arms of "{found.id}" ask for the same treatments: change one of them'
    if found.match == SAME_RATE and not found.rates:
        yield f'"{found.id}" matches N rates: name them with their weights, rates_lb_ac: {{80: 1, 120: 1}}'
    if found.match == "none" and found.rates:
        yield f'"{found.id}" names rates but has match: none; use match: {SAME_RATE}'


def _rates(parts: dict[str, Section]) -> dict[float, float]:
    rates: dict[float, float] = {}
    for key, part in parts.items():
        unit, factor = UNIT_OF_RATES[key]
        for rate, weight in part.take_each_as(_rate, above_zero):
            if any(abs(rate * factor - other) < WRITTEN_ALIKE_KG_HA for other in rates):
                raise part.error(f"the N rate {rate:g} {unit} stands here twice; keep one, with its weight")
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
    problems = []
    for key, node in section.take_each():
        try:
            if key == "codes":
                codes = section.values(key, node)
            elif key == "role":
                role = section.take("role", word_of(*ROLES))
            elif key in ARM_COLUMNS or key.startswith("factor_"):
                columns[key] = _arm_words(section, key, node)
            else:
                near = one_of(list(ARM_COLUMNS), key)
                hint = f" ({near})" if near.startswith("did") else ""
                raise section.error(
                    f'"{key}" cannot pick treatments{hint}; use codes, role, factor_..., {", ".join(ARM_COLUMNS)}', node
                )
        except UserError as problem:
            problems.append(problem)
    tell(problems)
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
