"""What a reviewer needs beyond the estimates: verdicts on claims, weights of site-years, and residuals."""

from __future__ import annotations

import pandas as pd

from pipeline.claims import Evidence, judge
from pipeline.estimates.average.diagnostics import diagnostics
from pipeline.estimates.average.weights import headline_weights
from pipeline.settings.program import Program
from pipeline.warehouse import Warehouse


def review(warehouse: Warehouse, program: Program, results: dict[str, pd.DataFrame]) -> dict[str, pd.DataFrame]:
    """Frames for the estimates layer, from the frames that estimate_all gave."""
    pooled, site_years, blocks, components = (
        results[f"estimates.{name}"]
        for name in ("pooled_gains", "site_year_gains", "block_gains", "variance_components")
    )
    trials = warehouse.table("trials.trials")
    tests, budgets = results["estimates.noninferiority"], results["estimates.budgets"]
    slopes = results["estimates.weather_slopes"]
    evidence = Evidence(pooled, site_years, components, tests, budgets, _last_decimals(warehouse, program), slopes)
    return {
        "estimates.claims": judge(program.claims, evidence),
        "estimates.headline_weights": headline_weights(pooled, site_years, blocks, components, trials),
        "estimates.diagnostics": diagnostics(pooled, site_years, blocks, trials),
    }


def _last_decimals(warehouse: Warehouse, program: Program) -> dict[str, float]:
    """One unit of the last decimal that reports print, in kg/ha, by comparison."""
    units = warehouse.table("reference.display_units").set_index("crop")
    return {
        c.id: float(units.loc[c.crop, "kg_ha_per_unit"] * 10.0 ** -units.loc[c.crop, "digits"])
        for c in program.comparisons
    }
