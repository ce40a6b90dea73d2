"""The margins that a program declares, and the test of each with its assay sensitivity and its economic margin."""

from __future__ import annotations

import pandas as pd

from pipeline.contract.units import KG_HA_PER_LB_AC
from pipeline.estimates.kept_results import by_crop
from pipeline.estimates.passes import assay_sensitivity
from pipeline.estimates.passes.noninferiority import Margin, noninferiority, with_ratio_limits
from pipeline.estimates.trials import site_year_gains as site_years
from pipeline.settings.comparisons import Comparison
from pipeline.settings.program import Program


def as_good(program: Program, found, frames, used, budgets, crops: pd.DataFrame) -> dict[str, pd.DataFrame]:
    """The test of every comparison with a margin, with its assay sensitivity and its economic margin; and robustness,
    where a margin is a ratio with what becomes of its limit.
    """
    margins = {c.id: margin_of(c, crops) for c in program.comparisons if c.margin}
    analyses = site_years.moderated_analyses(frames["trial_analyses"], found.trials)
    arms = found.arms[found.arms["comparison_id"].isin(margins)]
    over_zero = by_crop(_assay_gains, found.trials, [arms, found.treatments, found.plots, analyses])
    limits = {name: margin.limit for name, margin in margins.items()}
    ratios = [name for name, margin in margins.items() if margin.unit == "ratio"]
    assays = assay_sensitivity.assay_sensitivity(over_zero, used, program.comparisons, limits, ratios)
    tests = noninferiority(
        frames["pooled_gains"], used, margins, assays, budgets=budgets, first_harvests=found.first_harvests
    )
    return {
        "noninferiority": tests,
        "robustness": with_ratio_limits(frames["robustness"], used, margins, found.noted),
    }


def _assay_gains(trials, arms, treatments, plots, analyses) -> pd.DataFrame:
    return assay_sensitivity.assay_gains(arms, treatments, plots, trials, analyses)


def margin_of(comparison: Comparison, crops: pd.DataFrame):
    """The declared margin in kg/ha or as a ratio."""
    declared = comparison.margin
    if declared.unit == "ratio":
        return Margin(declared.size, "ratio", declared.basis, declared.fixed_on)
    per_unit = {"kg/ha": 1.0, "lb/ac": KG_HA_PER_LB_AC}.get(declared.unit)
    per_unit = per_unit or float(crops.loc[comparison.crop, "kg_ha_per_display_unit"])
    return Margin(declared.size * per_unit, "kg/ha", declared.basis, declared.fixed_on)
