"""What a sheet says of the nitrogen that both sides got: rows in, sentence out."""

from __future__ import annotations

import pandas as pd
import pytest

from pipeline.display.words.nitrogen_given import nitrogen_given

NONE = float("nan")


def compared(treatment: str, comparator: str, rates=(80.0, 120.0), coated: float = NONE, other: float = 0.0) -> dict:
    return {
        "treatment": treatment,
        "comparator": comparator,
        "treatment_coated_n": coated,
        "comparator_coated_n": other,
        "rates_lb_ac": list(rates),
        "rates_kg_ha": [1.12 * rate for rate in rates],
    }


@pytest.mark.parametrize(
    ("rows", "said"),
    [
        ([compared("half", "urea")], "Both sides got the same nitrogen: 80 and 120 lb/ac."),
        (
            [compared("half", "urea", (120, 80)), compared("half", "split")],
            "Both sides got the same nitrogen: 80 and 120 lb/ac.",
        ),
        (
            [compared("half", "urea"), compared("more", "urea", (40,))],
            "Both sides got the same nitrogen: 80 and 120 lb/ac. More against urea: 40 lb/ac.",
        ),
        (
            [compared("half", "urea"), compared("half", "no nitrogen", ())],
            "Half against urea: both got the same nitrogen, 80 and 120 lb/ac.",
        ),
        ([compared("half", "no nitrogen", ())], ""),
        (
            [compared("half", "a quarter", (), 0.5, 0.25), compared("all coated", "half", (), 1.0, 0.5)],
            "Coated part of the nitrogen: 50% in half, 25% in a quarter and 100% in all coated. Coated nitrogen comes"
            " out slowly.",
        ),
        (
            [compared("blend", "urea", (), share) for share in (0.5, 0.75, 0.5)],
            "Coated part of the nitrogen: 50% or 75% in blend. Coated nitrogen comes out slowly.",
        ),
    ],
    ids=["matched", "all alike", "other rates", "one not matched", "none matched", "coated", "two of one name"],
)
def test_the_nitrogen_of_both_sides_is_told(rows, said):
    assert nitrogen_given(pd.DataFrame(rows), "us") == said


def test_metric_programs_get_metric_rates():
    assert "112 kg/ha" in nitrogen_given(pd.DataFrame([compared("half", "urea", (100,))]), "metric")
