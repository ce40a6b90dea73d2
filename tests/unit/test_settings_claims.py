"""Claims in program.yml: what they become, and every mistake in them named with its line."""

from __future__ import annotations

import pytest

from pipeline.errors import UserError
from pipeline.settings import read_program

CLAIM = """claims:
  - sentence: Five bushels more.
    where: flyer
    comparison: corn-blend-vs-urea
    gain: 5
    unit: bu/ac
"""
# a bushel of corn is 56 lb (weights and measures handbooks, NIST HB 130)
KG_HA_PER_BU_AC = 56 * 0.45359237 / (43560 * 0.3048**2) * 10_000


def claims_of(tiny, text: str):
    before = tiny.settings_file.read_text()
    tiny.settings_file.write_text(before + text)
    return read_program(tiny.folder).claims


def test_a_claim_takes_the_target_of_its_comparison(tiny):
    (claim,) = claims_of(tiny, CLAIM)
    assert (claim.sentence, claim.where, claim.target, claim.only_in) == ("Five bushels more.", "flyer", "seasons tested", "")
    assert claim.gain_kg_ha == pytest.approx(5 * KG_HA_PER_BU_AC)


@pytest.mark.parametrize(("unit", "kg_ha"), [("kg/ha", 5.0), ("lb/ac", 5 * KG_HA_PER_BU_AC / 56)])
def test_other_units(tiny, unit, kg_ha):
    (claim,) = claims_of(tiny, CLAIM.replace("bu/ac", unit))
    assert claim.gain_kg_ha == pytest.approx(kg_ha)


def test_no_claims(tiny):
    assert read_program(tiny.folder).claims == ()


@pytest.mark.parametrize(
    ("old", "new", "line", "says"),
    [
        ("gain: 5", "gain: about five", 5, "expected a number"),
        ("gain: 5", "gain: -5", 5, "expected a number above zero"),
        ("unit: bu/ac", "unit: bushels", 6, "expected one of: bu/ac, lb/ac, kg/ha"),
        ("unit: bu/ac", "unit: bu/ac\n    target: all seasons", 7, "expected one of: seasons tested, seasons to come"),
        ("unit: bu/ac", "unit: bu/ac\n    only_in: wet x P", 7, "expected one of"),
        ("unit: bu/ac", "unit: bu/ac\n    gain_low: 3", 7, '"gain_low" is not known in "claims"'),
        ("corn-blend-vs-urea", "corn-blend-vs-ure", 4, 'did you mean "corn-blend-vs-urea"?'),
        ("    where: flyer\n", "", 2, '"where" is missing in "claims"'),
    ],
)  # fmt: skip
def test_a_mistake_is_named_with_its_line(tiny, old, new, line, says):
    first = tiny.settings_file.read_text().count("\n")
    with pytest.raises(UserError) as problem:
        claims_of(tiny, CLAIM.replace(old, new))
    assert str(problem.value).startswith(f"program.yml, line {first + line}: ") and says in str(problem.value)


def test_cotton_has_no_bushel(tiny):
    tiny.settings("crop: corn", "crop: cotton")
    with pytest.raises(UserError, match="cotton has no bushel weight here: state the gain in lb/ac or kg/ha"):
        claims_of(tiny, CLAIM)
