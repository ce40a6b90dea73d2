"""The reviewer's page: counts that add up, models in words, and doubts that rest on rows."""

from __future__ import annotations

import re

import pandas as pd
import pytest

from pipeline.display.review import evidence
from pipeline.estimates.engines import one_stage
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
    assert "a random order" in evidence.flow(FLOW), "a trial that is not randomized is counted there too"


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
    assert ": how much more does the first yield, at" in evidence.question(COMPARISON, ", at the same N rate")[0]
    assert "is the first as good as the second" in evidence.question(COMPARISON | {"question": "as good"}, "")[0]


PARTS = pd.DataFrame([
    {"component": name, "standard_deviation": sd, "target": "seasons tested"}
    for name, sd in (("place", 0.0), ("residual", 9.23), ("site-year", 4.84), ("tau2, two-stage REML", 5.2))
])  # fmt: skip


def test_the_parts_of_the_model():
    row = gain_row() | {"df": 28.4, "df_method": "Satterthwaite", "formula": "x"}
    cells = rows_of(evidence.components_table(PARTS, pd.DataFrame([row]), label="p"))["Seasons tested"]
    assert cells == ["Mixed model", "4.8", "zero", "9.2", "28.4 (Satterthwaite)"]
    # each target has its own parts, and the declared one stands first
    ahead = PARTS.assign(target="seasons to come", standard_deviation=[1.0, 8.1, 7.2, 5.2])
    season = ahead[:1].assign(component="season", standard_deviation=3.3)
    both = pd.DataFrame([row | {"is_declared": False, "target": "seasons tested"}, row | {"target": "seasons to come"}])
    table = evidence.components_table(pd.concat([PARTS, ahead, season]), both, label="p")
    assert list(rows_of(table))[-2:] == ["Future seasons", "Seasons tested"]
    assert rows_of(table)["Future seasons"][1:5] == ["7.2", "1.0", "3.3", "8.1"]
    assert rows_of(table)["Seasons tested"][1:5] == ["4.8", "zero", "not in it", "9.2"]


@pytest.mark.parametrize(
    ("besides", "letters", "drawn"),
    [
        ([], "A + P + S + e.", "site-year A, place P and season S (for future seasons only) are drawn"),
        (["trial"], "S + T + e.", "and trial T (where site-years have several) are"),
        (
            ["trial", "plots, lasting"],
            "T + L + e.",
            "and plots L (error that lasts where trials are on the same plots)",
        ),
    ],
)
def test_the_model_and_its_table_have_all_its_parts(besides, letters, drawn):
    row = gain_row() | {"df": 28.4, "df_method": "Satterthwaite", "formula": "x"}
    parts = pd.concat([PARTS, *(PARTS[:1].assign(component=name) for name in besides)])
    assert letters in evidence.model(parts) and drawn in evidence.model(parts)
    table = rows_of(evidence.components_table(parts, pd.DataFrame([row]), label="p"))
    named = [evidence.COMPONENTS[name] for name in besides]
    assert table["Target"] == ["Leads", "A, site-year", "P, place", *named, "e, block", "df of the average"]


def test_every_part_that_a_fit_may_have_has_its_letter():
    assert set(evidence.COMPONENTS) == {*one_stage.COMPONENTS.values(), "residual"}
    assert set(evidence.DRAWN) == set(one_stage.COMPONENTS.values())


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


def test_a_spread_of_zero_has_no_unit():
    row = gain_row(method="two-stage", n_site_years=2) | {"tau": 0.0, "q_stat": 0.4, "i2_pct": 0.0}
    assert evidence.spread(pd.DataFrame([row])).endswith("tau zero; Q = 0.4 on 1 df, I\u00b2 0%.")


def test_every_method_stands_under_its_target_the_one_that_leads_first():
    none = dict.fromkeys(("estimate", "conf_low", "conf_high", "pred_low", "pred_high"), NONE)
    rows = [
        gain_row(method="two-stage", is_headline=False, pred_low=NONE, pred_high=NONE, estimate_id="00000001"),
        gain_row(),
        gain_row(target="seasons to come", is_declared=False, **none, estimate_id="00000002"),
    ]
    lines = evidence.methods_table(pd.DataFrame(rows), label="m").splitlines()
    table = [line.strip("| ").split(" | ") for line in lines if line.startswith("| ")][1:]
    assert [cells[:6] for cells in table] == [
        ["Future seasons", "Mixed model", "**none**", "\u2013", "\u2013", "leads"],
        ["Seasons tested, declared", "Mixed model", "**5.8**", "3.4 to 8.2", "\u22125.8 to 17.4", "leads"],
        ["Seasons tested", "Two-stage", "5.8", "3.4 to 8.2", "\u2013", "\u2013"],
    ]
    assert [cells[6].count(id_) for cells, id_ in zip(table, ("00000002", "b78c8b79", "00000001"), strict=True)] == [
        2
    ] * 3


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
        == "Plots and printed means of both arms in these trials: 8, of which 5 used, 1 set aside (lost: deer), 1 known"
        " by print and 1 not compared (the other arm has no yield beside it)."
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
