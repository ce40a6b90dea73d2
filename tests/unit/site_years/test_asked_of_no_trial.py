"""What a comparison asks for and no trial has."""

from __future__ import annotations

import pandas as pd
import pytest

from pipeline.contract.units import KG_HA_PER_LB_AC
from pipeline.settings.program import read_program
from pipeline.site_years.asked_of_no_trial import asked_of_no_trial

TREATMENTS = pd.DataFrame(
    [
        ("a", "urea", 120),
        ("a", "coated blend", 120),
        ("b", "urea", 160),
        ("c", "coated blend", 160),
        ("d", None, None),  # of a trial that is not about nitrogen
    ],
    columns=["trial_id", "n_source", "n_rate_lb_ac"],
).assign(crop="corn", treatment_code="t", n_rate_kg_ha=lambda rows: rows["n_rate_lb_ac"] * KG_HA_PER_LB_AC)


@pytest.mark.parametrize(
    ("old", "new", "asked"),
    [
        ("program: Tiny", "program: Tiny", []),
        (
            "{120: 1}",
            "{120: 1, 160: 1}",
            ["160 lb/ac in both arms of corn-blend-vs-urea"],
        ),  # not in one and the same trial
        ("rates_lb_ac: {120: 1}", "rates_kg_ha: {134.5: 1, 200: 1}", ["200 kg/ha in both arms of corn-blend-vs-urea"]),
        ("comparator: {n_source: urea}", "comparator: {n_source: uan}", ["the comparator of corn-blend-vs-urea"]),
        # arms that overlap leave trials out for another reason, which their trials say
        ("comparator: {n_source: urea}", "comparator: {n_source: [urea, coated blend]}", []),
        ("crop: corn", "crop: cotton", []),
    ],
)
def test_what_no_trial_has(tiny, old, new, asked):
    tiny.settings(old, new)
    found = asked_of_no_trial(read_program(tiny.folder).comparisons, TREATMENTS, "us")
    assert found["asked"].tolist() == asked
    assert found["there"].isin(["120, 160 lb/ac", "135, 179 kg/ha"]).all()
