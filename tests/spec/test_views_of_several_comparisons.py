"""Where several comparisons stand, a view tells each by its own rows and in the order of program.yml."""

from __future__ import annotations

import pandas as pd
import pytest

from tests.declared_shapes import whole
from tests.spec.test_views_of_results import RESULTS
from tests.tiny_program import write_tiny_program

FIRST, SECOND = "z first", "a second"  # in the order of program.yml, which is not that of their names
INPUTS = "the present inputs"


def _several(table: str, *rows: dict) -> pd.DataFrame:
    told = pd.DataFrame([RESULTS.get(table, {}) | row for row in rows])
    ids = {"estimate_id": [f"{table} {n}" for n in told.index]} if "estimate_id" in told else {}
    return whole(table, told.assign(**ids))


STORED = {
    "comparisons": _several(
        "comparisons",
        {"comparison_id": SECOND, "position": 1, "says": "two", "crop": "cotton"},
        {"comparison_id": FIRST, "position": 0, "says": "one", "crop": "corn"},
    ),
    "budgets": _several(
        "budgets",
        {"comparison_id": SECOND, "unit": "lb/ac"},
        {"comparison_id": FIRST, "unit": "bu/ac"},
        {"comparison_id": FIRST, "unit": "kg/ha", "target": "seasons to come"},
    ),
    "price_grid": _several("price_grid", {"comparison_id": SECOND}, {"comparison_id": FIRST}),
    "runs": _several("runs", {"inputs_sha256": INPUTS}),
    "calibration": _several(
        "calibration",
        {"comparison_id": SECOND, "inputs_sha256": INPUTS},
        {"comparison_id": FIRST, "inputs_sha256": INPUTS},
        {"comparison_id": "gone", "inputs_sha256": INPUTS},
        {"comparison_id": FIRST, "inputs_sha256": "earlier inputs"},
    ),
    "settings_changes": whole(
        "settings_changes",
        pd.DataFrame(
            {"comparison_id": [SECOND, "gone", FIRST], "key": "rates", "before": "120", "now": "80",
             "until_run": "run", "until_day": pd.Timestamp("2092-01-01")}
        ),
    ),
}  # fmt: skip


@pytest.fixture(scope="module")
def views(tmp_path_factory):
    program = write_tiny_program(tmp_path_factory.mktemp("several") / "program")
    stored = {f"estimates.{name}": rows for name, rows in STORED.items()}
    return program.load(lambda warehouse, program, card, tell: (stored, card))


def test_a_cell_of_a_price_grid_is_in_the_unit_of_its_own_budget(views):
    grid = views["reports.price_grid"]
    assert grid[["comparison_id", "unit"]].to_numpy().tolist() == [[FIRST, "bu/ac"], [SECOND, "lb/ac"]]


def test_calibration_is_of_present_inputs_and_comparisons(views):
    assert views["reports.calibration"]["comparison_id"].tolist() == [FIRST, SECOND]


def test_a_changed_rule_is_told_also_of_a_comparison_that_is_gone(views):
    told = views["reports.settings_changes"]
    assert list(zip(told["comparison_id"], told["says"].fillna(""), strict=True)) == [
        (FIRST, "one"),
        (SECOND, "two"),
        ("gone", ""),
    ]


def test_trials_are_counted_by_what_became_of_each(tiny):
    """Of two trials one is held, as its site is not told."""
    tiny.change("trials", 2, "site_id", "")
    stored = {"estimates.comparisons": _several("comparisons", {"comparison_id": "corn-blend-vs-urea"})}
    (flow,) = tiny.load(lambda warehouse, program, card, tell: (stored, card))["reports.flow"].to_dict("records")
    known = {name: flow[name] for name in ("n_listed", "n_harvested", "n_held", "n_planned", "n_accepted")}
    assert known == {"n_listed": 2, "n_harvested": 2, "n_held": 1, "n_planned": 0, "n_accepted": 1}
