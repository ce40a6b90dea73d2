"""What of the weather may explain a gain, and how fast a coated product releases: as program.yml declares it."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import date

from pipeline.contract.vocabulary import COVARIATES
from pipeline.contract.words import reference_words
from pipeline.settings.file import Section, above_zero, count_to, day, filled, known_word, month_day, number, word_of
from pipeline.settings.keys import A_DAY, Key, Reader, entries, section_of, stated
from pipeline.settings.mistakes import tell

MOST_EXPLANATIONS = 3
MOST_DAYS = 300
REFERENCE_C = 25  # release tests are stated at it (EN 13266; ISO 18644)


def _days(text: str) -> int:
    n = count_to(MOST_DAYS)(text)
    if n < 1:
        raise ValueError(f"a whole number of days, from 1 to {MOST_DAYS}")
    return n


@dataclass(frozen=True)
class Explanation:
    """One covariate that may explain the gain, over `days` from the comparator's first N on, or to the month-day `until`."""

    covariate: str = stated(Key(f"one of: {', '.join(COVARIATES)}", word_of(*COVARIATES), like=COVARIATES[0]))
    days: int | None = stated(
        Key("how many days count, from the comparator's first N on; or else until", _days, None, like="30")
    )
    until: str | None = stated(Key("the last day that counts, month-day like 07-15; or else days", month_day, None))
    declared: date = stated(Key(f"the day on which it was declared, {A_DAY}", day, like="2090-11-15"))
    line: int = field(default=0, compare=False)


@dataclass(frozen=True)
class ReleaseTest:
    """How much N is out of a coated product by days at 25 C, and how its speed changes with temperature: by one of the two."""

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
    found = Explanation(**Reader(section, Explanation).values(), line=section.line_of("declared"))
    if (found.days is None) == (found.until is None):
        raise section.error(f'"{found.covariate}" needs days: 30, or until: 07-15, and not both')
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
            f'the release of "{found.product}" needs its temperature factor: q10: 2, or activation_energy_kj_mol: 70, and not both'
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
