"""What program.yml may declare of the weather, and every mistake in it named with its line."""

from __future__ import annotations

from datetime import date

import pytest

from pipeline.contract.vocabulary import EXCESS_WATER, NITROGEN_RELEASED
from pipeline.errors import UserError
from pipeline.settings.program import read_program
from pipeline.settings.weather import Explanation, ReleaseTest

EXPLAINED = "    match: same N rate\n    explained_by:\n"
DECLARED = "declared: 2090-11-15"
TEST = "release_tests:\n  - {product: coated urea, percent_out: {30: 45, 7: 12}, q10: 2, source: a label}\n"


def explained(tiny, *entries: str) -> int:
    """Writes the entries under the comparison; returns the line of the first."""
    lines = "".join(f"      - {{{entry}}}\n" for entry in entries)
    return tiny.settings("    match: same N rate\n", EXPLAINED + lines) + 2


def refused(tiny) -> str:
    with pytest.raises(UserError) as problem:
        read_program(tiny.folder)
    return str(problem.value)


def test_what_may_explain_the_gain_is_read_with_its_days_or_its_last_day(tiny):
    first = explained(
        tiny,
        f"covariate: excess water, days: 60, {DECLARED}",
        f"covariate: nitrogen released, until: 07-15, {DECLARED}",
    )
    (question,) = read_program(tiny.folder).comparisons
    day = date(2090, 11, 15)
    assert question.explained_by == (
        Explanation(EXCESS_WATER, 60, None, None, day),
        Explanation(NITROGEN_RELEASED, None, "07-15", None, day),
    )
    assert [each.line for each in question.explained_by] == [first, first + 1]
    what = [fixed.what for fixed in read_program(tiny.folder).fixed_days]
    assert "excess water for corn-blend-vs-urea" in what


@pytest.mark.parametrize(
    ("entry", "says"),
    [
        (f"covariate: excess water, {DECLARED}", '"excess water" needs days: 30, or until: 07-15, and not both'),
        (f"covariate: excess water, days: 30, until: 07-15, {DECLARED}", "and not both"),
        (f"covariate: exces water, days: 30, {DECLARED}", '"covariate" is "exces water"'),
        (f"covariate: excess water, days: 0, {DECLARED}", '"days" is "0"'),
        (f"covariate: excess water, until: 7/15, {DECLARED}", '"until" is "7/15"'),
        ("covariate: excess water, days: 30", '"declared" is missing'),
        (
            f"covariate: soil warmth, days: 30, {DECLARED}, worth_finding: {{slope: 1, unit: bu/ac per in}}",
            "its slope is told per F, C",
        ),
        (
            f"covariate: soil warmth, days: 30, {DECLARED}, worth_finding: {{slope: 1, unit: bu per inch}}",
            '"unit" is "bu per inch"',
        ),
    ],
)
def test_a_mistake_is_named_with_its_line(tiny, entry, says):
    line = explained(tiny, entry)
    told = refused(tiny)
    assert says in told and f"line {line}" in told


def test_one_covariate_twice_and_more_than_three_are_refused(tiny):
    same = f"covariate: excess water, days: 30, {DECLARED}"
    others = [f"covariate: {word}, days: 30, {DECLARED}" for word in ("wettest 5 days", "soil warmth")]
    explained(tiny, same, *others, same)
    told = refused(tiny)
    assert '"excess water" stands twice' in told and "at most 3" in told


def test_a_release_test_is_read_in_the_order_of_its_days(tiny):
    tiny.settings("comparisons:", TEST + "comparisons:")
    (test,) = read_program(tiny.folder).release_tests
    assert test == ReleaseTest("coated urea", ((7.0, 12.0), (30.0, 45.0)), 2.0, None, "a label")


@pytest.mark.parametrize(
    ("old", "new", "says"),
    [
        ("q10: 2, ", "", "needs its temperature factor"),
        ("q10: 2", "q10: 2, activation_energy_kj_mol: 70", "and not both"),
        ("{30: 45, 7: 12}", "{30: 45}", "at least two points"),
        ("{30: 45, 7: 12}", "{30: 45, 60: 40}", "falls with time"),
        ("{30: 45, 7: 12}", "{30: 45, 60: 140}", "a percent from 0 to 100"),
        ("product: coated urea", "product: wonder urea", '"product" is "wonder urea"'),
        (", source: a label", "", '"source" is missing'),
    ],
)
def test_a_mistake_in_a_release_test_is_named(tiny, old, new, says):
    line = tiny.settings("comparisons:", TEST.replace(old, new) + "comparisons:") + 1
    told = refused(tiny)
    assert says in told and f"line {line}" in told


def test_the_release_of_a_product_is_declared_once(tiny):
    twice = TEST + TEST.splitlines(keepends=True)[1]
    tiny.settings("comparisons:", twice + "comparisons:")
    assert 'the release of "coated urea" is declared twice' in refused(tiny)


CLAIM = "claims:\n  - {sentence: More in wet springs., where: flyer, comparison: corn-blend-vs-urea, %s}\n"


def test_a_claim_on_the_weather_needs_neither_gain_nor_unit(tiny):
    with tiny.settings_file.open("a", encoding="utf-8") as settings:
        settings.write(CLAIM % "states: more with, weather: rain after application")
    (claim,) = read_program(tiny.folder).claims
    assert (claim.states, claim.weather, claim.gain, claim.unit) == ("more with", "rain after application", None, "")


@pytest.mark.parametrize(
    ("states", "says"),
    [
        ("states: more with", "a claim that the gain is more with something names it: weather: rain after application"),
        ("states: less with, weather: sunshine", '"weather" is "sunshine"'),
        ("weather: soil warmth, gain: 3, unit: bu/ac", "weather goes with states: more with, or states: less with"),
        ("states: more with, weather: soil warmth, only_in: wet", "leave out only_in"),
        ("states: more with, weather: soil warmth, gain: 3", '"gain" is not known'),
    ],
)
def test_a_mistaken_claim_on_the_weather_is_named(tiny, states, says):
    with tiny.settings_file.open("a", encoding="utf-8") as settings:
        settings.write(CLAIM % states)
    assert says in refused(tiny)
