"""What the agronomy takes from settings and trials: prices in the right units, which average money rests on, margins, traits."""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from types import SimpleNamespace

import pandas as pd
import pytest

from pipeline import agronomy
from pipeline.contract.units import KG_HA_PER_LB_AC
from pipeline.settings import read_program
from pipeline.settings_money import CropPrice, DeclaredMargin, PriceSet

CORN_BU = 56 * KG_HA_PER_LB_AC
CROPS = pd.DataFrame(
    {"standard_moisture_pct": [15.5, float("nan")], "display_unit": ["bu/ac", "lb/ac"], "kg_ha_per_display_unit": [CORN_BU, KG_HA_PER_LB_AC]},
    index=["corn", "cotton"],
)
PRICES = PriceSet(
    date(2094, 11, 1), "$", {"urea": 0.5}, 0.18, 12.0,
    {"corn": CropPrice("bu/ac", 4.6, 0.1, 0.045), "cotton": CropPrice("lb/ac", 0.72, ginning_net=0.02)},
)  # fmt: skip


@pytest.fixture
def program(tiny):
    return replace(read_program(tiny.folder), prices=PRICES)


def test_prices_of_one_crop(program):
    corn, cotton = (agronomy.prices_of(program, CROPS, crop) for crop in ("corn", "cotton"))
    assert (corn.crop_price, corn.hauling, corn.drying, corn.standard_moisture_pct, corn.premium) == (4.6, 0.1, 0.045, 15.5, 0.18)
    assert (cotton.crop_price, cotton.ginning, cotton.standard_moisture_pct) == (0.72, 0.02, None)


def test_without_prices_there_is_no_money(program):
    bare = replace(program, prices=None)
    assert agronomy.prices_of(bare, CROPS, "corn") is None and agronomy.price_ratios(bare, CROPS) == {}
    only_corn = replace(program, prices=replace(PRICES, crops={"corn": PRICES.crops["corn"]}))
    assert agronomy.prices_of(only_corn, CROPS, "cotton") is None


def test_the_price_ratio_is_kg_of_yield_that_one_kg_of_n_costs(program):
    # 0.50 per lb N over 4.50 per bushel: 0.1111 bu, or 6.222 lb of corn, per lb of N; kg per kg is the same number
    ratios = agronomy.price_ratios(program, CROPS)
    assert ratios == pytest.approx({"corn": 0.5 / 4.5 * 56, "cotton": 0.5 / 0.70})
    assert agronomy.yield_of_one(program, CROPS)["corn"] == pytest.approx(CORN_BU / 4.5)
    no_urea = replace(program, prices=replace(PRICES, nitrogen={"uan": 0.6}))
    assert agronomy.price_ratios(no_urea, CROPS) == {}


@pytest.mark.parametrize(
    ("unit", "size", "inside", "scale"),
    [("bu/ac", 3.0, 3 * CORN_BU, "kg/ha"), ("lb/ac", 100.0, 100 * KG_HA_PER_LB_AC, "kg/ha"), ("kg/ha", 200.0, 200.0, "kg/ha"), ("ratio", 0.05, 0.05, "ratio")],
)
def test_a_margin_in_stored_units(program, unit, size, inside, scale):
    comparison = replace(program.comparisons[0], margin=DeclaredMargin(size, unit, "half an LSD", date(2090, 11, 15)))
    margin = agronomy.margin_of(comparison, CROPS)
    assert margin.size == pytest.approx(inside) and margin.unit == scale


def long_run(**estimates):
    rows = [
        {"comparison_id": "c", "target": target, "estimate": estimates.get(key), "reason": "" if estimates.get(key) else f"no {key}"}
        for target, key in (("seasons to come", "to_come"), ("seasons tested", "tested"))
    ]
    return pd.DataFrame(rows).astype({"estimate": float})


POOLED = pd.DataFrame(
    [{"comparison_id": "c", "target": "seasons to come", "moderator": "all", "is_headline": True, "estimate": 9.0},
     {"comparison_id": "c", "target": "seasons to come", "moderator": "all", "is_headline": False, "estimate": 8.0}]
)  # fmt: skip


@pytest.mark.parametrize(
    ("known", "estimate", "weather", "why"),
    [
        ({"to_come": 5.0, "tested": 6.0}, 5.0, agronomy.LONG_RUN, ""),
        ({"tested": 6.0}, 6.0, agronomy.LONG_RUN, "seasons to come at long-run weather: no to_come"),
        ({}, 9.0, agronomy.AS_TESTED, "seasons to come at long-run weather: no to_come"),
    ],
)
def test_money_rests_on_the_declared_target_at_long_run_weather_or_says_why_not(known, estimate, weather, why):
    comparison = SimpleNamespace(id="c", target="seasons to come")
    row, found, reason = agronomy.gain_for_money(comparison, long_run(**known), POOLED)
    assert (row["estimate"], found, reason) == (estimate, weather, why)


def test_shares_of_rainfall_classes_come_from_the_reference_years_themselves(program):
    years = pd.DataFrame({"place": "Alder", "crop": "corn", "year": range(2061, 2091), "rain_mm": [100.0 + 10 * i for i in range(30)], "n_days_missing": 0})
    shares = agronomy.class_shares(program, years).set_index("rainfall_class")["share"]
    assert shares.sum() == pytest.approx(1) and set(shares.index) == {"dry", "normal", "wet"}
    assert 0.1 < shares["dry"] < 0.25 and 0.1 < shares["wet"] < 0.25


def arms_of(**changed):
    row = {"comparison_id": "c", "n_source": "urea", "coated_n_kg_ha": 0.0, "n_rate_kg_ha": 120 * KG_HA_PER_LB_AC, "passes": 1, "moisture_pct": 17.5}
    return pd.DataFrame([row | {"arm": "treatment"} | changed, row | {"arm": "comparator", "passes": 2}])


def test_inputs_of_the_closed_formula(program):
    prices = agronomy.prices_of(program, CROPS, "corn")
    found = agronomy.formula_inputs(arms_of(n_source="coated blend", coated_n_kg_ha=60 * KG_HA_PER_LB_AC), prices)
    assert found["coated_lb"] == pytest.approx(60) and found["treatment_rate_lb"] == pytest.approx(120)
    assert (found["passes"], found["treatment_points"], found["treatment_n_price"]) == (-1, 2.0, 0.5)
    assert agronomy.formula_inputs(arms_of(), None) == {}
    assert agronomy.formula_inputs(arms_of(n_source="uan"), prices) == {}, "no price for uan: no budget"


@pytest.mark.parametrize(("n_site_years", "n_seasons", "tau", "gives"), [(6, 3, 1.0, True), (5, 3, 1.0, False), (6, 2, 1.0, False), (6, 3, None, False)])
def test_gates_of_chances(n_site_years, n_seasons, tau, gives):
    budget = pd.Series({"n_site_years": n_site_years, "n_seasons": n_seasons, "tau": tau}, dtype=object)
    assert agronomy.gives_chances(budget) is gives


@pytest.mark.slow
def test_a_trait_is_compared_like_yield_at_its_last_date(program):
    trials = pd.DataFrame([{"trial_id": f"t{i}", "site_year_id": f"s{i}", "place": f"p{i}", "season": 2091 + i % 2, "crop": "corn", "design": "RCBD",
                            "drainage_group": "W", "rainfall_class": "normal"} for i in range(4)])  # fmt: skip
    arms = pd.DataFrame([{"comparison_id": program.comparisons[0].id, "trial_id": f"t{i}", "treatment_code": code, "arm": arm, "rate_kg_ha": 134.0, "rate_weight": 1.0}
                         for i in range(4) for code, arm in (("B", "treatment"), ("U", "comparator"))])  # fmt: skip
    treatments = pd.DataFrame([{"trial_id": f"t{i}", "treatment_code": code, "is_zero_n": False} for i in range(4) for code in "BU"])
    rows = [
        {"trial_id": f"t{i}", "block": str(b), "main_plot": None, "plot": f"{b}{code}", "treatment_code": code, "trait": "plant height", "unit": "cm",
         "date": pd.Timestamp(day), "value": 200.0 + b + i + (code == "B") * (10 + 0.1 * b) + (day < "2091-07") * 1000 * (code == "B")}
        for i in range(4) for b in (1, 2, 3) for code in "BU" for day in ("2091-06-01", "2091-08-01")
    ]  # fmt: skip
    found = SimpleNamespace(trials=trials, treatments=treatments, arms=arms)
    gains = agronomy.trait_gains(program, found, pd.DataFrame(rows), lambda text: None)
    tested = gains[gains["target"] == "seasons tested"].iloc[0]
    assert (tested["trait"], tested["unit"], tested["n_site_years"]) == ("plant height", "cm", 4)
    assert tested["estimate"] == pytest.approx(10.2)


def test_no_measurement_no_trait(program):
    none = pd.DataFrame(columns=["trial_id", "trait", "unit", "date"])
    assert agronomy.trait_gains(program, SimpleNamespace(arms=None), none, lambda text: None).empty
