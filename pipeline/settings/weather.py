"""What of the weather may explain a gain, and how fast a coated product releases: as program.yml declares it."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import date

from pipeline.contract.units import KG_HA_PER_LB_AC, UNITS
from pipeline.contract.vocabulary import COVARIATE_UNITS, COVARIATES
from pipeline.contract.words import reference_words
from pipeline.settings.file import Section, above_zero, count_to, day, filled, known_word, month_day, number, word_of
from pipeline.settings.keys import A_DAY, Key, Reader, entries, section_of, stated
from pipeline.settings.mistakes import tell

MOST_EXPLANATIONS = 3
MOST_DAYS = 300
YIELDS = ("bu/ac", "lb/ac", "kg/ha")
# by the word of a unit: the stored unit of the covariates it suits, and its size in it
PER = {
    "in": ("mm", UNITS["rain_in"].factor),
    "mm": ("mm", 1.0),
    "F": ("C", UNITS["f"].factor),
    "C": ("C", 1.0),
    "day": ("days", 1.0),
    "%": ("%", 1.0),
}


def _days(text: str) -> int:
    n = count_to(MOST_DAYS)(text)
    if n < 1:
        raise ValueError(f"a whole number of days, from 1 to {MOST_DAYS}")
    return n


@dataclass(frozen=True)
class SlopeSize:
    """How much more gain for one more unit of a covariate; unit like 'bu/ac per in'."""

    slope: float = stated(Key("its size, above zero", above_zero, like="1.5"))
    unit: str = stated(
        Key(
            f"yield per unit of the weather, such as bu/ac per in: {', '.join(YIELDS)}; per {', '.join(PER)}",
            word_of(*(f"{each} per {unit}" for each in YIELDS for unit in PER)),
            like="bu/ac per in",
        )
    )

    def per_stored_unit(self, kg_ha_per_bushel: float) -> float:
        """The slope in kg/ha per stored unit of the covariate."""
        yields, _, per = self.unit.partition(" per ")
        size = {"kg/ha": 1.0, "lb/ac": KG_HA_PER_LB_AC}.get(yields, kg_ha_per_bushel)
        return self.slope * size / PER[per][1]


@dataclass(frozen=True)
class Explanation:
    """One covariate that may explain the gain, over `days` from the comparator's first N on, or to the month-day
    `until`.
    """

    covariate: str = stated(Key(f"one of: {', '.join(COVARIATES)}", word_of(*COVARIATES), like=COVARIATES[0]))
    days: int | None = stated(
        Key("how many days count, from the comparator's first N on; or else until", _days, None, like="30")
    )
    until: str | None = stated(Key("the last day that counts, month-day like 07-15; or else days", month_day, None))
    worth_finding: SlopeSize | None = stated(
        section_of("the slope that would be worth finding, for make plan", SlopeSize, default=None)
    )
    declared: date = stated(Key(f"the day on which it was declared, {A_DAY}", day, like="2090-11-15"))
    line: int = field(default=0, compare=False)


@dataclass(frozen=True)
class ReleaseTest:
    """How much N is out of a coated product by days at 25 C, and how its speed changes with temperature: by one of the
    two.
    """

    product: str = stated(
        Key("a product of the nitrogen applications", known_word(*reference_words("n_products")), like="coated urea")
    )
    percent_out: tuple[tuple[float, float], ...] = stated(
        section_of(
            "by days at 25 C (77 F), the percent of its N that is out, from its label or laboratory sheet",
            entries("days", "percent of the coated N that is out by then"),
            like="{7: 12, 30: 45, 60: 80}",
        )
    )
    q10: float | None = stated(
        Key(
            "how many times faster it releases when 10 C (18 F) warmer; or else activation_energy_kj_mol",
            above_zero,
            None,
        )
    )
    activation_energy_kj_mol: float | None = stated(
        Key("the energy of the Arrhenius equation, kJ per mol; or else q10", above_zero, None)
    )
    source: str = stated(Key("where all this is from", filled, like='"the maker\'s laboratory sheet of 2089"'))


def read_explanations(sections: list[Section]) -> tuple[Explanation, ...]:
    """What may explain the gain of one comparison, in its order; UserError names the line of a mistake."""
    found = tuple(_explanation(section) for section in sections)
    problems, seen = [], set()
    for section, each in zip(sections, found, strict=True):
        if each.covariate in seen:
            problems.append(section.error(f'"{each.covariate}" stands twice in this comparison: keep one'))
        seen.add(each.covariate)
    if len(found) > MOST_EXPLANATIONS:
        problems.append(
            sections[MOST_EXPLANATIONS].error(
                f"explained_by names {len(found)}: at most {MOST_EXPLANATIONS} in one comparison, as seasons are few"
            )
        )
    tell(problems)
    return found


def _explanation(section: Section) -> Explanation:
    values = Reader(section, Explanation).values(
        worth_finding=lambda size: SlopeSize(**Reader(size, SlopeSize).values())
    )
    found = Explanation(**values, line=section.line_of("declared"))
    if (found.days is None) == (found.until is None):
        raise section.error(f'"{found.covariate}" needs days: 30, or until: 07-15, and not both')
    size = found.worth_finding
    if size and PER[size.unit.partition(" per ")[2]][0] != COVARIATE_UNITS[found.covariate]:
        suits = ", ".join(word for word, (stored, _) in PER.items() if stored == COVARIATE_UNITS[found.covariate])
        raise section.error(f'worth_finding of "{found.covariate}" is in {size.unit}; its slope is told per {suits}')
    return found


def read_release_tests(sections: list[Section]) -> tuple[ReleaseTest, ...]:
    """The release tests in their order; UserError names the line of a mistake."""
    found = tuple(_release_test(section) for section in sections)
    problems = [
        section.error(f'the release of "{each.product}" is declared twice: keep one')
        for i, (section, each) in enumerate(zip(sections, found, strict=True))
        if each.product in {other.product for other in found[:i]}
    ]
    tell(problems)
    return found


def _release_test(section: Section) -> ReleaseTest:
    found = ReleaseTest(**Reader(section, ReleaseTest).values(percent_out=_points))
    if (found.q10 is None) == (found.activation_energy_kj_mol is None):
        raise section.error(
            f'the release of "{found.product}" needs its temperature factor: q10: 2, or activation_energy_kj_mol: 70,'
            " and not both"
        )
    return found


def _points(section: Section) -> tuple[tuple[float, float], ...]:
    points = tuple(sorted(section.take_each_as(above_zero, _percent)))
    if len(points) < 2:
        raise section.error("percent_out needs at least two points, such as {7: 12, 30: 45, 60: 80}")
    if any(later < earlier for (_, earlier), (_, later) in zip(points, points[1:], strict=False)):
        raise section.error(
            "percent_out falls with time: N that is out stays out, so each later day needs as much or more"
        )
    return points


def _percent(text: str) -> float:
    value = number(text)
    if not 0 <= value <= 100:
        raise ValueError("a percent from 0 to 100")
    return value
