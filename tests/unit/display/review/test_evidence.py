"""The reviewer's page: counts that add up, models in words, and doubts that rest on rows."""

from __future__ import annotations

import re

import pandas as pd

from pipeline.display.review import evidence
from tests.unit.display.rows import DECLARED, NONE, gain_row
from tests.unit.display.season.test_comparisons import rows_of

FLOW = {
    "n_listed": 37,
    "n_planned": 0,
    "n_not_harvested": 1,
    "n_held": 3,
    "n_not_eligible": 2,
    "n_used": 31,
    "n_site_years": 31,
}
COMPARISON = {
    "question": "gain",
    "says": "blend against urea",
    "unit": "bu/ac",
    "declared_target": "seasons tested",
    "n_places": 9,
    "seasons": "2091, 2092, 2093",
    "may_differ": "n_source",
    "also_differs": None,
    **DECLARED,
    "n_seasons": 5,
    "n_trials_missing_rates": 0,
}


def test_the_flow_adds_up():
    listed, *parts = (
        int(n) for n in re.findall(r"(?<!\()\b(\d+) (?:trials|used|not|held|without)", evidence.flow(FLOW))
    )
    assert listed == sum(parts) == 37 and len(parts) == 4
    assert "31 used (31 site-years)" in evidence.flow(FLOW)


def test_the_question_names_target_and_date():
    said = " ".join(evidence.question(COMPARISON, ", at the same N rate"))
    assert (
        "over the seasons tested (2091 to 2093) and places like these" in said
        and "Declared on November 15, 2090, before the first harvest it uses (October 2, 2091)." in said
    )
    said = " ".join(evidence.question(COMPARISON | {"declared_target": "seasons to come"}, ""))
    assert "future seasons included" in said
    said = " ".join(evidence.question(COMPARISON | {"n_places": 2}, ""))
    assert "over the seasons tested (2091 to 2093) at these 2 places" in said
    assert "as declared: N source. What also differed: nothing that was recorded." in said
    also = evidence.question(COMPARISON | {"may_differ": None, "also_differs": "placement"}, "")[2]
    assert also == "What else may differ between the two, as declared: nothing. What also differed: placement."
    assert "is the first as good as the second" in evidence.question(COMPARISON | {"question": "as good"}, "")[0]


PARTS = pd.DataFrame([
    {"component": name, "standard_deviation": sd, "target": "seasons tested"}
    for name, sd in (("place", 0.0), ("residual", 9.23), ("site-year", 4.84), ("tau2, two-stage REML", 5.2))
])  # fmt: skip


def test_the_parts_of_the_model():
    row = gain_row() | {"df": 28.4, "df_method": "Satterthwaite", "formula": "x"}
    cells = rows_of(evidence.components_table(PARTS, pd.DataFrame([row]), label="p"))["Seasons tested"]
    assert cells == ["Mixed model", "4.8", "zero", "9.2", "28.4 (Satterthwaite)"]


def test_without_a_model_the_method_is_said():
    row = gain_row(method="plain mean") | {"df": 3, "df_method": "x", "formula": "mean of the site-year gains"}
    table = evidence.components_table(PARTS.iloc[:0], pd.DataFrame([row]), label="p")
    assert rows_of(table)["Seasons tested"] == ["Plain mean: mean of the site-year gains", "3.0 (x)"]
    assert "Standard deviations" not in table and "The mixed model is not fitted" in table


def test_spread_between_site_years():
    model = gain_row() | {"q_stat": NONE}
    row = gain_row(method="two-stage") | {"tau": 4.84, "q_stat": 80.26, "i2_pct": 58.2}
    assert evidence.spread(pd.DataFrame([model, row])).endswith("tau 4.8 bu/ac; Q = 80.3 on 32 df, I\u00b2 58%.")
    assert evidence.spread(pd.DataFrame([model])) == ""


def test_plots_add_up_by_fate():
    sources = pd.DataFrame(
        {
            "arm": ["treatment"] * 8 + ["joins the blocks"],
            "fate": ["used"] * 5 + ["set aside", "known by print", "not compared", "used"],
            "reason": [None] * 5 + ["lost: deer", "mean of 4 blocks", "the other arm has no yield beside it", None],
        }
    )
    assert (
        evidence.plots(sources)
        == "Plots and printed means of both arms in these trials: 8, of which 5 used, 1 set aside, 1 known by print and"
        " 1 not compared (lost: deer and the other arm has no yield beside it)."
    )


def test_the_heaviest_site_year():
    weighed = pd.DataFrame(
        {"weight": [0.03, 0.041, NONE], "place": ["Alder", "Birch", "Cedar"], "season": [2091, 2092, 2093]}
    )
    assert "site-year, Birch 2092, has 4.1% of the weight" in evidence.heaviest(weighed)
    assert evidence.heaviest(weighed.assign(weight=NONE)) == ""


def test_left_out_trials_with_reasons():
    rows = pd.DataFrame({"trial_id": ["a", "b"], "reason": ["held: x", "not harvested: lost"]})
    assert (
        evidence.left_out(rows) == "Left out: a, held: x; b, not harvested: lost."
        and evidence.left_out(rows.iloc[:0]) == ""
    )


def test_findings_and_corrections_of_the_used_trials():
    found = pd.DataFrame(
        {
            "trial_id": ["a", "a", "b", None],
            "check_name": ["yield unusual"] * 2 + ["row repeated"] * 2,
            "severity": "noted",
        }
    )
    sources = pd.DataFrame({"trial_id": ["a", "c"]})
    corrections = pd.DataFrame({"correction": ["corrections.yml line 1"] * 2})
    assert (
        evidence.findings(found, sources, corrections)
        == "Findings on these trials: yield unusual (noted, 2 rows). Corrected in their data: 2 cells by"
        " corrections.yml line 1."
    )
    assert (
        evidence.findings(found, sources.iloc[1:], corrections.iloc[:0])
        == "Findings on these trials: none. Corrected in their data: nothing."
    )
