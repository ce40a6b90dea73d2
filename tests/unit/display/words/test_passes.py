"""Verdicts against a margin in words: each says what it rests on, and none says more."""

from __future__ import annotations

from datetime import date

import pandas as pd
import pytest

from pipeline.display.words import passes
from pipeline.estimates.passes.noninferiority import BETTER, NOT_SHOWN_AS_GOOD, WITHIN_MARGIN, WORSE

NONE = float("nan")


def row(**changed) -> dict:
    return {
        "estimate_id": "0360b669-552c", "says": "blend, one application, against urea split in two",
        "target": "seasons to come", "is_declared": True, "unit": "bu/ac", "digits": 1,
        "estimate": 1.2, "n_site_years": 8, "n_seasons": 4, "n_without_ratio": None, "margin": 3.0,
        "margin_limit": -3.0,
        "margin_basis": "half an LSD", "margin_fixed_on": date(2090, 11, 15), "margin_is_late": False,
        "first_printed": None,
        "margin_before": None,
        "lower_limit": -2.0, "upper_limit": 4.4, "tost_low": -1.1, "tost_high": 3.5, "is_equivalent": False,
        "verdict": WITHIN_MARGIN, "reason": "Even the lower limit loses less than the margin.",
        "assay_sensitivity": "shown", "assay_reason": "the comparator clearly out-yields zero-N",
        "assay_estimate": 74.9, "assay_n_site_years": 8,
        "economic_margin": 0.4, "economic_unit": "bu/ac", "economic_digits": 1,
        "economic_says": "may lose up to this and still pay",
    } | changed  # fmt: skip


@pytest.mark.parametrize(
    ("verdict", "words"),
    [
        (BETTER, "yields more than urea split in two"),
        (WITHIN_MARGIN, "is as good as urea split in two within a margin of 3.0 bu/ac"),
        (NOT_SHOWN_AS_GOOD, "is not shown to be as good as urea split in two within a margin"),
        (WORSE, "yields less than urea split in two, and the loss may exceed a margin"),
    ],
)
def test_every_verdict_names_interval_margin_basis_and_date(verdict, words):
    said = passes.all_sentences(pd.DataFrame([row(verdict=verdict)]))[0]
    assert words in said and "is 1.2 bu/ac (95% interval −2.0 to 4.4)" in said
    assert "The margin was fixed on November 15, 2090: half an LSD. [" in said and said.endswith("#id-0360b669-552c)")
    assert said.startswith("In future seasons, blend, one application,")


@pytest.mark.parametrize(
    ("changed", "said"),
    [
        ({"lower_limit": -6.0, "upper_limit": -2.9}, "the loss may exceed a margin of 3.0 bu/ac"),
        ({"lower_limit": -6.0, "upper_limit": -3.1}, "the loss exceeds a margin of 3.0 bu/ac"),
        ({"unit": "ratio", "margin": 0.04, "margin_limit": 0.96, "lower_limit": 0.90, "upper_limit": 0.95},
         "the loss exceeds a margin of 4%"),
        ({"unit": "ratio", "margin": 0.04, "margin_limit": 0.96, "lower_limit": 0.90, "upper_limit": 0.97},
         "the loss may exceed a margin of 4%"),
    ],
)  # fmt: skip
def test_a_loss_exceeds_the_margin_where_the_whole_interval_lies_below_it(changed, said):
    assert said in passes.in_short(row(verdict=WORSE, **changed))


def test_too_few_site_years_say_why_and_no_verdict():
    said = passes.in_short(row(estimate=NONE, verdict="too few", reason="Only 2 site-years."))
    assert (
        "as good as urea split in two within a margin of 3.0 bu/ac is not known. Only 2 site-years." in said
        and "within the margin" not in said
    )


def test_a_test_without_an_estimate_has_no_id_since_the_review_file_has_nothing_of_it():
    none = row(estimate=NONE, verdict="too few", reason="Only 2 site-years.")
    rows = pd.DataFrame([none, none | {"is_declared": False}])
    assert not [said for said in passes.all_sentences(rows) if "#id-" in said]
    assert len([said for said in passes.all_sentences(pd.DataFrame([row()])) if "#id-0360b669-552c" in said]) == 1


@pytest.mark.parametrize(
    ("changed", "where"),
    [({"n_site_years": 3}, "3 site-years in 4 seasons"), ({"n_seasons": 2}, "8 site-years in 2 seasons")],
)
def test_an_average_from_too_few_site_years_or_seasons_gets_no_verdict(changed, where):
    few = row(**changed)
    said = passes.in_short(few)
    assert said.startswith(f"In future seasons, {where} are too few to claim that blend") and "is 1.2 bu/ac" in said
    assert passes.other_target(few).startswith(
        f"In future seasons: too few to claim, {where}; the difference is 1.2 bu/ac"
    )
    assert "Even the lower limit" not in passes.why_so(few)
    assert passes.why_so(row()).startswith(f"{row()['reason']} The margin was fixed on ")


def test_trials_that_could_not_have_shown_a_loss_show_nothing_as_good_on_any_page():
    """The handout says "not shown" of them, and a claim is not borne out by them: no page may call it as good."""
    unable = row(assay_sensitivity="not shown")
    said = passes.in_short(unable)
    assert "is not shown to be as good as urea split in two" in said and said.endswith(passes.UNABLE)
    assert passes.other_target(unable).startswith("In future seasons: not shown to be as good")
    assert passes.UNABLE not in passes.in_short(row(assay_sensitivity="does not apply"))
    assert "yields more than" in passes.in_short(row(assay_sensitivity="not shown", verdict=BETTER))


def test_what_as_good_depends_on_stands_before_where_the_margin_comes_from():
    said = passes.all_sentences(pd.DataFrame([row()]), "Leave out one season, and it is lost.")[0]
    assert said.index("4.4)") < said.index("Leave out one season") < said.index("The margin was fixed")


def test_a_ratio_margin_is_a_percentage():
    said = passes.in_short(row(unit="ratio", digits=3, margin=0.05, estimate=1.01, lower_limit=0.98, upper_limit=1.04))
    assert "a margin of 5%: the ratio is 1.010 (95" in said


@pytest.mark.parametrize(
    ("n_without", "changed", "words"),
    [
        (0, {}, ""),
        (NONE, {}, ""),
        (2.0, {}, " The ratio leaves out 2 site-years with only a published difference."),
        (1, {"n_site_years": 3}, " The ratio leaves out 1 site-year with only a published difference."),
        (
            4,
            {"n_site_years": 2, "estimate": NONE},
            " The ratio leaves out 4 site-years with only a published difference.",
        ),
        (4, {"n_site_years": 0, "estimate": NONE, "reason": "There is none."}, ""),
    ],
)
def test_a_ratio_of_fewer_site_years_than_the_average_says_why(n_without, changed, words):
    of_ratio = row(unit="ratio", digits=3, estimate=1.01, lower_limit=0.98, upper_limit=1.04) | changed
    said = passes.in_short(of_ratio | {"n_without_ratio": n_without})
    assert said == passes.in_short(of_ratio | {"n_without_ratio": 0}) + words


@pytest.mark.parametrize(
    ("changed", "is_said"),
    [
        ({"lower_limit": -0.41}, True),
        ({"lower_limit": -0.4}, False),
        ({"lower_limit": NONE}, False),
        ({"unit": "ratio", "lower_limit": -2.0}, False),
        ({"economic_margin": -1.5, "lower_limit": -2.0}, False),
    ],
)
def test_as_good_does_not_hide_a_loss_that_no_longer_pays(changed, is_said):
    assert passes.economic(row(**changed)).endswith("A loss large enough to lose money cannot be ruled out.") == is_said


@pytest.mark.parametrize(("upper", "is_beyond"), [(-0.41, True), (-0.4, False), (0.2, False)])
def test_a_loss_that_no_longer_pays_over_its_whole_interval_is_not_told_as_not_ruled_out(upper, is_beyond):
    said = passes.economic(row(lower_limit=-3.0, upper_limit=upper))
    assert said.endswith("The whole interval lies beyond that loss.") == is_beyond
    assert ("cannot be ruled out" in said) != is_beyond


@pytest.mark.parametrize(
    ("margin", "words"),
    [
        (-1.5, "must gain at least 1.5 bu/ac to pay: being as good is not enough"),
        (0.4, "may yield up to 0.4 bu/ac less and still pay"),
        (NONE, "Which loss would still pay is not computed"),
    ],
)
def test_the_economic_margin(margin, words):
    assert words in passes.economic(
        row(economic_margin=margin, economic_says="not computed: the money table lacks an input")
    )


@pytest.mark.parametrize(
    ("found", "words"),
    [
        ("shown", "could have shown a loss: the"),
        ("not shown", "are not shown to be able to show a loss"),
        ("does not apply", "it does not apply, since"),
    ],
)
def test_assay_sensitivity(found, words):
    assert words in passes.assay(row(assay_sensitivity=found))


def test_how_far_the_comparator_stands_above_zero_n_is_told_in_the_unit_of_the_margin():
    assert "(on average 74.9 bu/ac over zero-N)" in passes.assay(row())
    said = passes.assay(row(unit="ratio", digits=3, assay_estimate=1.7214))
    assert "(on average 1.72 times the yield of zero-N)" in said


def test_site_years_without_zero_n_are_told_where_the_comparator_is_held_against_it():
    said = passes.assay(row(assay_n_site_years=7))
    assert "(on average 74.9 bu/ac over zero-N, at the 7 of 8 site-years with zero-N plots)" in said
    ratio = passes.assay(row(assay_n_site_years=3, unit="ratio", assay_estimate=1.7))
    assert "times the yield of zero-N, at the 3 of 8 site-years with zero-N plots)" in ratio


def test_the_declared_target_comes_first_and_the_other_repeats_no_basis():
    said = passes.all_sentences(pd.DataFrame([row(target="seasons tested", is_declared=False), row()]))
    assert (
        said[0].startswith("In future seasons")
        and said[-1].startswith("In the seasons tested")
        and "half an LSD" not in said[-1]
    )
    assert "does not lie between minus and plus the margin" in passes.equivalence(row())
    assert passes.equivalence(row()).endswith("as good asks only the lower side.")
