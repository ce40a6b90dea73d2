"""The partial budget against two whole budgets of the costs that vary, one for each treatment.

Gross field benefit = yield x price; net benefit = gross field benefit less the total costs that vary; the change to
another treatment is worth the difference of their net benefits. A break-even gain is the one at which both have the
same net benefit, and the marginal rate of return of the change is then zero. Every amount is drawn.

Source and standing of each number: pipeline/contract/published_checks.yml.
"""

from datetime import date

import pandas as pd
import pytest
from hypothesis import given
from hypothesis import strategies as st

from pipeline.contract.units import KG_HA_PER_LB_AC, bushel_kg_ha
from pipeline.estimates.money.inputs import Prices
from pipeline.estimates.money.partial_budget import budget
from pipeline.estimates.passes.noninferiority import Margin, noninferiority

BUSHEL = bushel_kg_ha(56)
STANDARD = 15.5
money = st.floats(0.0, 2.0).map(lambda x: round(x, 3))
arm = st.fixed_dictionaries(
    {"rate": st.floats(0, 240), "coated": st.floats(0, 1), "passes": st.integers(0, 3), "moisture": st.floats(10, 30)}
)


def net_benefit(yield_bu: float, used: dict, price: dict) -> tuple[float, float]:
    """(net benefit, total costs that vary) of one treatment, per acre."""
    points = max(0.0, used["moisture"] - STANDARD)
    costs_that_vary = (
        used["rate"] * price["n"]
        + used["rate"] * used["coated"] * price["premium"]
        + used["passes"] * price["pass"]
        + yield_bu * (price["hauling"] + points * price["drying"])
    )
    return yield_bu * price["crop"] - costs_that_vary, costs_that_vary


def budget_of(gain: float, comparator_bu: float, arms: dict, price: dict) -> pd.Series:
    rows = [
        {
            "comparison_id": "c",
            "arm": side,
            "n_source": "coated blend" if used["coated"] else "urea",
            "additive": "",
            "passes": used["passes"],
            "n_rate_kg_ha": used["rate"] * KG_HA_PER_LB_AC,
            "coated_n_kg_ha": used["rate"] * used["coated"] * KG_HA_PER_LB_AC,
            "moisture_pct": used["moisture"],
            "n_trials": 5,
        }
        for side, used in arms.items()
    ]
    prices = Prices(date(2094, 11, 1), price["crop"], {"urea": price["n"]}, price["premium"], price["pass"],
                    hauling=price["hauling"], drying=price["drying"], standard_moisture_pct=STANDARD)  # fmt: skip
    average = pd.Series({"comparison_id": "c", "target": "seasons tested", "estimate": gain * BUSHEL,
                         "std_error": BUSHEL, "df": 9.0,
                         "conf_level": 0.95, "tau2": 1.0, "n_site_years": 10, "n_seasons": 3})  # fmt: skip
    return budget(
        average,
        pd.DataFrame(rows),
        prices,
        comparator_yield_kg_ha=comparator_bu * BUSHEL,
        unit="bu/ac",
        kg_ha_per_unit=BUSHEL,
    )[0].iloc[0]


@given(
    arms=st.fixed_dictionaries({"treatment": arm, "comparator": arm}),
    price=st.fixed_dictionaries(
        {
            "crop": st.floats(3.5, 9),
            "n": money,
            "premium": money,
            "pass": st.floats(0, 20),
            "hauling": st.floats(0, 0.5),
            "drying": st.floats(0, 0.1),
        }
    ),
    gain=st.floats(-40, 40),
    comparator_bu=st.floats(60, 250),
)
def test_net_change_is_the_difference_of_net_benefits(arms, price, gain, comparator_bu):
    row = budget_of(gain, comparator_bu, arms, price)
    old, old_costs = net_benefit(comparator_bu, arms["comparator"], price)
    new, new_costs = net_benefit(comparator_bu + gain, arms["treatment"], price)
    assert row["net_change"] == pytest.approx(new - old, abs=1e-8)
    boxes = row["added_costs"] - row["reduced_costs"]
    assert boxes == pytest.approx(new_costs - old_costs, abs=1e-8), (
        "the added costs less those saved are the change in costs that vary"
    )
    even, _ = net_benefit(comparator_bu + row["break_even_gain"], arms["treatment"], price)
    assert even == pytest.approx(old, abs=1e-7)
    still_pays, _ = net_benefit(comparator_bu - economic_margin(row) / BUSHEL, arms["treatment"], price)
    assert still_pays == pytest.approx(old, abs=1e-7), "the loss that just uses up what is saved"


def economic_margin(row: pd.Series) -> float:
    """kg/ha, as the test of as good takes it from the budget."""
    margins = {"c": Margin(200.0, "kg/ha", "drawn", date(2090, 11, 15))}
    pooled = pd.DataFrame(columns=["comparison_id", "target", "moderator", "is_headline"])
    site_years, assays = (
        pd.DataFrame(columns=["comparison_id", "gain", "comparator_mean"]),
        pd.DataFrame(columns=["comparison_id"]),
    )
    return float(
        noninferiority(pooled, site_years, margins, assays, budgets=row.to_frame().T)["economic_margin_kg_ha"].iloc[0]
    )
