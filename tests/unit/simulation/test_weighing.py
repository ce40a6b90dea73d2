"""What is written down gives the true yield back."""

from __future__ import annotations

import pytest

from pipeline.contract.units import KG_PER_LB, M_PER_FT
from pipeline.simulation.scenario import CROPS
from tests.yields_by_hand import grain_yield_kg_ha, lint_yield_kg_ha


@pytest.mark.parametrize("name", ["corn", "cotton", "soybean"])
def test_yield_computed_from_the_delivered_columns_is_the_true_yield_within_the_scales_step(program, name):
    crop = CROPS[name]
    plots = program.tables["plots"].merge(program.plot_yields, on=["trial_id", "plot"], suffixes=("", "_true"))
    plots = plots[plots["crop"] == name]
    width_m = plots["rows_harvested"] * crop.row_spacing_in / 12 * M_PER_FT
    area_m2 = width_m * plots["harvest_length_ft"] * M_PER_FT
    weight_kg = plots["harvest_weight_lb"] * KG_PER_LB
    if name == "cotton":
        found = lint_yield_kg_ha(weight_kg, plots["gin_turnout_fraction"], area_m2)
        step = lint_yield_kg_ha(crop.scale_step_lb * KG_PER_LB, plots["gin_turnout_fraction"], area_m2)
    else:
        standard = crop.standard_moisture_pct
        found = grain_yield_kg_ha(weight_kg, plots["moisture_pct"], standard, area_m2)
        step = grain_yield_kg_ha(crop.scale_step_lb * KG_PER_LB, plots["moisture_pct"], standard, area_m2)
    gap = (found - plots["yield_per_ac"] * crop.kg_ha_per_unit).abs()
    assert len(plots) > 400
    assert (gap <= step / 2 * 1.001).all()
    assert gap.max() > 0  # a scale rounds


def test_measured_columns_belong_to_the_crop(program):
    plots = program.tables["plots"].merge(program.tables["trials"][["trial_id", "crop"]], on="trial_id")
    cotton = plots["crop"] == "cotton"
    assert plots.loc[cotton, "moisture_pct"].isna().all() and plots.loc[cotton, "gin_turnout_fraction"].notna().all()
    assert plots.loc[~cotton, "moisture_pct"].notna().all() and plots.loc[~cotton, "gin_turnout_fraction"].isna().all()
