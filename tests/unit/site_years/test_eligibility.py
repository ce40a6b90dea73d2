"""Which trials can answer a comparison: a drawn trial for each reason, and rates at, below and above their
tolerance.
"""

from __future__ import annotations

from datetime import date

import pandas as pd
import pytest

from pipeline.contract.units import KG_HA_PER_LB_AC
from pipeline.settings.comparisons import Arm, Comparison
from pipeline.site_years.eligibility import eligible_trials, matches

LB = KG_HA_PER_LB_AC


def comparison(
    treatment=None, comparator=None, rates=(120,), may_differ=("n_source", "coated_n_fraction")
) -> Comparison:
    return Comparison(
        id="blend-vs-urea",
        says="",
        crop="corn",
        question="gain",
        target="seasons tested",
        treatment=treatment or Arm({"n_source": ("coated blend",)}),
        comparator=comparator or Arm({"n_source": ("urea",)}),
        match="same N rate" if rates else "none",
        rates={rate * LB: 1.0 for rate in rates},
        may_differ=may_differ,
        declared=date(2090, 11, 15),
    )


def trial(**changes) -> pd.DataFrame:
    row = {"trial_id": "T", "site_year_id": "alder-2091", "season": 2091, "place": "Alder", "crop": "corn",
           "design": "RCBD",
           "status": "accepted", "status_reason": None}  # fmt: skip
    return pd.DataFrame([row | changes])


def treatment(code: str, n_source: str, lb_ac: float, **changes) -> dict:
    return {
        "trial_id": "T", "treatment_code": code, "n_source": n_source,
        "coated_n_fraction": 0.5 if "blend" in n_source else 0.0,
        "n_rate_kg_ha": lb_ac * LB, "timing": "at planting", "passes": 1, "placement": "broadcast", "additive": None,
        "is_zero_n": False, "is_grower_standard": False, "factors": None,
    } | changes  # fmt: skip


SOUND = (treatment("U", "urea", 120), treatment("C", "coated blend", 120))


def usable(codes_by_block: dict[str, str]):
    rows = [("T", block, code) for block, codes in codes_by_block.items() for code in codes.split()]
    plots = pd.DataFrame(rows, columns=["trial_id", "block", "treatment_code"])
    return lambda treatments: plots.merge(treatments, on=["trial_id", "treatment_code"])


TWO_BLOCKS = {"1": "U C", "2": "U C"}


def judged(question=None, trials=None, treatments=SOUND, harvested=None, fewest_blocks=2):
    """(eligibility of the one trial, its arms)."""
    eligibility, arms = eligible_trials(
        (question or comparison(),),
        trial() if trials is None else trials,
        pd.DataFrame(treatments),
        usable(TWO_BLOCKS if harvested is None else harvested),
        fewest_blocks=fewest_blocks,
    )
    (row,) = eligibility.itertuples()
    return row, arms


def test_a_sound_trial_is_used_with_both_arms():
    row, arms = judged()
    assert row.is_used and row.reason is None and row.n_blocks == 2
    assert arms.set_index("treatment_code")["arm"].to_dict() == {"U": "comparator", "C": "treatment"}
    assert arms["rate_kg_ha"].tolist() == [120 * LB] * 2 and arms["rate_weight"].tolist() == [1.0, 1.0]


@pytest.mark.parametrize(
    ("trials", "treatments", "harvested", "reason"),
    [
        (trial(status="held", status_reason="moisture"), SOUND, None, "held: moisture"),
        (trial(status="not harvested", status_reason="lost, flood"), SOUND, None, "not harvested: lost, flood"),
        (trial(design="not randomized"), SOUND, None, "not randomized: in no average, and no gain of it is shown"),
        (trial(), SOUND[:1], None, "the trial has no treatment at an N rate of this comparison"),
        (trial(), SOUND[1:], None, "the trial has no comparator at an N rate of this comparison"),
        (trial(), (treatment("X", "manure", 120),), None,
         "the trial has no treatment and no comparator at an N rate of this comparison"),
        (trial(), (treatment("U", "urea", 80), treatment("C", "coated blend", 120)), None,
         "the trial has no comparator at an N rate of this comparison"),
        (trial(), SOUND, {"1": "U", "2": "C"}, "no harvested plots of both arms"),
        (trial(), SOUND, {}, "no harvested plots of both arms"),
        (trial(), SOUND, {"1": "U C", "2": "U"}, "1 block with both arms; at least 2 are required"),
    ],
)  # fmt: skip
def test_a_trial_is_left_out_with_its_reason(trials, treatments, harvested, reason):
    row, arms = judged(trials=trials, treatments=treatments, harvested=harvested)
    assert not row.is_used and row.reason == reason
    assert arms.empty


def test_more_than_one_block_too_few_is_told_in_the_plural():
    reason = judged(harvested={"1": "U C", "2": "U C"}, fewest_blocks=3)[0].reason
    assert reason == "2 blocks with both arms; at least 3 are required"


@pytest.mark.parametrize("design", ["CRD", "unreplicated", "strips"])
def test_a_design_without_blocks_is_not_asked_for_two(design):
    assert judged(trials=trial(design=design), harvested={"1": "U C"})[0].is_used


@pytest.mark.parametrize(("fewest", "used"), [(1, True), (2, True), (3, False)])
def test_the_number_of_blocks_at_below_and_above_the_fewest(fewest, used):
    assert judged(fewest_blocks=fewest)[0].is_used == used


@pytest.mark.parametrize(
    ("planned", "is_same"),
    [
        # 120 lb/ac named: 5 lb is more than 3 % (3.6 lb)
        (120, True), (124.9, True), (125, True), (125.1, False), (115, True), (114.9, False),
    ],
)  # fmt: skip
def test_five_pounds_around_a_named_rate(planned, is_same):
    treatments = (treatment("U", "urea", 120), treatment("C", "coated blend", planned))
    assert judged(treatments=treatments)[0].is_used == is_same


@pytest.mark.parametrize(
    ("planned", "is_same"),
    [
        # 200 lb/ac named: 3 % (6 lb) is more than 5 lb
        (206, True), (205.9, True), (206.1, False), (194, True), (193.9, False),
    ],
)  # fmt: skip
def test_three_percent_around_a_named_rate(planned, is_same):
    treatments = (treatment("U", "urea", 200), treatment("C", "coated blend", planned))
    assert judged(comparison(rates=(200,)), treatments=treatments)[0].is_used == is_same


def test_a_rate_that_one_arm_lacks_is_named_and_left_to_the_others():
    treatments = (*SOUND, treatment("U8", "urea", 80), treatment("C16", "coated blend", 160))
    row, arms = judged(
        comparison(rates=(80, 120, 160)), treatments=treatments, harvested={"1": "U C U8 C16", "2": "U C U8 C16"}
    )
    assert row.is_used and row.rates_missing == pytest.approx([80 * KG_HA_PER_LB_AC, 160 * KG_HA_PER_LB_AC])
    assert set(arms["treatment_code"]) == {"U", "C"}


def test_what_else_differs_between_the_arms_is_said():
    treatments = (SOUND[0], treatment("C", "coated blend", 120, placement="banded", passes=2))
    row, _ = judged(treatments=treatments)
    assert row.is_used
    assert row.also_differs == "passes: 2 against 1; placement: banded against broadcast"
    assert (
        judged(comparison(may_differ=("n_source", "coated_n_fraction", "passes", "placement")), treatments=treatments)[
            0
        ].also_differs
        is None
    )


def test_a_treatment_on_both_sides_leaves_the_trial_out():
    row, _ = judged(comparison(treatment=Arm({"n_source": ("coated blend", "urea")})))
    assert not row.is_used and row.reason == "U is on both sides of this comparison"


def test_another_crop_is_not_asked():
    eligibility, arms = eligible_trials(
        (comparison(),), trial(crop="cotton"), pd.DataFrame(SOUND), usable(TWO_BLOCKS), fewest_blocks=2
    )
    assert eligibility.empty and arms.empty
    assert "reason" in eligibility and "arm" in arms


@pytest.mark.parametrize(
    ("arm", "codes"),
    [
        (Arm({"n_source": ("Urea",)}), "U S"),
        (Arm({"coated_n_fraction": ("0.5",)}), "C"),
        (Arm({"passes": ("2",)}), "S"),
        (Arm({"n_rate_lb_ac": ("120",)}), "U C S"),
        (Arm({"n_rate_lb_ac": ("125",)}), "U C S"),
        (Arm({"n_rate_lb_ac": ("125.1",)}), ""),
        (Arm({"n_rate_kg_ha": ("0",)}), "Z"),
        (Arm({"n_source": ("urea", "coated blend"), "timing": ("at planting",)}), "U C"),
        (Arm(codes=("C", "Z")), "Z C"),
        (Arm(role="zero-N"), "Z"),
        (Arm(role="grower standard"), "S"),
        (Arm({"factor_variety": ("K1",)}), "C"),
        (Arm({"n_source": ("urea",)}, role="zero-N"), ""),
    ],
)
def test_an_arm_picks_the_treatments_that_fulfil_every_condition(arm, codes):
    rows = pd.DataFrame([
        treatment("Z", "none", 0, is_zero_n=True), treatment("U", "urea", 120),
        treatment("C", "coated blend", 120, factors='{"factor_variety":"K1"}'),
        treatment("S", "urea", 120, passes=2, timing="split", is_grower_standard=True),
    ])  # fmt: skip
    assert rows.loc[matches(arm, rows), "treatment_code"].tolist() == codes.split()
