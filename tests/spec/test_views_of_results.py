"""What the views say of each stored result, column by column: in the readers' unit where it is declared in kg/ha.

Every number of a row is another, so that neither a wrong divisor nor one column in the place of another goes unseen.
"""

from __future__ import annotations

import math

import pandas as pd
import pytest

from pipeline.contract.results import declared_results
from tests.declared_shapes import whole
from tests.tiny_program import write_tiny_program

LB_AC = 0.45359237 / (43560 * 0.3048**2) * 10_000
# of a bushel of corn per acre, and of a lb of N; the evidence of these claims is in kg/ha
SIZES = {"kg/ha": 56 * LB_AC, "see evidence_unit": 56 * LB_AC, "kg N/ha": LB_AC}
SQUARES = {"tau2": "tau", "variance": "standard_deviation"}  # stored -> the column that tells its root
# view -> the result that it tells
VIEWS = {
    "agreement": "agreement",
    "as_good": "noninferiority",
    "calibration": "calibration",
    "changes": "run_changes",
    "claims": "claims",
    "diagnostics": "diagnostics",
    "efficiencies": "efficiencies",
    "eonr_grid": "eonr_grid",
    "explored": "explored",
    "explored_site_years": "explored_site_years",
    "field_shares": "field_shares",
    "gains": "pooled_gains",
    "headline_weights": "headline_weights",
    "long_run_gains": "long_run_gains",
    "money": "budgets",
    "needed": "needed",
    "nitrogen_saved": "nitrogen_saved",
    "outlook": "outlook",
    "price_grid": "price_grid",
    "rate_means": "rate_means",
    "response_curves": "n_response",
    "robustness": "robustness",
    "shrunken_gains": "shrunken_gains",
    "site_year_gains": "site_year_gains",
    "site_year_optima": "site_year_optima",
    "substitution": "substitution",
    "treatment_means": "treatment_means",
    "trial_curves": "n_response",
    "trials": "trial_analyses",
    "variance_components": "variance_components",
    "weather_gains": "weather_gains",
}
WORDS = {
    "comparison_id": "corn-blend-vs-urea", "crop": "corn", "target": "seasons tested", "trial_id": "2091-A-corn",
    "site_year_id": "alder-2091", "treatment_code": "U-120", "run_id": "run", "inputs_sha256": "inputs",
    "moderator": "all", "scale": "kg/ha", "evidence_unit": "kg/ha", "kind": "site-year", "left_out": "2091",
    "place": "Alder",
}  # fmt: skip
SAID = {"rates": "{}", "level": "all"}  # of one table only, or of all but one
OTHERWISE = {
    ("eonr_grid", "price_ratio"),  # money per lb of N over money per bushel
    ("money", "kg_ha_per_unit"),
    ("site_year_gains", "rates_missing"),
}
NOT_OF_THE_RESULT = {"position", "unit", "digits", "season"}


def _row(table: str) -> dict:
    found = {}
    for number, column in enumerate(declared_results()[table].columns, start=len(table)):
        name = column.name
        if column.type == "number":
            found[name] = 1000.0 + 17 * number
        elif column.type == "integer":
            found[name] = 2091 if name == "season" else 200 + number
        elif column.type == "text":
            found[name] = WORDS.get(name) or SAID.get(name) or f"{name} of {table}"
        elif column.type == "yes_no":
            found[name] = True
        elif column.type == "date":
            found[name] = pd.Timestamp("2090-01-01")
    return found | ({"level": "pooled"} if table in ("n_response", "eonr_grid") else {})


RESULTS = {table: _row(table) for table in (*VIEWS.values(), "comparisons", "runs", "source_prices")}
RESULTS["source_prices"]["family"] = RESULTS["n_response"]["family"]
# rows that stand beside these in a table, and that no other view may take for them
BESIDE = {
    "pooled_gains": ({"is_headline": False}, {"moderator": "drainage group"}, {"target": "seasons to come"}),
    "long_run_gains": ({"target": "seasons to come"},),
    "source_prices": ({"family": "another"}, {"crop": "cotton"}),
    "n_response": ({"level": "trial"}, {"level": "trial", "is_primary": False}),
}
KEY = ("trial_id", "treatment_code", "target", "moderator", "is_headline")


@pytest.fixture(scope="module")
def views(tmp_path_factory):
    stored = {}
    for table, row in RESULTS.items():
        beside = [row | other | {"estimate_id": f"beside {n}"} for n, other in enumerate(BESIDE.get(table, ()))]
        rows = pd.DataFrame([row, *beside])
        stored[f"estimates.{table}"] = whole(table, rows if "estimate_id" in row else rows[list(row)])
    program = write_tiny_program(tmp_path_factory.mktemp("views") / "program")
    return program.load(lambda warehouse, program, card, tell: (stored, card))


def _expected(table: str, view: str) -> dict[str, object]:
    """By column, what its result says: in the readers' unit under its own name, as stored under one that says kg/ha."""
    row, found = RESULTS[table], {}
    for column in declared_results()[table].columns:
        value, size = row.get(column.name), SIZES.get(column.unit)
        if column.by_run or column.name in NOT_OF_THE_RESULT or (view, column.name) in OTHERWISE:
            continue
        found[column.name] = value if size is None or column.name.endswith("_kg_ha") else value / size
        if size is not None:
            found[f"{column.name}_kg_ha"] = value
    return found | {root: math.sqrt(row[name]) / SIZES["kg/ha"] for name, root in SQUARES.items() if name in row}


@pytest.mark.parametrize(("view", "table"), VIEWS.items())
def test_a_view_tells_its_result_in_the_units_of_the_readers(views, view, table):
    rows = views[f"reports.{view}"]
    for name in (name for name in KEY if name in RESULTS[table] and name in rows):
        rows = rows[rows[name] == RESULTS[table][name]]
    assert len(rows) == 1
    told, expected = rows.iloc[0], _expected(table, view)
    names = [name for name in rows.columns if name in expected]
    assert len(names) >= 3
    assert [told[name] for name in names] == [
        pytest.approx(expected[name]) if isinstance(expected[name], float) else expected[name] for name in names
    ]


def test_what_a_view_takes_from_another_result_is_of_its_own_comparison_and_target(views):
    of_gain = RESULTS["pooled_gains"]
    half = (of_gain["conf_high"] - of_gain["conf_low"]) / 2 / SIZES["kg/ha"]
    assert views["reports.outlook"]["printed_half_width"].tolist() == pytest.approx([half])
    assert views["reports.money"]["gain_estimate_id"].tolist() == [of_gain["estimate_id"]]
    for view in ("response_curves", "trial_curves"):
        assert views[f"reports.{view}"]["n_price_per_lb"].tolist() == [RESULTS["source_prices"]["n_price_per_lb"]]


# unit of a claim's evidence -> its size in the readers' unit, that unit, decimals; of rain in inches and warmth in °F
EVIDENCE = {
    None: (SIZES["kg/ha"], "bu/ac", 1),
    "kg/ha": (SIZES["kg/ha"], "bu/ac", 1),
    "ratio": (1, "ratio", 3),
    "$/ac": (1, "$/ac", 2),
    "kg/ha per mm": (SIZES["kg/ha"] / 25.4, "bu/ac per in.", 1),
    "kg/ha per C": (SIZES["kg/ha"] / (5 / 9), "bu/ac per °F", 1),
    "kg/ha per %": (SIZES["kg/ha"] / 10, "bu/ac per 10%", 1),
}


def test_a_claim_is_told_in_the_unit_of_its_evidence(tiny):
    names = ("stated", "estimate", "conf_low", "conf_high", "half_width_wanted")
    rows = [RESULTS["claims"] | {"position": n, "evidence_unit": unit} for n, unit in enumerate(EVIDENCE)]
    stored = {"estimates.comparisons": pd.DataFrame([RESULTS["comparisons"]]), "estimates.claims": pd.DataFrame(rows)}
    stored = {name: whole(name.removeprefix("estimates."), frame) for name, frame in stored.items()}
    told = tiny.load(lambda warehouse, program, card, tell: (stored, card))["reports.claims"]
    assert list(zip(told["unit"], told["digits"], strict=True)) == [(unit, n) for _, unit, n in EVIDENCE.values()]
    for name in names:
        assert told[name].tolist() == pytest.approx([rows[0][name] / size for size, *_ in EVIDENCE.values()])
