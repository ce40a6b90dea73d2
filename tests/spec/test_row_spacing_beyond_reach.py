"""A row spacing beyond its hard range is not known: no yield is worked out from it."""

from __future__ import annotations

import pytest

BEYOND = "trials.row_spacing outside its hard range"


@pytest.mark.parametrize(("spacing", "is_known"), [("30", True), ("60", True), ("300", False), ("0", False)])
def test_plots_whose_width_rests_on_it_have_no_yield_where_it_is_not_known(tiny, spacing, is_known):
    tiny.fill("plots", "harvest_width_ft", "")
    tiny.fill("trials", "row_spacing_in", spacing)
    with tiny.loaded() as warehouse:
        plots, findings = warehouse.table("trials.plots"), warehouse.table("trials.findings")
    of_season = plots[plots["season"] == 2091]
    assert len(of_season) and of_season["yield_kg_ha"].notna().eq(is_known).all()
    lacking = findings[findings["check_name"] == "harvested plot without yield"]
    assert (BEYOND not in set(findings["check_name"])) == is_known
    assert lacking.empty == is_known


def test_plots_with_a_width_of_their_own_keep_their_yields(tiny):
    tiny.fill("plots", "rows_harvested", "")
    tiny.fill("trials", "row_spacing_in", "300")
    with tiny.loaded() as warehouse:
        plots = warehouse.table("trials.plots")
    assert plots["yield_kg_ha"].notna().all()
