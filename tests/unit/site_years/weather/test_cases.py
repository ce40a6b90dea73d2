"""What covariates are worked out from, against rows written by hand."""

from __future__ import annotations

import pandas as pd

from pipeline.site_years.weather.cases import Facts, coated_given


def facts(arms: list[tuple], given: list[tuple]) -> Facts:
    arms = pd.DataFrame(arms, columns=["treatment_code", "arm"]).assign(comparison_id="c", trial_id="t")
    columns = ["treatment_code", "applied_on", "product", "n_rate_kg_ha"]
    given = pd.DataFrame(given, columns=columns).assign(
        trial_id="t", applied_on=lambda rows: pd.to_datetime(rows["applied_on"])
    )
    empty = pd.DataFrame()
    return Facts(trials=empty, arms=arms, eligibility=empty, nitrogen_given=given, irrigations=empty)


def test_coated_n_of_all_treatments_of_the_arm_is_added_up_by_day_after_the_comparators_first():
    """Two treatments get 40 and 60 on one day, so that day counts for 100; other products and the other arm do not."""
    found = coated_given(
        facts(
            [("C1", "treatment"), ("C2", "treatment"), ("U", "comparator")],
            [
                ("U", "2091-05-01", "urea", 120.0),
                ("U", "2091-05-03", "coated urea", 9.0),
                ("C1", "2091-05-05", "coated urea", 40.0),
                ("C2", "2091-05-05", "coated urea", 60.0),
                ("C2", "2091-05-05", "urea", 30.0),
                ("C2", "2091-04-29", "coated urea", 20.0),
                ("C2", None, "coated urea", 7.0),
            ],
        ),
        ["coated urea"],
    )
    assert set(found["product"]) == {"coated urea"}
    found = found.sort_values("offset_days")
    assert found["n_rate_kg_ha"].tolist() == [20.0, 100.0, 7.0]
    assert found["offset_days"].tolist()[:2] == [-2.0, 4.0] and found["offset_days"].isna().tolist()[2]
