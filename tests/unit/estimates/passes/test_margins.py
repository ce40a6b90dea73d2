"""A declared margin on its way to the test: its unit, and the scale of what it is held against."""

from __future__ import annotations

from datetime import date
from types import SimpleNamespace

import pandas as pd
import pytest

from pipeline.estimates.average.robustness import robustness
from pipeline.estimates.passes.margins import as_good
from pipeline.settings.money import DeclaredMargin

CROPS = pd.DataFrame({"kg_ha_per_display_unit": [62.77]}, index=["corn"])


@pytest.mark.parametrize(
    ("size", "unit", "least", "most"),
    # zero-N yields 4,000 kg/ha below a level of about 11,000, urea at 90 and 135 kg/ha 8 kg per kg N above it
    [(300.0, "kg/ha", 4700, 5100), (0.05, "ratio", 1.6, 1.8)],
)
def test_the_comparator_is_held_above_zero_n_on_the_scale_of_the_margin(build, size, unit, least, most):
    comparisons, trials, treatments, plots, arms = build.program(3, n_places=4, n_seasons=3)
    own, pooled, _ = build.averages(comparisons, trials, treatments, plots, arms)
    margin = DeclaredMargin(size, unit, "half an LSD", date(2090, 11, 15))
    program = SimpleNamespace(comparisons=[SimpleNamespace(id="c", crop="corn", margin=margin)])
    found = SimpleNamespace(trials=trials, treatments=treatments, plots=plots, arms=arms, first_harvests={}, noted=[])
    robust = robustness(own.used, own.grouped, pooled, ["c"])
    frames = {"trial_analyses": own.analyses, "pooled_gains": pooled, "robustness": robust}
    made = as_good(program, found, frames, own.used, None, CROPS)
    rows = made["noninferiority"]
    assert made["robustness"]["ratio_low"].notna().any() == (unit == "ratio")
    assert rows["scale"].eq(unit).all() and rows["assay_sensitivity"].eq("shown").all()
    assert rows["assay_estimate"].between(least, most).all()
    assert rows["assay_n_site_years"].eq(12).all()
