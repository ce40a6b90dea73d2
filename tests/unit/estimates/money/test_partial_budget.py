"""Premiums and break-even gains of the drawn tables are arithmetic by hand at invented prices."""

from datetime import date

import numpy as np
import pandas as pd
import pytest
from scipy import stats

from pipeline.contract.units import KG_HA_PER_LB_AC, bushel_kg_ha
from pipeline.estimates.money.inputs import Prices
from pipeline.estimates.money.partial_budget import OF_THE_PROGRAM, budget
from tests.declared_shapes import check_shape, check_shapes

FIXED = date(2094, 11, 1)
BUSHEL = bushel_kg_ha(56)
CORN = {"fixed_on": FIXED, "crop_price": 4.50, "nitrogen": {"urea": 0.50}, "coated_premium": 0.18, "pass_cost": 12.0}
COTTON = CORN | {"crop_price": 0.72}


def arms(rate_lb, coated_share, comparator_passes, moisture=(np.nan, np.nan), source="urea"):
    shared = {"comparison_id": "c", "additive": "", "n_rate_kg_ha": rate_lb * KG_HA_PER_LB_AC, "n_trials": 9}
    return pd.DataFrame([
        shared | {"arm": "treatment", "n_source": "coated blend", "passes": 1.0, "moisture_pct": moisture[0],
                  "coated_n_kg_ha": coated_share * rate_lb * KG_HA_PER_LB_AC},
        shared | {"arm": "comparator", "n_source": source, "passes": float(comparator_passes),
                  "moisture_pct": moisture[1],
                  "coated_n_kg_ha": 0.0},
    ])  # fmt: skip


def gain_row(estimate=5.0, std_error=1.7, tau=5.0, per=BUSHEL, **others):
    return pd.Series(
        {
            "comparison_id": "c",
            "target": "seasons to come",
            "estimate": estimate * per,
            "std_error": std_error * per,
            "df": 20.0,
            "conf_level": 0.95,
            "tau2": (tau * per) ** 2,
            "n_site_years": 36,
            "n_seasons": 4,
        }
        | others
    )


def of(gain, inputs, prices, *, unit="bu/ac", per=BUSHEL, yield_units=178.0):
    return budget(gain, inputs, prices, comparator_yield_kg_ha=yield_units * per, unit=unit, kg_ha_per_unit=per)


# coated share, premium $/ac, break-even bu/ac against one-time urea and against a split (one pass saved)
CORN_160_LB = [(0.25, 7.20, 1.6, -1.1), (0.50, 14.40, 3.2, 0.5), (0.75, 21.60, 4.8, 2.1), (1.00, 28.80, 6.4, 3.7)]
COTTON_90_LB = [(0.25, 4.05, 5.6, -11.0), (0.50, 8.10, 11.3, -5.4), (0.75, 12.15, 16.9, 0.2), (1.00, 16.20, 22.5, 5.8)]


@pytest.mark.parametrize("share, premium, once, split", CORN_160_LB)
def test_corn_at_160_lb(share, premium, once, split):
    for passes, expected in ((1, once), (2, split)):
        row = of(gain_row(), arms(160, share, passes), Prices(**CORN))[0].iloc[0]
        assert row["cost"] == pytest.approx(premium - 12 * (passes - 1))
        assert row["break_even_gain"] == pytest.approx(expected, abs=0.05)
        assert row["net_change"] == pytest.approx(5 * 4.50 - row["cost"])


@pytest.mark.parametrize("share, premium, once, split", COTTON_90_LB)
def test_cotton_at_90_lb(share, premium, once, split):
    for passes, expected in ((1, once), (2, split)):
        gain = gain_row(20, 15, per=KG_HA_PER_LB_AC)
        row = of(gain, arms(90, share, passes), Prices(**COTTON), unit="lb/ac", per=KG_HA_PER_LB_AC)[0].iloc[0]
        assert row["cost"] == pytest.approx(premium - 12 * (passes - 1))
        # printed to a tenth; 4.05 / 0.72 = 5.625 and 11.25 lie on or near a rounding edge
        assert row["break_even_gain"] == pytest.approx(expected, abs=0.0501)


def test_every_item_by_hand():
    """Drying 2 ct per point and bu: treatment 19.5 % (4 points), comparator 18.5 % (3 points), 180 bu."""
    prices = Prices(**CORN | {"hauling": 0.10, "drying": 0.02, "standard_moisture_pct": 15.5})
    found, items, _ = of(gain_row(4.0), arms(100, 0.5, 2, (19.5, 18.5)), prices, yield_units=180)
    row = found.iloc[0]
    assert row["cost"] == pytest.approx(9.00 - 12.00 + 0.02 * 180 * 1)
    assert row["value_per_unit"] == pytest.approx(4.50 - 0.10 - 0.08)
    assert row["net_change"] == pytest.approx(4 * 4.32 - 0.60)
    assert row["break_even_gain_kg_ha"] == pytest.approx(0.60 / 4.32 * BUSHEL) and row["not_counted"] == ""
    drawn = {(i.box, i.item): round(i.amount, 10) for i in items.itertuples()}
    assert drawn == {
        ("added returns", "yield at the crop price"): 18.00,
        ("added costs", "premium for coated nitrogen"): 9.00,
        ("reduced costs", "passes over the field"): 12.00,
        ("added costs", "drying at each arm's own moisture"): 3.60,
        ("added costs", "harvest costs of the difference in yield"): 0.72,
    }


def test_only_the_coated_n_that_differs_pays_a_premium():
    """75 % against 25 % of 160 lb: 80 lb at $0.18, and only one price of urea on either side."""
    inputs = arms(160, 0.75, 1, source="coated blend")
    inputs.loc[1, "coated_n_kg_ha"] = 0.25 * 160 * KG_HA_PER_LB_AC
    assert of(gain_row(), inputs, Prices(**CORN))[0].iloc[0]["cost"] == pytest.approx(14.40)


def test_zero_n_needs_no_price_of_nitrogen():
    """Against zero-N without a pass: 160 lb at $0.50, 80 lb coated at $0.18, one pass at $12."""
    inputs = arms(160, 0.5, 0, source="none")
    inputs.loc[1, "n_rate_kg_ha"] = 0.0
    found = of(gain_row(), inputs, Prices(**CORN))[0].iloc[0]
    assert found["reason"] == "" and found["cost"] == pytest.approx(80 + 14.40 + 12)


def test_harvest_costs_saved_with_a_loss_are_not_said_to_be_of_yield_gained():
    prices = Prices(**CORN | {"hauling": 0.10})
    items = of(gain_row(-4.0), arms(100, 0.5, 1), prices)[1].set_index("item")
    assert items.loc["harvest costs of the difference in yield", "box"] == "reduced costs"
    assert not items.index.str.contains("gained").any()


@pytest.mark.parametrize("gain", [-6.0, 0.0, 6.0])
@pytest.mark.parametrize("passes", [1, 2, 3])
def test_the_four_boxes_add_up_to_the_net_change(gain, passes):
    prices = Prices(**CORN | {"hauling": 0.2})
    row = of(gain_row(gain), arms(120, 0.5, passes), prices)[0].iloc[0]
    boxes = row["added_returns"] + row["reduced_costs"] - row["added_costs"] - row["reduced_returns"]
    assert boxes == pytest.approx(row["net_change"])
    assert (row[["added_returns", "reduced_costs", "added_costs", "reduced_returns"]] >= 0).all()


def test_another_source_and_rate_change_the_nitrogen_bill():
    inputs = arms(150, 0.0, 1, source="uan 32")
    inputs.loc[0, "n_rate_kg_ha"] = 120 * KG_HA_PER_LB_AC
    row = of(gain_row(0.0), inputs, Prices(**CORN | {"nitrogen": {"urea": 0.50, "uan 32": 0.60}}))[0].iloc[0]
    assert row["cost"] == pytest.approx(120 * 0.50 - 150 * 0.60)


def test_interval_is_the_gains_own_in_money():
    row = of(gain_row(5, 2), arms(160, 0.5, 1), Prices(**CORN))[0].iloc[0]
    half = 2.0859634 * 2 * 4.50  # t(0.975, 20)
    assert row["conf_high"] - row["net_change"] == pytest.approx(half)
    assert row["net_change"] - row["conf_low"] == pytest.approx(half)
    assert "Only the gain is uncertain" in row["interval_covers"]


def test_chances_by_the_formula():
    row = of(gain_row(5, 1.7, 5), arms(160, 0.5, 1), Prices(**CORN))[0].iloc[0]
    assert row["average_pays_tenths"] == round(10 * stats.t.cdf((5 - 3.2) / 1.7, 20)) == 8
    assert row["fields_pay_tenths"] == round(10 * stats.norm.cdf((5 - 3.2) / 5)) == 6


@pytest.mark.parametrize(
    "others, words",
    [
        ({"n_site_years": 5}, "fewer than 6 site-years"),
        ({"n_seasons": 2}, "or 3 seasons"),
        ({"tau2": np.nan}, "spread between fields"),
        ({"tau2": 0.0}, "spread between fields"),
        ({"tau2": 1e-9}, "spread between fields"),
        ({"tau2": (0.9e-3 * 1.7 * BUSHEL) ** 2}, "spread between fields"),  # below a thousandth of the standard error
    ],
)
def test_chances_have_gates(others, words):
    row = of(gain_row(**others), arms(160, 0.5, 1), Prices(**CORN))[0].iloc[0]
    assert pd.isna(row["average_pays_tenths"]) and pd.isna(row["fields_pay_tenths"])
    assert words in row["chances_reason"]
    assert pd.notna(row["net_change"])


def test_a_spread_above_a_thousandth_of_the_standard_error_is_one():
    row = of(gain_row(std_error=0.5, tau=0.51e-3), arms(160, 0.5, 1), Prices(**CORN))[0].iloc[0]
    assert row["chances_reason"] == "" and row["tau"] == pytest.approx(0.51e-3)


def test_share_of_fields_at_both_ends_of_the_averages_interval():
    half = 2.0859634 * 1.0  # t(0.975, 20)
    row = of(gain_row(5, 1.0, 5), arms(160, 0.5, 1), Prices(**CORN))[0].iloc[0]
    ends = [round(10 * stats.norm.cdf((5 + side * half - 3.2) / 5)) for side in (-1, 1)]
    assert row[["fields_pay_low_tenths", "fields_pay_high_tenths"]].tolist() == ends == [5, 8]


@pytest.mark.parametrize(
    "std_error, low, high, share", [(1.7, 3, 9, 7), (1.9, 3, 10, 7), (2.0, 2, 10, None), (3.0, 1, 10, None)]
)
def test_a_share_of_fields_that_could_be_anything_is_not_given(std_error, low, high, share):
    """Ends further apart than 7 tenths, worked out by hand from (1.8 -+ 2.0859634 SE) / 3.5."""
    row = of(gain_row(5, std_error, 3.5), arms(160, 0.5, 1), Prices(**CORN))[0].iloc[0]
    assert (row["fields_pay_low_tenths"], row["fields_pay_high_tenths"]) == (low, high)
    assert (None if pd.isna(row["fields_pay_tenths"]) else row["fields_pay_tenths"]) == share
    assert pd.notna(row["average_pays_tenths"])


def test_chances_open_at_6_site_years_and_3_seasons():
    row = of(gain_row(n_site_years=6, n_seasons=3), arms(160, 0.5, 1), Prices(**CORN))[0].iloc[0]
    assert pd.notna(row["fields_pay_tenths"])


# chance that the average pays -> what is printed
EDGES = [(0.0499, 0), (0.0501, 1), (0.149, 1), (0.151, 2), (0.5, 5), (0.849, 8), (0.9499, 9), (0.9501, 10)]


@pytest.mark.parametrize("chance, tenths", EDGES)
def test_chances_are_in_tenths_and_beyond_5_and_95_percent_the_side_is_told(chance, tenths):
    gain = 3.2 + 1.7 * stats.t.ppf(chance, 20)
    row = of(gain_row(gain), arms(160, 0.5, 1), Prices(**CORN))[0].iloc[0]
    assert row["average_pays_tenths"] == tenths and row["chances_reason"] == ""


def test_grid_over_premium_and_price():
    found, _, grid = of(gain_row(), arms(160, 0.5, 1), Prices(**CORN))
    assert len(grid) == 25
    middle = grid[np.isclose(grid["coated_premium"], 0.18) & np.isclose(grid["crop_price"], 4.5)].iloc[0]
    assert middle["net_change"] == pytest.approx(found["net_change"].iloc[0])
    lint = of(gain_row(per=KG_HA_PER_LB_AC), arms(90, 0.5, 1), Prices(**COTTON), unit="lb/ac", per=KG_HA_PER_LB_AC)[2]
    assert len(lint) == 25  # a pound of lint is worth less than one unit of money
    dear = of(gain_row(), arms(160, 0.5, 1), Prices(**CORN | {"hauling": 2.25}))[2]
    assert len(dear) == 20 and dear["crop_price"].min() == 3.375  # at 2.25 a bushel pays for its hauling alone
    corner = grid[np.isclose(grid["coated_premium"], 0.27) & np.isclose(grid["crop_price"], 2.25)].iloc[0]
    assert corner["net_change"] == pytest.approx(5 * 2.25 - 80 * 0.27)


@pytest.mark.parametrize(
    "changed, inputs, words",
    [
        ({"nitrogen": {}}, arms(160, 0.5, 1), "price of urea per lb N"),
        ({"nitrogen": {"urea": 0.5}, "coated_premium": None}, arms(160, 0.5, 1), "premium per lb of coated N"),
        ({"pass_cost": None}, arms(160, 0.5, 2), "cost of a pass"),
        ({}, arms(160, 0.5, 2).iloc[:1], "treatments of both arms"),
        ({}, arms(np.nan, 0.5, 2), "N rate or passes"),
        ({}, arms(160, 0.5, np.nan), "N rate or passes of the comparator"),
        ({"hauling": 4.60}, arms(160, 0.5, 1), "does not exceed the harvest costs"),
        ({"hauling": 4.50}, arms(160, 0.5, 1), "does not exceed the harvest costs"),
    ],
)
def test_what_is_missing_is_said_and_nothing_is_invented(changed, inputs, words):
    found, items, grid = of(gain_row(), inputs, Prices(**CORN | changed))
    assert words in found["reason"].iloc[0]
    assert pd.isna(found["net_change"].iloc[0]) and items.empty and grid.empty
    check_shape("budgets", found, without=OF_THE_PROGRAM)
    check_shapes({"budget_items": items, "price_grid": grid})


def test_prices_that_are_not_needed_may_be_missing():
    inputs = arms(160, 0.0, 1)
    row = of(gain_row(), inputs, Prices(**CORN | {"coated_premium": None, "pass_cost": None}))[0].iloc[0]
    assert row["cost"] == pytest.approx(0) and row["reason"] == ""


def test_no_prices_and_no_gain_have_a_reason():
    for gain in (gain_row(), gain_row(estimate=float("nan"))):  # prices first: that is for the lead to mend
        assert "no prices" in of(gain, arms(160, 0.5, 1), None)[0]["reason"].iloc[0]
    nothing = gain_row(estimate=np.nan, reason="too few classes")
    assert "too few classes" in of(nothing, arms(160, 0.5, 1), Prices(**CORN))[0]["reason"].iloc[0]
    in_full = of(gain_row(estimate=np.nan, reason="No site-year."), arms(160, 0.5, 1), Prices(**CORN))
    assert in_full[0]["reason"].iloc[0] == "no average gain: no site-year."
    unsure = gain_row(std_error=np.nan, rule="no error")
    assert "no average gain: no error" in of(unsure, arms(160, 0.5, 1), Prices(**CORN))[0]["reason"].iloc[0]


def test_where_only_differences_are_printed_drying_is_charged_if_the_arms_came_in_alike():
    """The comparator's yield is not known: it enters by the drying of its own grain alone."""
    prices = Prices(**CORN, drying=0.045, standard_moisture_pct=15.5)
    alike, _, _ = of(gain_row(), arms(160, 0.5, 1), prices, yield_units=np.nan)
    known, _, _ = of(gain_row(), arms(160, 0.5, 1), prices)
    assert alike["net_change"].notna().all()
    pd.testing.assert_frame_equal(alike.drop(columns="comparator_yield"), known.drop(columns="comparator_yield"))
    apart, items, grid = of(gain_row(), arms(160, 0.5, 1, moisture=(18.0, 16.0)), prices, yield_units=np.nan)
    check_shapes({"budget_items": items, "price_grid": grid})
    assert apart["net_change"].isna().all() and items.empty and grid.empty
    assert apart["reason"].iloc[0] == "missing: the comparator's mean yield, by which the cost of drying grows"
