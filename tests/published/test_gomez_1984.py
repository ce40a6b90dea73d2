"""Two single trials of rice, in kg/ha: a randomized complete block design and a completely randomized one.

Source and standing of each number: pipeline/contract/published_checks.yml.
"""

import pandas as pd
import pytest

from pipeline.estimates.trials import designs

SEEDING_RATE = {  # p. 26-28: kg seed per ha by block
    "25": (5113, 5398, 5307, 4678),
    "50": (5346, 5952, 4719, 4264),
    "75": (5272, 5713, 5483, 4749),
    "100": (5164, 4831, 4986, 4410),
    "125": (4804, 4848, 4432, 4748),
    "150": (5254, 4542, 4919, 4098),
}
INSECTICIDE = {  # p. 14-17
    "a": (2537, 2069, 2104, 1797),
    "b": (3366, 2591, 2211, 2544),
    "c": (2536, 2459, 2827, 2385),
    "d": (2387, 2453, 1556, 2116),
    "e": (1997, 1679, 1649, 1859),
    "f": (1796, 1704, 1904, 1320),
    "control": (1401, 1516, 1270, 1077),
}


def analysis(table, design):
    plots = pd.DataFrame(
        [
            {
                "trial_id": "t",
                "block": str(block),
                "main_plot": None,
                "treatment_code": code,
                "value": float(value),
            }
            for code, values in table.items()
            for block, value in enumerate(values)
        ]
    )
    treatments = pd.DataFrame({"trial_id": "t", "treatment_code": list(table), "is_zero_n": False})
    analyses, means = designs.analyze_trials(plots, treatments, pd.DataFrame([{"trial_id": "t", "design": design}]))
    return analyses.iloc[0], means.set_index("treatment_code")


def test_randomised_complete_blocks():
    found, means = analysis(SEEDING_RATE, "RCBD")
    assert found["error_df"] == 15
    assert found["error_variance"] == pytest.approx(110558.411, rel=1e-8)
    assert found["mean"] == pytest.approx(4959.58333, rel=1e-8)
    assert found["cv_pct"] == pytest.approx(6.70425775, rel=1e-8)  # book: 6.7
    assert found["lsd_5pct"] == pytest.approx(501.136405, rel=1e-8)
    assert means.loc["50", "adjusted_mean"] == pytest.approx(5070.25)
    assert means.loc["50", "std_error"] == pytest.approx((110558.411 / 4) ** 0.5, rel=1e-8)


def test_completely_randomised():
    found, _ = analysis(INSECTICIDE, "CRD")
    assert found["error_df"] == 21
    assert found["error_variance"] == pytest.approx(94773.2143, rel=1e-8)
    assert found["cv_pct"] == pytest.approx(15.0934554, rel=1e-8)  # book: 15.1
    assert found["lsd_5pct"] == pytest.approx(452.700013, rel=1e-8)
