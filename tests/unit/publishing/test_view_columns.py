"""Units and meanings of the columns beside the pages come from what is declared."""

from __future__ import annotations

import pytest

from pipeline.contract.results import EVERY_VIEW, view_columns
from pipeline.publishing.view_columns import told_of
from pipeline.sql_steps import steps_of

# view, column, the columns of the view that name a unit -> its unit
UNITS = [
    ("gains", "estimate", ["unit"], "see the row's unit"),
    ("gains", "estimate_kg_ha", ["unit"], "kg/ha"),
    ("gains", "i2_pct", ["unit"], "%"),
    ("gains", "df", ["unit"], ""),
    ("money", "conf_low", ["unit"], "currency/ac"),
    ("money", "gain", ["unit"], "see the row's unit"),
    ("rate_losses", "conf_low", ["n_unit"], "currency/ac"),
    ("rate_losses", "eonr", ["n_unit"], "see the row's n_unit"),
    ("response_curves", "join_kg_ha", ["unit", "n_unit"], "kg N/ha"),
    ("site_years", "rain_mm", [], "mm"),
    ("findings", "found", [], ""),
]


@pytest.mark.parametrize(("view", "column", "naming", "unit"), UNITS, ids=lambda value: str(value))
def test_a_column_has_the_unit_that_the_view_states_it_in(view, column, naming, unit):
    assert told_of(view, column, naming).unit == unit


def test_a_column_of_a_result_has_its_meaning_and_one_of_nothing_declared_has_none():
    assert told_of("gains", "tau", ["unit"]).meaning == "standard deviation of true gains between fields"
    assert told_of("gains", "estimate_kg_ha", []).meaning == told_of("gains", "estimate", []).meaning != ""
    assert told_of("corrections", "cause", []).meaning == ""


def test_what_is_declared_of_views_is_of_views_that_are_there():
    assert {f"reports.{view}" for view in view_columns()} - {f"reports.{EVERY_VIEW}"} <= set(steps_of(("reports",)))
