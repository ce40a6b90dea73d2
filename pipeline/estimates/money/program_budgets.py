"""What a program's planning prices make of its gains: budgets, margins, and what each N source costs.

The gain at long-run weather feeds the budget, and the budget the economic margin.
"""

from __future__ import annotations

import pandas as pd

from pipeline.contract.results import frame_of
from pipeline.contract.units import KG_HA_PER_LB_AC
from pipeline.contract.vocabulary import TESTED
from pipeline.estimates.average.pooling import model_blocks
from pipeline.estimates.frames import stacked
from pipeline.estimates.kept_results import by_comparison
from pipeline.estimates.money import inputs, partial_budget
from pipeline.estimates.money.inputs import (
    AS_TESTED,
    COMPARATOR,
    LONG_RUN,
    TREATMENT,
    Prices,
    bought_as,
    missing_inputs,
)
from pipeline.estimates.money.partial_budget import FEWEST_SEASONS, FEWEST_SITE_YEARS
from pipeline.estimates.where import long_run
from pipeline.settings.comparisons import Comparison
from pipeline.settings.program import Program


def money_tables(program, found, frames, used, shares, crops: pd.DataFrame, tell) -> dict[str, pd.DataFrame]:
    """The gain at long-run weather, what each arm uses, and one budget per comparison with its items and grid."""
    blocks = model_blocks(frames["block_gains"], found.trials, used)
    ids = [comparison.id for comparison in program.comparisons]
    crops_of = pd.DataFrame({"comparison_id": ids, "crop": [comparison.crop for comparison in program.comparisons]})
    known = (used, blocks, shares.merge(crops_of, on="crop"))
    average = by_comparison(long_run.long_run_gains, ids, known, tell=tell, says="long-run weather")
    arms = inputs.arm_inputs(found.arms, found.treatments, moistures_of(found.plots))
    parts: list[tuple] = []
    for comparison in program.comparisons:
        own_arms = arms[arms["comparison_id"] == comparison.id]
        of_comparison = used.loc[used["comparison_id"] == comparison.id, "comparator_mean"]
        rests_on = gain_for_money(comparison, average, frames["pooled_gains"])
        prices = prices_of(program, crops, comparison.crop)
        parts.append(budget_of(rests_on, own_arms, prices, of_comparison.mean(), crops.loc[comparison.crop]))
    budgets, items, grids = (stacked([part[i] for part in parts]) for i in range(3))
    return {
        "long_run_gains": average,
        "arm_inputs": arms,
        "budgets": frame_of(budgets, "budgets"),
        "budget_items": frame_of(items, "budget_items"),
        "price_grid": frame_of(grids, "price_grid"),
    }


def budget_of(
    rests_on: tuple[pd.Series, str, str],
    arms: pd.DataFrame,
    prices: Prices | None,
    comparator_yield_kg_ha: float,
    crop: pd.Series,
) -> tuple[pd.DataFrame, pd.DataFrame, pd.DataFrame]:
    """One comparison's budget, typed as declared also where it has no prices, with its items and grid.

    rests_on: what gain_for_money gives. crop: display_unit, kg_ha_per_display_unit.
    """
    gain, weather, why = rests_on
    budget, items, grid = partial_budget.budget(
        gain,
        arms,
        prices,
        comparator_yield_kg_ha=comparator_yield_kg_ha,
        unit=str(crop["display_unit"]),
        kg_ha_per_unit=float(crop["kg_ha_per_display_unit"]),
    )
    budget = budget.assign(weather=weather, weather_reason=why, **formula_inputs(arms, prices))
    return frame_of(budget.assign(gives_chances=gives_chances(budget.iloc[0])), "budgets"), items, grid


def gives_chances(budget: pd.Series) -> bool:
    """Whether the gates of partial_budget let chances be said at all, at whatever prices."""
    return bool(
        budget["n_site_years"] >= FEWEST_SITE_YEARS
        and budget["n_seasons"] >= FEWEST_SEASONS
        and pd.notna(budget["tau"])
    )


def formula_inputs(arms: pd.DataFrame, prices) -> dict[str, float | str]:
    """What the closed formula of partial_budget takes beside the gain, so that a reader's own prices can be put in.

    Per acre; treatment less comparator where it is a difference. Empty where there is no budget.
    """
    sides = {arm["arm"]: arm for _, arm in arms.iterrows()}
    if prices is None or missing_inputs(sides, prices):
        return dict.fromkeys(partial_budget.FORMULA_INPUTS)
    t, c = sides[TREATMENT], sides[COMPARATOR]
    return {
        "crop_price": prices.crop_price,
        "coated_premium": prices.premium,
        "pass_cost": prices.pass_cost,
        "hauling_and_ginning": prices.hauling + prices.ginning,
        "drying": prices.drying,
        "coated_lb": (t["coated_n_kg_ha"] - c["coated_n_kg_ha"]) / KG_HA_PER_LB_AC,
        "treatment_rate_lb": t["n_rate_kg_ha"] / KG_HA_PER_LB_AC,
        "comparator_rate_lb": c["n_rate_kg_ha"] / KG_HA_PER_LB_AC,
        "treatment_n_price": prices.of_nitrogen(t["n_source"]) or 0.0,
        "comparator_n_price": prices.of_nitrogen(c["n_source"]) or 0.0,
        "treatment_priced_as": bought_as(t["n_source"]) if t["n_rate_kg_ha"] > 0 else "",
        "comparator_priced_as": bought_as(c["n_source"]) if c["n_rate_kg_ha"] > 0 else "",
        "passes": t["passes"] - c["passes"],
        "treatment_points": prices.points_to_dry(t["moisture_pct"]),
        "comparator_points": prices.points_to_dry(c["moisture_pct"]),
    }


def gain_for_money(
    comparison: Comparison, long_run_gains: pd.DataFrame, pooled: pd.DataFrame
) -> tuple[pd.Series, str, str]:
    """The average that money rests on, its weather, and why it is not the one wanted ('' where it is).

    Wanted is the declared target at long-run weather; else the seasons tested at long-run weather; else the headline.
    """
    rows = long_run_gains[long_run_gains["comparison_id"] == comparison.id].set_index("target", drop=False)
    wanted = rows.loc[comparison.target]
    if pd.notna(wanted["estimate"]):
        return wanted, LONG_RUN, ""
    why = wanted["reason"]
    tested = rows.loc[TESTED]
    if pd.notna(tested["estimate"]):
        return tested, LONG_RUN, why
    headline = pooled[
        (pooled["comparison_id"] == comparison.id)
        & (pooled["target"] == comparison.target)
        & (pooled["moderator"] == "all")
        & pooled["is_headline"]
    ]
    return headline.iloc[0], AS_TESTED, why


def prices_of(program: Program, crops: pd.DataFrame, crop: str):
    """The planning prices as the budget of one crop takes them; None where program.yml has none for it."""
    declared = program.prices
    if declared is None or crop not in declared.crops:
        return None
    own = declared.crops[crop]
    moisture = crops.loc[crop, "standard_moisture_pct"]
    return Prices(
        fixed_on=declared.fixed_on, currency=declared.currency, nitrogen=declared.nitrogen,
        coated_premium=declared.coated_premium, pass_cost=declared.pass_cost,
        crop_price=own.price, hauling=own.hauling, ginning=own.ginning_net, drying=own.drying_per_point,
        standard_moisture_pct=None if pd.isna(moisture) else float(moisture),
    )  # fmt: skip


def nitrogen_prices(program: Program) -> pd.DataFrame:
    """One row per source priced in program.yml: price per lb N and, where it was given per ton, % N of the product."""
    declared = program.prices
    rows = [
        {"n_source": source, "price_per_lb_n": price, "product_n_pct": declared.n_pct.get(source)}
        for source, price in (declared.nitrogen.items() if declared else ())
    ]
    return frame_of(rows, "nitrogen_prices")


def moistures_of(plots: pd.DataFrame) -> pd.DataFrame:
    """Mean harvest moisture by treatment of a trial."""
    return plots.groupby(["trial_id", "treatment_code"], as_index=False)["moisture_pct"].mean()
