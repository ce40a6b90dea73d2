"""A grower's answers: no word claims more than its interval, and each is short enough to say aloud."""

from __future__ import annotations

import re

import pandas as pd
import pytest

from pipeline.display.words import growers_sentences as sentences
from pipeline.estimates.passes.noninferiority import BETTER, NOT_SHOWN_AS_GOOD, WITHIN_MARGIN, WORSE
from tests.unit.display.review.test_checks import robust_row
from tests.unit.display.rows import NONE, gain_row
from tests.unit.display.words.test_passes import row as pass_row

SHORT = {"treatment_in_short": "half-coated blend in one pass", "comparator_in_short": "urea in two passes"}
SIDES = tuple(SHORT.values())
PLACE_LEFT_OUT = robust_row(kind="one place left out", left_out="Alder")
AGREED = pd.DataFrame({"agrees": [True]})
MOST_WORDS = 20


def row(**changed) -> dict:
    return gain_row(**changed) | SHORT | {"is_late": False}


GAIN, LOSS = {}, {"estimate": -5.8, "conf_low": -8.2, "conf_high": -3.4}
NOT_SHOWN = {"conf_low": -1.0}
FEW, NOTHING = {"shown_as": "grey"}, {"estimate": NONE, "conf_low": NONE, "conf_high": NONE}
FUTURE = {"target": "seasons to come"}


@pytest.mark.parametrize("changed", [GAIN, LOSS, NOT_SHOWN, FEW, NOTHING, FUTURE, LOSS | FUTURE], ids=str)
def test_what_it_yielded_in_at_most_twenty_words(changed):
    said = sentences.yielded(row(**changed))
    assert len(said.split()) <= MOST_WORDS and said.count(".") == 1 + said.count("5.8")
    assert all(side in said.lower() for side in SIDES)


def test_only_a_gain_out_yields_and_only_what_is_shown_has_a_size():
    said = {
        name: sentences.yielded(row(**changed))
        for name, changed in {"gain": GAIN, "loss": LOSS, "open": NOT_SHOWN, "few": FEW, "none": NOTHING}.items()
    }
    assert {name for name, sentence in said.items() if "5.8 bu/ac" in sentence} == {"gain", "loss"}
    assert " out-yielded urea in two passes by 5.8 bu/ac on average." in said["gain"]
    assert "yielded 5.8 bu/ac less than" in said["loss"] and "do not show" in said["open"]
    assert "expected" in sentences.yielded(row(**FUTURE)) and "expected" not in said["gain"]


def test_a_comma_closes_a_side_that_has_one_where_the_sentence_goes_on():
    named = {"treatment_in_short": "the blend, once", "comparator_in_short": "urea, both at planting"}
    said = [sentences.yielded(row(**changed) | named) for changed in (GAIN, LOSS, NOT_SHOWN, FEW, NOTHING)]
    assert said[0].startswith("The blend, once, out-yielded urea, both at planting, by 5.8 bu/ac")
    assert "less than urea, both at planting, on average" in said[1] and "urea, both at planting, yield" in said[2]
    assert all(sentence.endswith("urea, both at planting.") for sentence in said[3:])


def test_many_site_years_in_two_seasons_are_too_few_seasons_not_too_few_trials():
    said = sentences.yielded(row(**NOTHING | FUTURE, n_site_years=16))
    assert said.startswith("There are too few seasons to say what") and said.endswith("in future seasons.")
    assert "too few trials" in sentences.yielded(row(**NOTHING | FUTURE, n_site_years=5))
    assert "too few seasons yet" in sentences.yielded(row(**FEW, n_seasons=1))


def test_sides_that_nobody_named_come_from_what_the_comparison_says():
    unnamed = gain_row(says="blend, one application, against urea split in two (the growers' standard)")
    found = sentences.sides(unnamed | dict.fromkeys(SHORT))
    assert found == ("blend, one application", "urea split in two")
    assert len(sentences.sides(gain_row(says="blend at planting") | dict.fromkeys(SHORT))) == 2


@pytest.mark.parametrize(
    ("changed", "robustness", "agrees", "word", "reason"),
    [
        (GAIN, [robust_row()], True, sentences.FIRM, "no single season"),
        (GAIN, [robust_row(changes_conclusion=True)], True, sentences.FRAGILE, "2091"),
        (GAIN, [robust_row(left_out=str(year), changes_conclusion=year > 2091) for year in range(2091, 2095)], True,
         sentences.FRAGILE, "drop any of 3 of the 4 seasons"),
        (GAIN, [robust_row(left_out=str(year), changes_conclusion=year > 2092) for year in range(2091, 2095)], True,
         sentences.FRAGILE, "drop 2093 or 2094, and"),
        (GAIN, [robust_row(), robust_row(kind="one place left out", left_out="Birch", changes_conclusion=True)], True,
         sentences.FRAGILE, "Birch"),
        (GAIN, [robust_row()], False, sentences.FRAGILE, "method"),
        (GAIN, [robust_row(), robust_row(kind="other estimator", changes_conclusion=True)], True, sentences.FRAGILE,
         "another way"),
        (GAIN, [robust_row(), robust_row(kind="cumulative by season", changes_conclusion=True)], True, sentences.FIRM,
         "no single season"),
        (GAIN, [robust_row(estimate=NONE)], True, sentences.FRAGILE, "too few seasons"),
        (GAIN, [robust_row(), PLACE_LEFT_OUT | {"estimate": NONE}], True, sentences.FRAGILE, "too few places"),
        (NOT_SHOWN, [robust_row(changes_conclusion=True)], True, sentences.NOT_SHOWN, "\u22121.0 to 8.2 bu/ac"),
        (FEW, [], True, "Too few trials", "33 site-years"),
        (NOTHING, [], True, "Too few trials", "33 site-years"),
        (FEW | {"n_seasons": 1}, [], True, "Too few seasons", "33 site-years in 1 season"),
        (NOTHING | FUTURE | {"n_seasons": 2}, [], True, "Too few seasons", "33 site-years in 2 seasons"),
        (NOTHING | {"n_seasons": 0, "n_site_years": 0}, [], True, "Too few trials", "no site-year yet"),
        (FEW | {"n_seasons": 1, "n_site_years": 5}, [], True, "Too few trials", "5 site-years in 1 season"),
    ],
)  # fmt: skip
def test_how_sure_in_a_word_with_its_reason(changed, robustness, agrees, word, reason):
    has_place = any(each["kind"] == PLACE_LEFT_OUT["kind"] for each in robustness)
    rows = pd.DataFrame([*(robustness or [robust_row()]), *([] if has_place else [PLACE_LEFT_OUT])])
    found = sentences.how_sure(
        row(**changed), rows.astype({"changes_conclusion": "boolean"}), AGREED.assign(agrees=agrees)
    )
    assert found[0] == word and reason in found[1]


@pytest.mark.parametrize(
    ("n_places", "said"),
    [
        ([0], ""),
        ([1], "Against A, all trials were at 1 place. Other places may differ."),
        ([2, 3, 2], "Against A and C, all trials were at 2 places. Other places may differ."),
        (
            [2, 1],
            "Against B, all trials were at 1 place. Against A, all trials were at 2 places. Other places may differ.",
        ),
        ([3, 9], ""),
    ],
)
def test_a_grower_is_told_that_trials_at_one_or_two_places_say_little_of_others(n_places, said):
    """Firm says that no place changes the average; of places that no trial saw it says nothing."""
    rows = [row(n_places=n) | {"comparator": name} for n, name in zip(n_places, "ABC", strict=False)]
    leading = pd.DataFrame(rows)
    assert sentences.few_places(leading) == said and sentences.few_places(leading.iloc[:0]) == ""


def test_trials_of_one_place_are_not_called_firm_as_no_place_can_be_dropped():
    """No row of the robustness is of a place left out there."""
    rows = pd.DataFrame([robust_row()]).astype({"changes_conclusion": "boolean"})
    assert sentences.how_sure(row(n_places=1), rows, AGREED) == (
        sentences.FRAGILE,
        "too few places to leave one out and look again",
    )
    assert sentences.passes_fragile(pass_row(), rows) == (
        "That is fragile: too few places to leave one out and look again."
    )


LONG = {
    "weather": "long-run weather",
    "target": "seasons to come",
    "reference_first_year": 2061.0,
    "reference_last_year": 2090.0,
}


@pytest.mark.parametrize(
    ("rows", "says"),
    [
        ([{"weather": "as tested", "target": "seasons to come"}], "Those are the average gains."),
        (
            [{"weather": "as tested", "target": "seasons tested"}],
            "Those are the average gains. All are for the seasons tested, not for future seasons.",
        ),
        (
            [LONG, LONG | {"target": "seasons tested"}],
            "Those are the gains at the rainfall of 2061 to 2090, not at that of the seasons tested."
            " Those marked (seasons tested) are for the seasons tested, not for future seasons.",
        ),
        ([LONG, LONG], "Those are the gains at the rainfall of 2061 to 2090, not at that of the seasons tested."),
        (
            [LONG, LONG | {"weather": "as tested"}],
            (
                "Where it differs from the average, that is the gain at the rainfall of 2061 to 2090, not at that of"
                " the seasons tested."
            ),
        ),
    ],
)
def test_which_gains_the_dollars_rest_on(rows, says):
    assert sentences.gains_of_money(pd.DataFrame(rows)) == says


def test_one_field_takes_the_range_of_the_seasons_tested_where_future_ones_have_none():
    future = row(**FUTURE, pred_low=NONE, pred_high=NONE)
    assert "\u22125.8 to 17.4 bu/ac" in sentences.one_field(future, row())
    assert "tested" in sentences.one_field(future, row()) and "future" in sentences.one_field(row(**FUTURE), row())
    assert not re.search(r"\d", sentences.one_field(future, None))


@pytest.mark.parametrize(
    ("low", "high", "net", "target", "said"),
    [
        (32.0, 64.0, 48.0, "seasons to come", "is expected to return $48"),
        (-64.0, -32.0, -48.0, "seasons to come", "is expected to lose $48"),
        (32.0, 64.0, 48.0, "seasons tested", "returned $48"),
        (-64.0, -32.0, -48.0, "seasons tested", "lost $48"),
        (-14.0, 52.0, 19.0, "seasons to come", ""),
        (NONE, NONE, 19.0, "seasons tested", ""),
    ],
)
def test_a_return_is_said_at_the_head_only_where_it_is_shown(low, high, net, target, said):
    """And of the seasons it is shown for: what was returned in those tested is no promise."""
    paying = {"conf_low": low, "conf_high": high, "net_change": net, "currency": "$", "target": target}
    paying |= {"n_site_years": 12, "n_seasons": 4}
    sentence = sentences.shown_return(paying, SIDES)
    assert said in sentence and bool(sentence) == bool(said)
    assert not said or ("$32 to $64" in sentence and "on average" in sentence)
    assert sentence.startswith("In the seasons tested, ") == (bool(said) and target == "seasons tested")


@pytest.mark.parametrize("few", [{"n_seasons": 1}, {"n_site_years": 5}], ids=str)
def test_no_return_is_said_of_trials_that_are_too_few_to_claim_a_gain(few):
    paying = {"conf_low": 32.0, "conf_high": 64.0, "net_change": 48.0, "currency": "$", "target": "seasons tested"}
    assert sentences.shown_return(paying | {"n_site_years": 12, "n_seasons": 4} | few, SIDES) == ""


@pytest.mark.parametrize("verdict", [BETTER, WITHIN_MARGIN, NOT_SHOWN_AS_GOOD, WORSE])
def test_whether_a_pass_can_be_dropped_begins_with_the_answer(verdict):
    said = sentences.passes(pass_row(verdict=verdict), SIDES)
    begins = {
        BETTER: "On average, yes",
        WITHIN_MARGIN: "On average, yes",
        NOT_SHOWN_AS_GOOD: "Not shown",
        WORSE: "No",
    }
    assert said.startswith(begins[verdict]) and len(said.split()) <= MOST_WORDS


@pytest.mark.parametrize("verdict", [BETTER, WITHIN_MARGIN, WORSE])
def test_a_comparison_that_drops_no_pass_does_not_answer_that_one_can_be_dropped(verdict):
    """Split urea as good as urea in one pass adds a pass: 'yes' would be the wrong way round."""
    said = sentences.passes(pass_row(verdict=verdict), SIDES, drops_a_pass=False)
    assert said.startswith("This comparison drops no pass. On average, ") and "yes" not in said
    assert sentences.passes(pass_row(verdict=NOT_SHOWN_AS_GOOD), SIDES, drops_a_pass=False).startswith("Not shown")


@pytest.mark.parametrize(
    ("changed", "is_less"),
    [
        ({"estimate": -1.5, "lower_limit": -2.5, "upper_limit": -0.5}, True),
        ({"estimate": -1.0, "lower_limit": -2.5, "upper_limit": 0.5}, False),
        ({"unit": "ratio", "margin": 0.05, "lower_limit": 0.96, "upper_limit": 0.99}, True),
        ({"unit": "ratio", "margin": 0.05, "lower_limit": 0.96, "upper_limit": 1.02}, False),
    ],
)
def test_a_loss_that_is_shown_is_not_told_as_doing_as_well(changed, is_less):
    """Both hold: it is within the margin, and the trials show that it yields less."""
    said = sentences.passes(pass_row(**changed), SIDES)
    assert said.startswith("Half-coated blend in one pass yields less than") == is_less
    assert ("does as well" in said) == (not is_less) and len(said.split()) <= MOST_WORDS


def test_a_comparison_set_up_after_the_first_harvest_is_exploratory_whatever_it_shows():
    word, reason = sentences.how_sure(row() | {"is_late": True}, pd.DataFrame([robust_row()]), AGREED)
    assert word == sentences.EXPLORATORY and "after" in reason


def test_a_margin_set_late_lets_nothing_be_as_good():
    late = "Not shown: the allowed loss was set only after yields were known."
    assert sentences.passes(pass_row(verdict=WITHIN_MARGIN, margin_is_late=True), SIDES) == late
    # The test itself gives a late margin this verdict, though the interval leaves no room for so large a loss.
    late_row = pass_row(verdict=NOT_SHOWN_AS_GOOD, margin_is_late=True)
    assert sentences.passes(late_row, SIDES) == late
    assert "may lose more than" in sentences.passes(late_row | {"lower_limit": -3.5}, SIDES)


def test_trials_that_could_not_have_shown_a_loss_do_not_let_a_pass_be_dropped():
    said = sentences.passes(pass_row(verdict=WITHIN_MARGIN, assay_sensitivity="not shown"), SIDES)
    assert said.startswith("Not shown") and len(said.split()) <= MOST_WORDS
    # one that yields more, or less, has shown it by its own interval
    for verdict, begins in ((BETTER, "On average, yes"), (WORSE, "No: ")):
        assert sentences.passes(pass_row(verdict=verdict, assay_sensitivity="not shown"), SIDES).startswith(begins)


@pytest.mark.parametrize(
    ("changed", "left_out", "said"),
    [
        ({}, [robust_row(conf_low=-2.9)], ""),
        ({}, [robust_row(conf_low=-3.1)], "That is fragile: drop 2091, and it is no longer shown."),
        (
            {},
            [robust_row(left_out=str(year), conf_low=-4.0) for year in range(2091, 2094)],
            "That is fragile: drop any of 3 of the 3 seasons, and it is no longer shown.",
        ),
        (
            {},
            [robust_row(conf_low=-1.0), robust_row(kind="other estimator", conf_low=-3.0)],
            "That is fragile: it is no longer shown by another way of averaging.",
        ),
        (
            {},
            [robust_row(estimate=NONE, conf_low=NONE)],
            "That is fragile: too few seasons to leave one out and look again.",
        ),
        ({"verdict": BETTER}, [robust_row(conf_low=-4.0)], ""),
        ({"verdict": NOT_SHOWN_AS_GOOD}, [robust_row(conf_low=-4.0)], ""),
        (
            {"unit": "ratio", "margin_limit": 0.95},
            [robust_row(conf_low=-4.0, ratio_low=0.96), robust_row(left_out="2092", ratio_low=0.94)],
            "That is fragile: drop 2092, and it is no longer shown.",
        ),
    ],
)
def test_a_yes_to_dropping_a_pass_says_when_it_rests_on_one_season_or_place(changed, left_out, said):
    rows = pd.DataFrame([*left_out, PLACE_LEFT_OUT]).astype({"changes_conclusion": "boolean"})
    assert sentences.passes_fragile(pass_row(**changed), rows) == said


def test_too_few_trials_say_nothing_of_passes():
    assert "too few trials" in sentences.passes(pass_row(n_site_years=3), SIDES)
    assert "too few seasons" in sentences.passes(pass_row(n_seasons=2), SIDES)
    assert sentences.passes_behind(pass_row(estimate=NONE)) == ""


@pytest.mark.parametrize(
    ("changed", "is_said"),
    [
        ({}, False),
        ({"economic_margin": -7.7}, True),
        ({"economic_margin": NONE}, False),
        ({"economic_margin": -7.7, "verdict": NOT_SHOWN_AS_GOOD}, False),
    ],
)
def test_a_yes_to_dropping_a_pass_says_where_doing_as_well_loses_money(changed, is_said):
    assert sentences.passes_behind(pass_row(**changed)).endswith(sentences.NOT_ENOUGH) == is_said


@pytest.mark.parametrize("is_late", [False, True])
def test_an_allowed_loss_that_was_set_late_is_not_said_to_be_set_before_harvest(is_late):
    said = sentences.passes_behind(pass_row() | {"margin_is_late": is_late})
    assert ("before harvest" in said) == (not is_late) and "1.2 bu/ac" in said and "3.0 bu/ac" in said


@pytest.mark.parametrize(
    ("year", "said"),
    [(2086, "set before harvest (but after that of a published trial, 2086), was"), (2093, "set before harvest, was")],
)
def test_an_allowed_loss_was_not_set_before_a_trial_that_was_published_then(year, said):
    """The season report says so of the comparison: the handout must not say 'before harvest' of all its trials."""
    assert said in sentences.passes_behind(pass_row(first_printed=pd.Timestamp(year, 10, 1)))


def test_an_allowed_loss_that_was_another_when_yields_were_read_is_not_said_to_be_set_before_harvest():
    other = {"margin_before": "4", "margin_until": pd.Timestamp("2093-11-01")}
    said = sentences.passes_behind(pass_row() | other)
    assert said.endswith("The allowed loss was 4 until November 1, 2093, with the yields at hand. It now is 3.0 bu/ac.")


def test_the_gain_that_money_rests_on_is_bridged_only_where_it_is_another():
    paying = {
        "gain": 5.77,
        "digits": 1,
        "unit": "bu/ac",
        "weather": "long-run weather",
        "target": "seasons tested",
        "reference_first_year": 2061.0,
        "reference_last_year": 2090.0,
    }
    assert sentences.money_gain(paying, row()) == ""
    said = sentences.money_gain(paying | {"gain": 6.7}, row())
    assert "6.7 bu/ac" in said and "2061 to 2090" in said


@pytest.mark.parametrize(
    ("rate", "ends", "says"),
    [
        (160.0, (126.0, 142.0), ["At the planning prices, that is above the range of the optimum."]),
        (120.0, (126.0, 142.0), ["At the planning prices, that is below the range of the optimum."]),
        (130.0, (126.0, 142.0), ["At the planning prices, that is within the range of the optimum."]),
        # the range prints as 126 to 142, and 142 is not above it
        (142.0, (126.0, 141.6), ["At the planning prices, that is within the range of the optimum."]),
        (130.0, (126.0, NONE), []),
    ],
)
def test_the_rate_growers_use_beside_the_optimum(rate, ends, says):
    usual = {"n_rate": rate, "n_unit": "lb/ac", "source": "county survey, 2089"}
    told = sentences.growers_rate(usual, dict(zip(("eonr_low", "eonr_high"), ends, strict=True)))
    assert told == [f"Growers usually apply {rate:.0f} lb/ac (county survey, 2089).", *says]


@pytest.mark.parametrize(
    ("planned", "p_values", "says"),
    [
        ("", (), ["We can't yet say whether soil or rain changes the gain."]),
        ("", (0.4, 0.6), ["We can't yet say whether soil, rain, tile drainage or previous crop changes the gain."]),
        ("", (NONE, 0.01), ["We can't yet say whether soil or rain changes the gain.",
                            "It differed by previous crop: a hint only, since we looked afterwards."]),
        ("By soil, the gain differs.", (0.4, NONE), ["By soil, the gain differs.",
                                                     "We found no difference by tile drainage."]),
    ],
)  # fmt: skip
def test_what_is_open_is_said_once_and_what_was_explored_is_a_hint(planned, p_values, says):
    moderators = list(sentences.LOOKED_AT)[: len(p_values)]
    explored = pd.DataFrame({"moderator": moderators, "p_value_holm": [float(p) for p in p_values]})
    assert sentences.on_my_land(planned, explored) == says
