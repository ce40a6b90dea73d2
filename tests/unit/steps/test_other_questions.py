"""What the agronomy takes from settings and trials: shares of rainfall classes and other traits."""

from __future__ import annotations

from types import SimpleNamespace

import pandas as pd
import pytest

from pipeline.settings.program import read_program
from pipeline.steps import other_questions


@pytest.fixture
def program(tiny):
    return read_program(tiny.folder)


def test_shares_of_rainfall_classes_come_from_the_reference_years_themselves(program):
    years = pd.DataFrame(
        {
            "place": "Alder",
            "crop": "corn",
            "year": range(2061, 2091),
            "rain_mm": [100.0 + 10 * i for i in range(30)],
            "n_days_missing": 0,
        }
    )
    shares = other_questions.class_shares(program, years).set_index("rainfall_class")["share"]
    assert shares.sum() == pytest.approx(1) and set(shares.index) == {"dry", "normal", "wet"}
    assert 0.1 < shares["dry"] < 0.25 and 0.1 < shares["wet"] < 0.25


@pytest.mark.slow
def test_a_trait_is_compared_like_yield_at_its_last_date(program):
    trials = pd.DataFrame([{"trial_id": f"t{i}", "site_year_id": f"s{i}", "place": f"p{i}", "season": 2091 + i % 2,
                            "crop": "corn", "design": "RCBD",
                            "drainage_group": "W", "rainfall_class": "normal"} for i in range(4)])  # fmt: skip
    arms = pd.DataFrame(
        [
            {
                "comparison_id": program.comparisons[0].id,
                "trial_id": f"t{i}",
                "treatment_code": code,
                "arm": arm,
                "rate_kg_ha": 134.0,
                "rate_weight": 1.0,
            }
            for i in range(4)
            for code, arm in (("B", "treatment"), ("U", "comparator"))
        ]
    )
    treatments = pd.DataFrame(
        [{"trial_id": f"t{i}", "treatment_code": code, "is_zero_n": False} for i in range(4) for code in "BU"]
    )
    rows = [
        {"trial_id": f"t{i}", "block": str(b), "main_plot": None, "plot": f"{b}{code}", "treatment_code": code,
         "trait": "plant height", "unit": "cm",
         "date": pd.Timestamp(day), "value": 200.0 + b + i
         + (code == "B") * (10 + 0.1 * b) + (day < "2091-07") * 1000 * (code == "B")}
        for i in range(4) for b in (1, 2, 3) for code in "BU" for day in ("2091-06-01", "2091-08-01")
    ]  # fmt: skip
    found = SimpleNamespace(trials=trials, treatments=treatments, arms=arms)
    gains, blocks = other_questions.trait_gains(program, found, pd.DataFrame(rows), lambda text: None)
    assert sorted(zip(blocks["trial_id"], blocks["block"])) == [(f"t{i}", str(b)) for i in range(4) for b in (1, 2, 3)]
    tested = gains[gains["target"] == "seasons tested"].iloc[0]
    assert (tested["trait"], tested["unit"], tested["n_site_years"]) == ("plant height", "cm", 4)
    assert tested["estimate"] == pytest.approx(10.2)


def test_no_measurement_no_trait(program):
    none = pd.DataFrame(columns=["trial_id", "trait", "unit", "date"])
    found = other_questions.trait_gains(program, SimpleNamespace(arms=None), none, lambda text: None)
    assert all(table.empty for table in found)
