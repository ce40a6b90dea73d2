"""Ids of estimates: what leaves them alone, what changes the part for the question, what the part for the data."""

from __future__ import annotations

import pandas as pd
import pytest

from pipeline.estimate_ids import (
    FIGURES,
    PLOT_COLUMNS,
    PRINTED_COLUMNS,
    TRIAL_COLUMNS,
    asked_part,
    data_ids,
    estimate_ids,
    figure_ids,
)
from pipeline.provenance import short_id
from pipeline.settings.program import read_program
from pipeline.site_years.eligibility import ARM_COLUMNS
from tests.unit.settings.test_claims import CLAIM

ASKED = {
    "comparison_id": "corn-blend-vs-urea",
    "target": "seasons tested",
    "method": "mixed model",
    "moderator": "all",
    "level": "all",
}
POOLED = pd.DataFrame(
    [
        ASKED,
        ASKED | {"target": "seasons to come"},
        ASKED | {"method": "plain mean"},
        ASKED | {"moderator": "drainage group", "level": "P"},
        ASKED | {"moderator": "rainfall class", "level": "wet"},
    ]
)
PRINTED_IDS = ["72fc0a84", "872cc676", "00f01789", "ea63872c", "29597ce0"]
RAINFALL = POOLED["moderator"].eq("rainfall class").to_numpy()
OTHER_COMPARISON = """  - {id: other, says: other, crop: cotton, target: seasons tested,
  treatment: {n_source: coated blend}, comparator: {role: zero-N},
  match: none, declared: 2090-11-15}
"""


def data() -> dict[str, pd.DataFrame]:
    """Two corn trials and one of cotton, two plots each."""
    trials = pd.DataFrame(
        {"trial_id": ["a", "b", "c"], "crop": ["corn", "corn", "cotton"], "season": [2091, 2092, 2091]}
    )
    plots = pd.DataFrame(
        {
            "trial_id": list("aabbcc"),
            "treatment_code": ["U", "C"] * 3,
            "value": [1000.1, 1100.2, 900.3, 950.4, 500.5, 510.6],
        }
    )
    arms = pd.DataFrame(
        {"comparison_id": ASKED["comparison_id"], "trial_id": list("aabb"), "treatment_code": ["U", "C"] * 2}
    )
    printed = pd.DataFrame({"trial_id": ["a"], "treatment_code": ["U"], "mean_kg_ha": [700.0]})
    columns = {"trials": TRIAL_COLUMNS, "plots": PLOT_COLUMNS, "printed_means": PRINTED_COLUMNS, "arms": ARM_COLUMNS}
    columns["trials"] += ("plot_set",)
    columns["printed_means"] += ("compared_with", "difference_kg_ha")
    frames = {"trials": trials, "plots": plots, "printed_means": printed, "arms": arms}
    return {name: frame.reindex(columns=list(columns[name])) for name, frame in frames.items()}


def ids(tiny, frames=None) -> list[str]:
    program = read_program(tiny.folder)
    return estimate_ids(POOLED, program, data_ids(program, **(frames or data())))


def asked(of: list[str]) -> list[str]:
    return [asked_part(each) for each in of]


def test_an_id_that_was_printed_holds(tiny):
    assert asked(ids(tiny)) == PRINTED_IDS


def test_each_estimate_has_its_own(tiny):
    found = ids(tiny)
    assert len(set(asked(found))) == len(POOLED) and len({each.split("-")[1] for each in found}) == 1
    assert all(len(each) == 13 for each in found)


@pytest.mark.parametrize(
    ("old", "new"),
    [
        ("program: Tiny trials", "program: Other name"),
        ("says: half-coated blend against urea, both at planting", "says: other words"),
        ("declared: 2090-11-15", "declared: 2089-11-15"),
        ("target: seasons tested", "target: seasons to come"),  # which of both is declared, not what either is
        ("fixed_on: 2090-11-15", "fixed_on: 2089-11-15"),
        ("    declared: 2090-11-15\n", "    declared: 2090-11-15\n" + OTHER_COMPARISON),
        ("    declared: 2090-11-15\n", "    declared: 2090-11-15\n" + CLAIM),
        ("rates_lb_ac: {120: 1}", "rates_lb_ac: {120: 1.0}"),
    ],
)
def test_an_edit_that_moves_no_estimate_leaves_ids_alone(tiny, old, new):
    before = ids(tiny)
    tiny.settings(old, new)
    assert ids(tiny) == before


@pytest.mark.parametrize(
    ("old", "new"),
    [
        ("rates_lb_ac: {120: 1}", "rates_lb_ac: {120: 1, 160: 1}"),
        ("rates_lb_ac: {120: 1}", "rates_lb_ac: {125: 1}"),
        ("treatment: {n_source: coated blend}", "treatment: {n_source: coated blend, passes: 1}"),
        ("comparator: {n_source: urea}", "comparator: {role: grower standard}"),
        ("program: Tiny trials", "program: Tiny trials\nfewest_blocks: 3"),
    ],
)
def test_another_definition_is_another_estimate(tiny, old, new):
    before = ids(tiny)
    tiny.settings(old, new)
    assert not set(asked(ids(tiny))) & set(asked(before))


def test_rainfall_cut_points_are_part_of_rainfall_classes_alone(tiny):
    before = ids(tiny)
    tiny.settings("fewest_reference_years: 3", "fewest_reference_years: 3\n  wet_at_or_above: 1.5")
    moved = [one != other for one, other in zip(ids(tiny), before, strict=True)]
    assert moved == RAINFALL.tolist()


@pytest.mark.parametrize(("row", "moves"), [(0, True), (3, True), (4, False)])
def test_a_yield_of_the_crop_changes_the_part_for_the_data_and_no_other_yield_does(tiny, row, moves):
    before, frames = ids(tiny), data()
    frames["plots"].loc[row, "value"] += 0.1
    after = ids(tiny, frames)
    assert asked(after) == asked(before) and (after != before) == moves


@pytest.mark.parametrize(
    ("name", "column", "value"),
    [("trials", "rainfall_class", "wet"), ("printed_means", "mean_kg_ha", 701.0), ("arms", "rate_weight", 2.0)],
)
def test_classes_printed_means_and_arms_are_data_too(tiny, name, column, value):
    frames = data()
    frames[name][column] = value
    assert ids(tiny, frames) != ids(tiny)


@pytest.mark.parametrize(
    ("name", "given", "changed"),
    [
        ("printed_means", {"compared_with": "C", "difference_kg_ha": 50.0}, {"difference_kg_ha": -50.0}),
        ("printed_means", {"compared_with": "C", "difference_kg_ha": 50.0}, {"compared_with": "Z"}),
        ("trials", {"plot_set": "a"}, {"plot_set": None}),
    ],
)
def test_printed_differences_and_trials_on_the_same_plots_are_data_too(tiny, name, given, changed):
    before, after = data(), data()
    before[name] = before[name].assign(**given)
    after[name] = after[name].assign(**(given | changed))
    assert ids(tiny, before) != ids(tiny, after)


def test_order_files_and_the_last_bits_of_a_number_do_not_count(tiny):
    frames = {name: frame.iloc[::-1].assign(file="another.csv") for name, frame in data().items()}
    frames["plots"]["value"] *= 1 + 1e-13
    assert ids(tiny, frames) == ids(tiny)


BUDGET = {
    "comparison_id": "corn-blend-vs-urea",
    "target": "seasons tested",
    "net_change": 18.787,
    "conf_low": -14.1547,
    "conf_high": 51.729,
    "break_even_gain": 2.298,
}


def of_budget(tiny, **changed) -> str:
    return figure_ids("budgets", pd.DataFrame([BUDGET | changed]), read_program(tiny.folder))[0]


@pytest.mark.parametrize(
    ("changed", "moves"),
    [({"net_change": 18.80}, True), ({"conf_low": float("nan")}, True), ({"net_change": 18.787 + 1e-9}, False)],
)
def test_a_figure_worked_out_carries_what_it_says_in_its_second_part(tiny, changed, moves):
    before, after = of_budget(tiny), of_budget(tiny, **changed)
    assert asked_part(after) == asked_part(before) and (after != before) == moves


def test_another_target_or_table_is_another_question(tiny):
    rows, program = pd.DataFrame([BUDGET | {"estimate": 1.0}]), read_program(tiny.folder)
    others = {
        asked_part(of_budget(tiny)),
        asked_part(of_budget(tiny, target="seasons to come")),
        asked_part(figure_ids("long_run_gains", rows, program)[0]),
    }
    assert len(others) == 3


def test_at_the_comparators_optimum_the_rate_is_part_of_the_answer(tiny):
    row = {
        "comparison_id": "corn-blend-vs-urea",
        "at": "comparator's EONR",
        "comparator_rate": 155.3,
        "nitrogen_saved": 37.4,
        "conf_low": 27.0,
        "conf_high": 47.0,
    }
    rows = pd.DataFrame([row, row | {"comparator_rate": 160.0}, row | {"at": "named rate"},
                         row | {"at": "named rate", "comparator_rate": 160.0}])  # fmt: skip
    at = asked(figure_ids("nitrogen_saved", rows, read_program(tiny.folder)))
    assert at[0] == at[1] and len(set(at)) == 3


def test_the_curve_of_one_trial_has_an_id_of_its_own(tiny):
    row = {"crop": "corn", "family": "urea", "model": "quadratic-plateau"} | dict.fromkeys(
        FIGURES["n_response"].answer, 1.0
    )
    of = [
        {"trial_id": "a", "variant": ""},
        {"trial_id": "a", "variant": "banded"},
        {"trial_id": "b", "variant": ""},
        {"trial_id": None, "variant": ""},
    ]
    ids = figure_ids("n_response", pd.DataFrame([row | each for each in of]), read_program(tiny.folder))
    assert len(set(asked(ids))) == 4 and len({each.split("-")[1] for each in ids}) == 1


@pytest.mark.parametrize(
    ("family", "before"),
    [
        ("blend (50% coated), at planting, 1 pass", "blend (50 % coated), at planting, 1 pass"),
        ("UAN, split, 2 passes", "uan, split, 2 passes"),
    ],
)
def test_a_curve_keeps_the_id_that_was_printed_when_its_family_was_written_otherwise(tiny, family, before):
    row = {"crop": "corn", "family": family, "model": "quadratic-plateau"}
    answer = dict.fromkeys(FIGURES["n_response"].answer, 1.0)
    (found,) = figure_ids("n_response", pd.DataFrame([row | answer]), read_program(tiny.folder))
    assert asked_part(found) == short_id("n_response", "corn", before, "quadratic-plateau", "")
