"""Claims in program.yml: what they become, and every mistake in them named with its line."""

from __future__ import annotations

import pytest

from pipeline.errors import UserError
from pipeline.settings.program import read_program

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
    assert (claim.sentence, claim.where, claim.target, claim.only_in) == (
        "Five bushels more.",
        "flyer",
        "seasons tested",
        "",
    )
    assert (claim.states, claim.gain, claim.kg_ha_per_unit) == ("gain", 5, pytest.approx(KG_HA_PER_BU_AC))


@pytest.mark.parametrize(("unit", "kg_ha"), [("kg/ha", 1.0), ("lb/ac", KG_HA_PER_BU_AC / 56), ("'%'", None)])
def test_other_units(tiny, unit, kg_ha):
    (claim,) = claims_of(tiny, CLAIM.replace("bu/ac", unit))
    assert claim.kg_ha_per_unit == (kg_ha if kg_ha is None else pytest.approx(kg_ha))


MONEY = """  - sentence: It pays twelve dollars.
    where: flyer
    comparison: corn-blend-vs-urea
    gain: 12
    unit: $/ac
"""
AS_GOOD = """  - sentence: It is as good.
    where: flyer
    comparison: corn-blend-vs-urea
    states: as good
"""
PRICES = (
    "prices: {fixed_on: 2092-11-01, currency: $, nitrogen_per_lb_n: {urea: 0.5}, crops: {corn: {price_per_bu: 4.5}}}\n"
)
MARGIN = '    noninferiority: {margin: 3, unit: bu/ac, basis: "half an LSD", fixed_on: 2090-11-15}\n'


def test_a_loss_money_and_as_good(tiny):
    tiny.settings("    declared: 2090-11-15\n", "    declared: 2090-11-15\n" + MARGIN + PRICES)
    loss, paid, good = claims_of(tiny, CLAIM.replace("gain: 5", "gain: -5") + MONEY + AS_GOOD)
    assert (loss.gain, paid.states, paid.unit, paid.gain) == (-5, "net change", "$/ac", 12)
    assert (good.states, good.gain, good.unit) == ("as good", None, "")


def test_no_claims(tiny):
    assert read_program(tiny.folder).claims == ()


@pytest.mark.parametrize(
    ("old", "new", "line", "says"),
    [
        ("gain: 5", "gain: about five", 5, "expected a number"),
        ("gain: 5", "gain: 1e300", 5, "expected a number from -1,000,000,000 to 1,000,000,000"),
        ("gain: 5\n    unit: bu/ac", "gain: -500\n    unit: '%'", 5, "expected a percentage from -100 to 1000"),
        ("gain: 5", "gain: 0", 5, "expected a number other than zero, below zero for a loss"),
        ("unit: bu/ac", "unit: bushels", 6, "expected one of: bu/ac, lb/ac, kg/ha, %"),
        ("unit: bu/ac", "unit: $/ac", 6, "expected one of: bu/ac, lb/ac, kg/ha, %"),  # no prices, no money
        (
            "    gain: 5\n    unit: bu/ac\n",
            "    states: as good\n",
            2,
            '"corn-blend-vs-urea" declares no noninferiority margin',
        ),
        ("    gain: 5\n", "    gain: 5\n    states: better\n", 6, "expected one of: gain, as good"),
        ("unit: bu/ac", "unit: bu/ac\n    target: all seasons", 7, "expected one of: seasons tested, seasons to come"),
        ("unit: bu/ac", "unit: bu/ac\n    only_in: wet x P", 7, "expected one of"),
        ("unit: bu/ac", "unit: bu/ac\n    gain_low: 3", 7, '"gain_low" is not known in "claims"'),
        ("corn-blend-vs-urea", "corn-blend-vs-ure", 4, 'did you mean "corn-blend-vs-urea"?'),
        ("    where: flyer\n", "", 2, '"where" is missing in "claims"'),
    ],
)
def test_a_mistake_is_named_with_its_line(tiny, old, new, line, says):
    first = tiny.settings_file.read_text().count("\n")
    with pytest.raises(UserError) as problem:
        claims_of(tiny, CLAIM.replace(old, new))
    assert str(problem.value).startswith(f"program.yml, line {first + line}: ") and says in str(problem.value)


def test_cotton_has_no_bushel(tiny):
    tiny.settings("crop: corn", "crop: cotton")
    with pytest.raises(UserError, match="cotton has no bushel weight here: state the gain in lb/ac or kg/ha"):
        claims_of(tiny, CLAIM)


def test_a_crop_without_prices_has_no_money(tiny):
    tiny.settings("    declared: 2090-11-15\n", "    declared: 2090-11-15\n" + PRICES.replace("corn: ", "soybean: "))
    with pytest.raises(UserError, match=r"line \d+: there are no prices for corn: add it under"):
        claims_of(tiny, "claims:\n" + MONEY)


def test_an_id_is_named_as_it_is_written(tiny):
    tiny.settings("id: corn-blend-vs-urea", "id: Corn-Blend")
    assert claims_of(tiny, CLAIM.replace("corn-blend-vs-urea", "Corn-Blend"))[0].comparison == "Corn-Blend"


def test_a_class_has_no_money_of_its_own(tiny):
    tiny.settings("    declared: 2090-11-15\n", "    declared: 2090-11-15\n" + PRICES)
    with pytest.raises(UserError, match="a claim on a class must state a yield gain"):
        claims_of(tiny, "claims:\n" + MONEY + "    only_in: wet\n")
