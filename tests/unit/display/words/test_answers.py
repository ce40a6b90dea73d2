"""Rows in, sentence out. No sentence may say more than its interval shows."""

from __future__ import annotations

import pandas as pd
import pytest
from hypothesis import given
from hypothesis import strategies as st

from pipeline.display.words import answers, where
from pipeline.estimates.engines.interval_rules import ADJUSTMENTS
from tests.unit.display.rows import NONE, gain_row

TO_COME = {"target": "seasons to come"}
ZERO = {"estimate": 5.69, "conf_low": -1.04, "conf_high": 12.41, "estimate_kg_ha": 357.0}
LOSS = {"estimate": -6.12, "conf_low": -9.2, "conf_high": -3.0, "estimate_kg_ha": -384.0}
FEW = {"n_site_years": 4, "n_seasons": 1, "seasons": "2091", "shown_as": "grey"}
NOTHING = {
    "estimate": NONE,
    "conf_low": NONE,
    "conf_high": NONE,
    "shown_as": "count",
    "n_site_years": 2,
    "rule": "Too few for an average: fewer than 3 site-years, so the trials are only listed.",
}

# what the row differs in | what is said
ANSWERS = [
    ({}, "Half-coated blend, one application, yielded 5.8 bu/ac (362 kg/ha) more than urea in the seasons "
         "tested (2091 to 2094), "
         "on average (95% interval 3.4 to 8.2 bu/ac). Tested at 33 site-years in 4 seasons."),
    (TO_COME, "Half-coated blend, one application, is expected to yield 5.8 bu/ac (362 kg/ha) more than urea in "
              "future seasons, "
              "on average (95% interval 3.4 to 8.2 bu/ac). Tested at 33 site-years in 4 seasons."),
    ({"says": "blend, one application, against urea, one application"},
     "Blend, one application, yielded 5.8 bu/ac (362 kg/ha) more than urea, one application, in the seasons tested "
     "(2091 to 2094), on average (95% interval 3.4 to 8.2 bu/ac). Tested at 33 site-years in 4 seasons."),
    ({"estimate": 0.44, "conf_low": 0.1, "conf_high": 0.78, "estimate_kg_ha": 27.6},
     "Half-coated blend, one application, yielded 0.4 bu/ac (28 kg/ha) more than urea in the seasons tested (2091 to "
     "2094), on average (95% interval 0.1 to 0.8 bu/ac). Tested at 33 site-years in 4 seasons."),
    (LOSS, "Half-coated blend, one application, yielded 6.1 bu/ac (384 kg/ha) less than urea in the seasons "
           "tested (2091 to 2094), "
           "on average (95% interval \u22129.2 to \u22123.0 bu/ac). Tested at 33 site-years in 4 seasons."),
    (TO_COME | ZERO, "The trials do not show a gain in future seasons. On average, half-coated blend, one "
                     "application, yielded 5.7 bu/ac "
                     "(357 kg/ha) more than urea, but the true difference could be zero (95% interval \u22121.0 "
                     "to 12.4 bu/ac). "
                     "Tested at 33 site-years in 4 seasons."),
    (FEW, "Half-coated blend, one application, yielded 5.8 bu/ac (362 kg/ha) more than urea in the seasons "
          "tested (2091), on average "
          "(95% interval 3.4 to 8.2 bu/ac). Tested at 4 site-years in 1 season: too few to claim anything."),
    (TO_COME | FEW, "Half-coated blend, one application, is expected to yield 5.8 bu/ac (362 kg/ha) more than "
                    "urea in future seasons, on average "
                    "(95% interval 3.4 to 8.2 bu/ac). Tested at 4 site-years in 1 season: too few to claim anything."),
    (NOTHING, "No average for half-coated blend, one application, against urea in the seasons tested (2091 to 2094). "
              "Too few for an average: fewer than 3 site-years, so the trials are only listed."),
    ({"says": "the new way"}, "The difference (the new way) was 5.8 bu/ac (362 kg/ha) more in the seasons "
                              "tested (2091 to 2094), "
                              "on average (95% interval 3.4 to 8.2 bu/ac). Tested at 33 site-years in 4 seasons."),
]  # fmt: skip


@pytest.mark.parametrize(("changed", "sentence"), ANSWERS)
def test_answer(changed, sentence):
    assert answers.answer(gain_row(**changed)) == sentence


@given(low=st.floats(-50, 50), width=st.floats(0.01, 80), shown=st.sampled_from(["sentence", "grey", "count"]))
def test_a_gain_is_claimed_only_where_the_interval_lies_above_zero(low, width, shown):
    row = gain_row(estimate=low + width / 2, conf_low=low, conf_high=low + width, shown_as=shown)
    said = answers.answer(row)
    claims = "do not show" not in said and "too few to claim" not in said
    assert claims == (shown == "sentence" and (low > 0 or low + width < 0))
    assert "no gain" not in said


def test_one_field():
    row, tested = gain_row(**TO_COME), gain_row()
    assert (
        answers.one_field(row, tested) == "In a future season, the true gain of one more field like these is expected "
        "from \u22125.8 to 17.4 bu/ac (\u2212366 to 1,090 kg/ha), 19 times in 20."
    )
    without = gain_row(pred_low=NONE, pred_high=NONE)
    assert answers.one_field(without, tested).startswith("In seasons like those tested, the true gain of one more")
    assert "not estimable" in answers.one_field(without, without)
    assert "plot noise included, is expected from \u22128.9 to 20.3 bu/ac" in answers.one_field(without, without)
    uneven = without | {"rule": ADJUSTMENTS["disagreement"]}
    assert "comes from the mixed model, which does not lead here" in answers.one_field(uneven, uneven)
    nothing = gain_row(pred_low=NONE, pred_high=NONE, observed_low=NONE, observed_high=NONE)
    assert answers.one_field(nothing, nothing).endswith("not estimable from so few site-years.")


@pytest.mark.parametrize(
    ("changed", "said"),
    [
        (
            {},
            (
                "In the seasons tested (2091 to 2094) the average is 5.8 bu/ac (362 kg/ha) more (95% interval 3.4 to"
                " 8.2 bu/ac)."
            ),
        ),
        (
            LOSS,
            (
                "In the seasons tested (2091 to 2094) the average is 6.1 bu/ac (384 kg/ha) less (95% interval \u22129.2"
                " to \u22123.0 bu/ac)."
            ),
        ),
        (
            TO_COME | ZERO,
            (
                "In future seasons the average is 5.7 bu/ac (357 kg/ha) more (95% interval \u22121.0 to 12.4 bu/ac),"
                " which could be zero."
            ),
        ),
    ],
)
def test_the_other_target_in_one_shorter_sentence(changed, said):
    assert answers.other_target(gain_row(**changed)) == said


def test_the_other_target_without_enough_behind_it_is_answered_in_full():
    assert all(answers.other_target(gain_row(**row)) == answers.answer(gain_row(**row)) for row in (FEW, NOTHING))


def methods(**two_stage) -> pd.DataFrame:
    other = {"method": "two-stage", "is_headline": False} | two_stage
    return pd.DataFrame(
        [gain_row(), gain_row(**other), gain_row(method="plain mean", is_headline=False, estimate=5.69)]
    )


def test_what_is_shown_and_whether_methods_agree():
    agree, apart = (pd.DataFrame([{"agrees": agrees}]) for agrees in (True, False))
    assert answers.what_is_shown(methods(), agree) == "a gain; methods agree"
    assert answers.what_is_shown(methods(), apart) == "a gain; methods disagree"
    assert (
        answers.what_is_shown(methods(), agree, "depends on a place")
        == "a gain, but it depends on a place; methods agree"
    )
    few = methods().assign(**FEW)
    assert answers.what_is_shown(few, agree, "depends on a place") == "too few to claim; methods agree"
    assert (
        answers.what_is_shown(methods(estimate=2.0, conf_low=-1.0, conf_high=5.0), agree)
        == "a gain; another method differs"
    )
    assert answers.what_is_shown(methods(estimate=NONE), agree) == "a gain; methods agree"
    assert answers.what_is_shown(pd.DataFrame([gain_row(**ZERO)]), agree) == "could be zero"
    assert answers.what_is_shown(pd.DataFrame([gain_row(**NOTHING)]), agree) == "no average"


def rain_test(adjusted: float, warnings: str = "") -> dict:
    """A test whose own p-value is far smaller than the adjusted one, so that mixing them up shows."""
    return {
        "moderator": "rainfall class",
        "p_value": adjusted / 10,
        "p_value_holm": adjusted,
        "warnings": warnings,
    }


def classes(moderator: str, *shown: str) -> pd.DataFrame:
    return pd.DataFrame(
        [gain_row(moderator=moderator, level=str(k), shown_as=shown_as) for k, shown_as in enumerate(shown)]
    )


TWO = classes("rainfall class", "sentence", "sentence", "grey")


def test_classes_differ_only_where_the_test_says_so():
    assert where.class_difference(rain_test(0.024), TWO) == "The gain differs between rainfall classes (p = 0.024)."
    assert (
        where.class_difference(rain_test(0.05), TWO)
        == "We found no difference in gain between rainfall classes (p = 0.050)."
    )
    said = where.class_difference(rain_test(NONE, "one class only"), TWO)
    assert said.endswith("cannot be tested: one class only.")
    assert "gave a warning" in where.class_difference(rain_test(0.024, "R: did not converge"), TWO)


@pytest.mark.parametrize(
    ("shown", "which"), [(("sentence", "grey", "count"), "only 1 class has"), (("grey", "count"), "no class has")]
)
def test_fewer_than_two_classes_to_claim_anything_of_are_not_compared(shown, which):
    said = where.class_difference(rain_test(0.01), classes("rainfall class", *shown))
    assert (
        said
        == f"Whether the gain differs between rainfall classes is not known yet: {which} 6 site-years in 2 seasons."
    )


def test_where_in_short_parts_what_is_known_when_buying_from_what_is_not():
    drainage = {"moderator": "drainage group", "p_value_holm": 0.6}
    groups = classes("drainage group", "sentence", "sentence")
    said = where.where_in_short(pd.DataFrame([rain_test(0.02), drainage]), pd.concat([TWO, groups]))
    assert (
        said == "By soil drainage, which you know when you buy, we found no difference. "
        "By the season's rain, which you do not know then, the gain differs."
    )
    assert (
        where.where_in_short(pd.DataFrame([rain_test(0.6), drainage]), pd.concat([TWO, groups]))
        == "We found no difference by soil drainage, which you know when you buy, or by the season's rain, which you do"
        " not know then."
    )
    for test, rows in ((rain_test(NONE), TWO), (rain_test(0.01), TWO.iloc[1:])):
        assert where.where_in_short(pd.DataFrame([test]), rows).endswith("gains cannot be compared yet.")
    assert "is not known yet" in where.where_in_short(pd.DataFrame(columns=["moderator", "p_value_holm"]), TWO)


def test_a_class_gets_a_sentence_only_with_enough_site_years_and_a_shown_difference():
    rows = pd.DataFrame(
        [
            gain_row(level="wet", n_site_years=8),
            gain_row(level="dry", shown_as="grey"),
            gain_row(level="normal", **ZERO),
        ]
    )
    assert where.class_sentences(rows, rain_test(0.11)) == []
    assert where.class_sentences(rows, rain_test(0.01)) == [
        "Wet: a gain is shown, 5.8 (3.4 to 8.2) bu/ac, 8 site-years.",
        "Normal: the average could be zero, 5.7 (\u22121.0 to 12.4) bu/ac, 33 site-years.",
    ]


def test_few_places_stand_for_themselves():
    said = {n: answers.few_places({"n_places": n}) for n in (0, 1, 2, 3, 5)}
    assert said[0] == said[5] == ""
    assert "holds for that place" in said[1] and "holds at these 2 places" in said[2] and "only 3 places" in said[3]
    to_come = gain_row(**TO_COME, n_places=2)
    assert answers.answer(to_come).endswith("4 seasons, at these 2 places only.")
    assert answers.answer(to_come | {"n_places": 9}).endswith("in 4 seasons.")
    assert "one more field at these 2 places is expected" in answers.one_field(to_come, to_come)
