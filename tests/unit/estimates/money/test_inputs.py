from datetime import date

import numpy as np
import pandas as pd
import pytest

from pipeline.errors import UserError
from pipeline.estimates.money.inputs import Prices, arm_inputs, bought_as
from tests.declared_shapes import check_shape

FIXED = date(2094, 11, 1)


def test_inputs_are_weighted_over_rates_then_averaged_over_trials(build):
    """t1 has both rates (weights 1 and 3), t2 only the first; trials count alike."""
    arms = build.arms(["t1", "t2"], {90.0: ("C90", "U90"), 150.0: ("C150", "U150")}, {90.0: 1.0, 150.0: 3.0})
    arms = arms[~((arms["trial_id"] == "t2") & (arms["rate_kg_ha"] == 150))]
    treatments = pd.DataFrame(
        {
            "trial_id": trial,
            "treatment_code": f"{source}{rate}",
            "n_source": {"C": "coated blend", "U": "urea"}[source],
            "additive": "nitrification inhibitor" if source == "C" else "none",
            "coated_n_fraction": 0.5 if source == "C" else np.nan,
            "n_rate_kg_ha": rate,
            "passes": 1 if source == "C" else 2,
        }
        for trial in ("t1", "t2")
        for source in "CU"
        for rate in (90, 150)
    )
    moistures = pd.DataFrame(
        [("t1", "C90", 18.0), ("t1", "C150", 20.0), ("t1", "U90", 16.0), ("t1", "U150", 16.8), ("t2", "C90", 25.0)],
        columns=["trial_id", "treatment_code", "moisture_pct"],
    )
    found = arm_inputs(arms, treatments, moistures)
    check_shape("arm_inputs", found)
    found = found.set_index("arm")
    treatment = found.loc["treatment"]
    assert treatment["n_rate_kg_ha"] == pytest.approx((135 + 90) / 2)
    assert treatment["coated_n_kg_ha"] == pytest.approx((67.5 + 45) / 2)
    # t2 measured one arm alone, which would charge that arm for a wetter field
    assert found["moisture_pct"].to_dict() == pytest.approx({"treatment": 19.5, "comparator": 16.6})
    assert (treatment["passes"], found.loc["comparator", "passes"], treatment["n_trials"]) == (1, 2, 2)
    one_arm = arm_inputs(arms, treatments, moistures[moistures["treatment_code"].str.startswith("C")])
    assert one_arm["moisture_pct"].isna().all()
    # at 150 one arm alone was measured, and grain of more N may be wetter in either arm
    one_rate = arm_inputs(arms, treatments, moistures[moistures["treatment_code"] != "U150"]).set_index("arm")
    assert one_rate["moisture_pct"].to_dict() == {"treatment": 18.0, "comparator": 16.0}
    assert found["additive"].to_dict() == {"treatment": "nitrification inhibitor", "comparator": ""}


def test_codes_that_share_a_rate_share_its_weight(build):
    """A free factor gives two codes at 90: the mean rate is still that of one 90 and one 150."""
    arms = build.arms(["t1"], {90.0: ("C90", "U90"), 150.0: ("C150", "U150")})
    arms = pd.concat([arms, arms[arms["treatment_code"] == "C90"].assign(treatment_code="C90b")])
    rates = {"C90": 90.0, "C90b": 90.0, "C150": 150.0, "U90": 90.0, "U150": 150.0}
    treatments = pd.DataFrame(
        {
            "trial_id": "t1",
            "treatment_code": code,
            "n_source": "urea",
            "additive": None,
            "coated_n_fraction": 0.0,
            "n_rate_kg_ha": rate,
            "passes": 1,
        }
        for code, rate in rates.items()
    )
    found = arm_inputs(arms, treatments).set_index("arm")
    assert found.loc["treatment", "n_rate_kg_ha"] == pytest.approx(120)


def test_no_arms_give_the_shape(build):
    arms = build.arms(["t1"], {90.0: ("C90", "U90")}).iloc[:0]
    treatments = pd.DataFrame(
        columns=["trial_id", "treatment_code", "n_source", "additive", "coated_n_fraction", "n_rate_kg_ha", "passes"]
    )
    check_shape("arm_inputs", arm_inputs(arms, treatments))


def test_the_premium_is_given_or_derived():
    assert Prices(FIXED, 4.5, {"urea": 0.5, "coated urea": 0.68}).premium == pytest.approx(0.18)
    assert Prices(FIXED, 4.5, {"urea": 0.5, "coated urea": 0.68}, coated_premium=0.2).premium == 0.2
    assert Prices(FIXED, 4.5, {"urea": 0.5}).premium is None


def test_an_arm_of_several_sources_has_a_price_where_they_are_bought_as_one():
    """[coated blend, coated urea] is urea and a premium; urea and UAN have two prices, of which none is lacking."""
    prices = Prices(FIXED, 4.5, {"urea": 0.5, "UAN": 0.6}, coated_premium=0.2)
    assert prices.of_source("coated blend | coated urea", 0.75) == pytest.approx(0.65)
    assert bought_as("coated blend | urea") == "urea"
    assert prices.lacking_for("coated blend | urea", 0.25) == []
    (lacking,) = prices.lacking_for("UAN | coated urea", 0.0)
    assert lacking == "one price per lb N (UAN and urea are bought apart)"
    (lacking,) = prices.lacking_for("ammonium nitrate", 0.0)
    assert lacking == "the price of ammonium nitrate per lb N"


def test_grain_that_came_in_dry_is_not_dried():
    prices = Prices(FIXED, 4.5, drying=0.04, standard_moisture_pct=15.5)
    assert [prices.points_to_dry(m) for m in (14.0, 15.5, 18.0, np.nan)] == [0, 0, 2.5, 0]


def test_an_additive_of_one_arm_is_said_not_to_be_counted():
    arms = {
        side: pd.Series({"moisture_pct": np.nan, "additive": additive})
        for side, additive in (("treatment", "urease inhibitor"), ("comparator", ""))
    }
    assert Prices(FIXED, 4.5).not_counted(arms) == "urease inhibitor of the treatment (no price)"
    assert Prices(FIXED, 4.5).not_counted({"treatment": arms["treatment"], "comparator": arms["treatment"]}) == ""


@pytest.mark.parametrize(
    "changed, words",
    [
        ({"fixed_on": None}, "date"),
        ({"crop_price": 0.0}, "above zero"),
        ({"crop_price": np.nan}, "crop price is nan"),
        ({"pass_cost": -1.0}, "pass cost is -1"),
        ({"nitrogen": {"urea": -0.5}}, "price of urea is -0.5"),
    ],
)
def test_prices_that_cannot_be(changed, words):
    with pytest.raises(UserError, match=words):
        Prices(**{"fixed_on": FIXED, "crop_price": 4.5} | changed)
