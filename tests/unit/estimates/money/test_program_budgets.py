"""What money takes from settings and trials: prices in the right units, which average it rests on, margins."""

from __future__ import annotations

import warnings
from dataclasses import replace
from datetime import date
from types import SimpleNamespace

import pandas as pd
import pytest

from pipeline.contract.units import KG_HA_PER_LB_AC
from pipeline.estimates.frames import stacked
from pipeline.estimates.money import program_budgets as money
from pipeline.estimates.money.inputs import NO_PREMIUM
from pipeline.estimates.n_response.source_prices import prices_of_sources
from pipeline.estimates.passes import margins
from pipeline.settings.money import CropPrice, DeclaredMargin, PriceSet
from pipeline.settings.program import read_program

CORN_BU = 56 * KG_HA_PER_LB_AC
CROPS = pd.DataFrame(
    {
        "standard_moisture_pct": [15.5, float("nan")],
        "display_unit": ["bu/ac", "lb/ac"],
        "kg_ha_per_display_unit": [CORN_BU, KG_HA_PER_LB_AC],
    },
    index=["corn", "cotton"],
)
PRICES = PriceSet(
    date(2094, 11, 1),
    "$",
    {"urea": 0.5},
    0.18,
    12.0,
    {"corn": CropPrice("bu/ac", 4.6, 0.1, 0.045), "cotton": CropPrice("lb/ac", 0.72, ginning_net=0.02)},
)


@pytest.fixture
def program(tiny):
    return replace(read_program(tiny.folder), prices=PRICES)


def test_prices_of_one_crop(program):
    corn, cotton = (money.prices_of(program, CROPS, crop) for crop in ("corn", "cotton"))
    assert (corn.crop_price, corn.hauling, corn.drying, corn.standard_moisture_pct, corn.premium) == (
        4.6,
        0.1,
        0.045,
        15.5,
        0.18,
    )
    assert (cotton.crop_price, cotton.ginning, cotton.standard_moisture_pct) == (0.72, 0.02, None)


def test_without_prices_there_is_no_money(program):
    bare = replace(program, prices=None)
    assert money.prices_of(bare, CROPS, "corn") is None
    assert set(prices_of_sources(bare, found(), CROPS)["lacking"]) == {"a price of corn"}
    only_corn = replace(program, prices=replace(PRICES, crops={"corn": PRICES.crops["corn"]}))
    assert money.prices_of(only_corn, CROPS, "cotton") is None


def test_nitrogen_prices_keep_the_percent_n_they_were_made_with(program):
    per_ton = replace(PRICES, nitrogen={"urea": 0.5, "uan": 0.5}, n_pct={"uan": 28.0})
    rows = money.nitrogen_prices(replace(program, prices=per_ton)).set_index("n_source")
    assert rows["price_per_lb_n"].to_dict() == {"urea": 0.5, "uan": 0.5}
    assert rows["product_n_pct"]["uan"] == 28.0 and pd.isna(rows["product_n_pct"]["urea"])
    assert money.nitrogen_prices(replace(program, prices=None)).empty


def found(crop="corn", moisture=float("nan")):
    rows = [
        ("ZERO", "none", 0.0, 0.0),
        ("U", "urea", 0.0, 134.0),
        ("B", "coated blend", 0.5, 134.0),
        ("N", "uan", 0.0, 134.0),
    ]
    treatments = pd.DataFrame(
        {
            "trial_id": "t",
            "treatment_code": code,
            "n_source": source,
            "coated_n_fraction": share,
            "n_rate_kg_ha": rate,
            "is_zero_n": rate == 0,
            "timing": "at planting",
            "passes": 1,
        }
        for code, source, share, rate in rows
    )
    plots = treatments[["trial_id", "treatment_code"]].assign(moisture_pct=moisture)
    return SimpleNamespace(trials=pd.DataFrame({"trial_id": ["t"], "crop": [crop]}), treatments=treatments, plots=plots)


def test_every_source_has_its_own_price_and_ratio(program):
    """0.50 per lb N over 4.50 per bushel: 6.222 lb of corn per lb N, and kg per kg is the same; half coated adds half
    the premium.
    """
    rows = prices_of_sources(program, found(), CROPS).set_index("n_source")
    assert rows["n_price_per_lb"].to_dict() == pytest.approx(
        {"urea": 0.50, "coated blend": 0.50 + 0.18 / 2, "uan": float("nan")}, nan_ok=True
    )
    assert rows.loc["urea", "price_ratio"] == pytest.approx(0.5 / 4.5 * 56)
    assert rows.loc["coated blend", "price_ratio"] == pytest.approx(0.59 / 4.5 * 56)
    assert rows.loc["urea", "worth_1_per_ac_kg_ha"] == pytest.approx(CORN_BU / 4.5), (
        "yield worth one unit of money per acre"
    )
    assert pd.isna(rows.loc["uan", "price_ratio"]) and rows.loc["uan", "lacking"] == "the price of uan per lb N"


def test_what_grain_costs_to_dry_makes_nitrogen_dearer(program):
    """At 17.5 %, two points above standard: 4.60 - 0.10 - 2 x 0.045 = 4.41 per bushel; lint has no drying."""
    wet = prices_of_sources(program, found(moisture=17.5), CROPS).set_index("n_source")
    assert wet.loc["urea", "price_ratio"] == pytest.approx(0.5 / 4.41 * 56)
    lint = prices_of_sources(program, found("cotton", 17.5), CROPS).set_index("n_source")
    assert lint.loc["urea", "price_ratio"] == pytest.approx(0.5 / 0.70)


@pytest.mark.parametrize(
    ("changed", "lacking"),
    [
        ({"coated_premium": None}, {"coated blend": NO_PREMIUM}),
        ({"nitrogen": {}}, {source: "the price of urea per lb N" for source in ("urea", "coated blend")}),
        (
            {"crops": {"corn": CropPrice("bu/ac", 0.1, 0.1)}},
            {source: "a price of corn above its harvest costs" for source in ("urea", "coated blend")},
        ),
    ],
)
def test_a_source_without_a_price_says_what_is_lacking(program, changed, lacking):
    bare = replace(program, prices=replace(PRICES, **changed))
    rows = prices_of_sources(bare, found(), CROPS).set_index("n_source")
    assert rows["lacking"][list(lacking)].to_dict() == lacking and rows.loc[list(lacking), "price_ratio"].isna().all()


@pytest.mark.parametrize(
    ("unit", "size", "inside", "scale"),
    [
        ("bu/ac", 3.0, 3 * CORN_BU, "kg/ha"),
        ("lb/ac", 100.0, 100 * KG_HA_PER_LB_AC, "kg/ha"),
        ("kg/ha", 200.0, 200.0, "kg/ha"),
        ("ratio", 0.05, 0.05, "ratio"),
    ],
)
def test_a_margin_in_stored_units(program, unit, size, inside, scale):
    comparison = replace(program.comparisons[0], margin=DeclaredMargin(size, unit, "half an LSD", date(2090, 11, 15)))
    margin = margins.margin_of(comparison, CROPS)
    assert margin.size == pytest.approx(inside) and margin.unit == scale


def long_run(**estimates):
    rows = [
        {
            "comparison_id": "c",
            "target": target,
            "estimate": estimates.get(key),
            "reason": "" if estimates.get(key) else f"no {key}",
        }
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
        ({"to_come": 5.0, "tested": 6.0}, 5.0, money.LONG_RUN, ""),
        ({"tested": 6.0}, 6.0, money.LONG_RUN, "no to_come"),
        ({}, 9.0, money.AS_TESTED, "no to_come"),
    ],
)
def test_money_rests_on_the_declared_target_at_long_run_weather_or_says_why_not(known, estimate, weather, why):
    comparison = SimpleNamespace(id="c", target="seasons to come")
    of_all = pd.concat([long_run(to_come=1.0, tested=2.0).assign(comparison_id="other"), long_run(**known)])
    row, found, reason = money.gain_for_money(comparison, of_all, POOLED)
    assert (row["estimate"], found, reason) == (estimate, weather, why)


def arms_of(**changed):
    row = {
        "comparison_id": "c",
        "n_source": "urea",
        "coated_n_kg_ha": 0.0,
        "n_rate_kg_ha": 120 * KG_HA_PER_LB_AC,
        "passes": 1,
        "moisture_pct": 17.5,
    }
    return pd.DataFrame([row | {"arm": "treatment"} | changed, row | {"arm": "comparator", "passes": 2}])


def test_inputs_of_the_closed_formula(program):
    prices = money.prices_of(program, CROPS, "corn")
    found = money.formula_inputs(arms_of(n_source="coated blend", coated_n_kg_ha=60 * KG_HA_PER_LB_AC), prices)
    assert found["coated_lb"] == pytest.approx(60) and found["treatment_rate_lb"] == pytest.approx(120)
    assert (found["passes"], found["treatment_points"], found["treatment_n_price"]) == (-1, 2.0, 0.5)
    assert (found["treatment_priced_as"], found["comparator_priced_as"]) == ("urea", "urea")
    no_n = money.formula_inputs(arms_of(n_source="none", n_rate_kg_ha=0.0), prices)
    assert (no_n["treatment_priced_as"], no_n["treatment_n_price"]) == ("", 0.0)
    no_n = money.formula_inputs(arms_of().assign(n_source=["urea", "none"], n_rate_kg_ha=[134.5, 0.0]), prices)
    assert (no_n["comparator_priced_as"], no_n["comparator_n_price"], no_n["comparator_rate_lb"]) == ("", 0.0, 0.0)
    both = arms_of().assign(coated_n_kg_ha=[90 * KG_HA_PER_LB_AC, 30 * KG_HA_PER_LB_AC])
    assert money.formula_inputs(both, prices)["coated_lb"] == pytest.approx(60)
    lint = replace(money.prices_of(program, CROPS, "cotton"), hauling=0.03)
    assert money.formula_inputs(arms_of(), lint)["hauling_and_ginning"] == pytest.approx(0.05)
    assert set(money.formula_inputs(arms_of(), None).values()) == {None}
    no_price = money.formula_inputs(arms_of(n_source="uan"), prices)
    assert set(no_price.values()) == {None}, "no price for uan: no budget"


@pytest.mark.parametrize(
    ("n_site_years", "n_seasons", "tau", "gives"),
    [(6, 3, 1.0, True), (5, 3, 1.0, False), (6, 2, 1.0, False), (6, 3, None, False)],
)
def test_gates_of_chances(n_site_years, n_seasons, tau, gives):
    budget = pd.Series({"n_site_years": n_site_years, "n_seasons": n_seasons, "tau": tau}, dtype=object)
    assert money.gives_chances(budget) is gives


def test_a_budget_without_prices_stands_under_one_with_them_in_the_declared_types(program):
    """pandas warns on the analyst's screen where columns of nothing stand under numbers."""
    gain = pd.Series(
        {"comparison_id": "c", "target": "seasons tested", "estimate": 300.0, "se": 50.0, "df": 5.0, "tau": 1.0,
         "n_site_years": 6, "n_seasons": 3, "conf_low": 200.0, "conf_high": 400.0, "conf_level": 0.95}
    )  # fmt: skip
    arms = arms_of(n_source="coated blend", coated_n_kg_ha=60 * KG_HA_PER_LB_AC)
    rests_on = (gain, money.LONG_RUN, "")
    priced, bare = (
        money.budget_of(rests_on, arms, prices, 10_000.0, CROPS.loc["corn"])[0]
        for prices in (money.prices_of(program, CROPS, "corn"), None)
    )
    assert priced["crop_price"].notna().all() and bare["crop_price"].isna().all()
    with warnings.catch_warnings():
        warnings.simplefilter("error")
        both = stacked([priced, bare])
    assert both["crop_price"].dtype == float
