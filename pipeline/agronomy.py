"""Beside the average gains: N response, fewer passes, money, other traits, and what to plant next.

Gathers what the estimates and planning rooms need from the trials layer and the settings, in the order in which one
feeds the next: the gain at long-run weather feeds the budget, the budget the economic margin and the share of fields.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import pandas as pd

from pipeline.contract.units import KG_HA_PER_LB_AC
from pipeline.loading import Tell
from pipeline.settings import Comparison, Program
from pipeline.site_years.rainfall import classify_rainfall
from pipeline.warehouse import Warehouse

Frames = Mapping[str, pd.DataFrame]

LONG_RUN, AS_TESTED = "long-run weather", "weather as tested"
# The curve is drawn for nitrogen bought as this; what a coating costs stands in the money table.
RATE_PRICED_AS = "urea"
N_PROPOSED = 5
MORE_SITE_YEARS, BLOCKS, MORE_SEASONS = (6, 12, 24), (4, 6), (1, 2, 3)


@dataclass(frozen=True)
class Facts:
    """What the trials layer says beside yields: crop units by word, sites, reference rain, measurements."""

    crops: pd.DataFrame
    sites: pd.DataFrame
    trials: pd.DataFrame
    reference_rainfall: pd.DataFrame
    measurements: pd.DataFrame


def facts(warehouse: Warehouse) -> Facts:
    return Facts(
        crops=warehouse.table("reference.crops").set_index("word"),
        sites=warehouse.table("trials.sites"),
        trials=warehouse.table("trials.trials"),
        reference_rainfall=warehouse.table("trials.reference_rainfall"),
        measurements=warehouse.table("trials.measurements"),
    )


def agronomy(program: Program, found, frames: Frames, known: Facts, tell: Tell) -> dict[str, pd.DataFrame]:
    """All tables of this half, by name in the estimates layer.

    found: estimating.Inputs. frames: what estimate_program.estimate gave.
    """
    from pipeline.estimates import spread
    from pipeline.estimates.n_response.estimate_n_response import estimate_n_response
    from pipeline.estimates.n_response.ladders import ladders, rate_means

    used = frames["site_year_gains"][frames["site_year_gains"]["is_pooled"].eq(True)]
    shares = class_shares(program, known.reference_rainfall)
    tables = {"class_shares": shares} | money_tables(program, found, frames, used, shares, known, tell)
    tables |= {"noninferiority": as_good(program, found, frames, used, tables["budgets"], known)}
    tables |= estimate_n_response(
        found.trials, found.treatments, found.plots, found.arms,
        price_ratio_by_crop=price_ratios(program, known.crops), near_highest_by_crop=yield_of_one(program, known.crops), progress=tell,
    )  # fmt: skip
    tables["rate_means"] = rate_means(ladders(found.plots, found.treatments, found.trials))
    break_even = tables["budgets"].dropna(subset=["break_even_gain_kg_ha"]).set_index("comparison_id")["break_even_gain_kg_ha"]
    tables["field_shares"] = spread.field_shares(frames["pooled_gains"], break_even.astype(float).to_dict())
    tables["trait_gains"] = trait_gains(program, found, known.measurements, tell)
    return tables | next_season(program, frames, used, shares, known, tell)


def class_shares(program: Program, reference: pd.DataFrame) -> pd.DataFrame:
    """How often each rainfall class came in the reference period: its years classed as the seasons tested are."""
    from pipeline.estimates import long_run

    years = reference.assign(site_year_id=reference["place"], season=reference["year"], n_days=float("nan"))
    rain = program.rainfall
    cuts = {"dry_at_or_below": rain.dry_at_or_below, "wet_at_or_above": rain.wet_at_or_above,
            "max_missing_days": rain.most_missing_days, "min_reference_years": rain.fewest_reference_years}  # fmt: skip
    return long_run.class_shares(classify_rainfall(years, reference, cut_points=cuts))


def money_tables(program, found, frames, used, shares, known: Facts, tell: Tell) -> dict[str, pd.DataFrame]:
    """The gain at long-run weather, what each arm uses, and one budget per comparison with its items and grid."""
    from pipeline.estimates import budget_inputs, long_run, partial_budget
    from pipeline.estimates.columns import frame_of
    from pipeline.estimates.pooled import model_blocks

    blocks = model_blocks(frames["block_gains"], found.trials, used)
    average = long_run.long_run_gains(used, blocks, program.comparisons, shares, progress=tell)
    arms = budget_inputs.arm_inputs(found.arms, found.treatments, _moistures(found.plots))
    parts: list[tuple] = []
    for comparison in program.comparisons:
        gain, weather, why = gain_for_money(comparison, average, frames["pooled_gains"])
        of_comparison = used.loc[used["comparison_id"] == comparison.id, "comparator_mean"].astype(float)
        own_arms = arms[arms["comparison_id"] == comparison.id]
        prices = prices_of(program, known.crops, comparison.crop)
        budget, items, grid = partial_budget.budget(
            gain, own_arms, prices,
            comparator_yield_kg_ha=of_comparison.mean(), unit=_unit(known.crops, comparison.crop),
            kg_ha_per_unit=float(known.crops.loc[comparison.crop, "kg_ha_per_display_unit"]),
        )  # fmt: skip
        budget = budget.assign(weather=weather, weather_reason=why, **formula_inputs(own_arms, prices))
        parts.append((budget.assign(gives_chances=gives_chances(budget.iloc[0])), items, grid))
    budgets, items, grids = (_stacked([part[i] for part in parts]) for i in range(3))
    return {
        "long_run_gains": average,
        "arm_inputs": arms,
        "budgets": budgets,
        "budget_items": frame_of(items, partial_budget.BUDGET_ITEMS),
        "price_grid": frame_of(grids, partial_budget.PRICE_GRID),
    }


def gives_chances(budget: pd.Series) -> bool:
    """Whether the gates of partial_budget let chances be said at all, at whatever prices."""
    from pipeline.estimates.partial_budget import FEWEST_SEASONS, FEWEST_SITE_YEARS

    return bool(budget["n_site_years"] >= FEWEST_SITE_YEARS and budget["n_seasons"] >= FEWEST_SEASONS and pd.notna(budget["tau"]))


def formula_inputs(arms: pd.DataFrame, prices) -> dict[str, float]:
    """What the closed formula of partial_budget takes beside the gain, so that a reader's own prices can be put in.

    Per acre; treatment less comparator where it is a difference. Empty where there is no budget.
    """
    from pipeline.estimates.budget_inputs import COMPARATOR, TREATMENT, missing_inputs

    sides = {arm["arm"]: arm for _, arm in arms.iterrows()}
    if prices is None or missing_inputs(sides, prices):
        return {}
    t, c = sides[TREATMENT], sides[COMPARATOR]
    return {
        "crop_price": prices.crop_price, "coated_premium": prices.premium, "pass_cost": prices.pass_cost,
        "hauling_and_ginning": prices.hauling + prices.ginning, "drying": prices.drying,
        "coated_lb": (t["coated_n_kg_ha"] - c["coated_n_kg_ha"]) / KG_HA_PER_LB_AC,
        "treatment_rate_lb": t["n_rate_kg_ha"] / KG_HA_PER_LB_AC, "comparator_rate_lb": c["n_rate_kg_ha"] / KG_HA_PER_LB_AC,
        "treatment_n_price": prices.of_nitrogen(t["n_source"]) or 0.0, "comparator_n_price": prices.of_nitrogen(c["n_source"]) or 0.0,
        "passes": t["passes"] - c["passes"],
        "treatment_points": prices.points_to_dry(t["moisture_pct"]), "comparator_points": prices.points_to_dry(c["moisture_pct"]),
    }  # fmt: skip


def gain_for_money(comparison: Comparison, long_run_gains: pd.DataFrame, pooled: pd.DataFrame) -> tuple[pd.Series, str, str]:
    """The average that money rests on, its weather, and why it is not the one wanted ('' where it is).

    Wanted is the declared target at long-run weather; else the seasons tested at long-run weather; else the headline.
    """
    rows = long_run_gains[long_run_gains["comparison_id"] == comparison.id].set_index("target", drop=False)
    wanted = rows.loc[comparison.target]
    if pd.notna(wanted["estimate"]):
        return wanted, LONG_RUN, ""
    why = f"{comparison.target} at long-run weather: {wanted['reason']}"
    tested = rows.loc["seasons tested"]
    if pd.notna(tested["estimate"]):
        return tested, LONG_RUN, why
    headline = pooled[
        (pooled["comparison_id"] == comparison.id) & (pooled["target"] == comparison.target)
        & (pooled["moderator"] == "all") & pooled["is_headline"].eq(True)
    ]  # fmt: skip
    return headline.iloc[0], AS_TESTED, why


def prices_of(program: Program, crops: pd.DataFrame, crop: str):
    """The planning prices as the budget of one crop takes them; None where program.yml has none for it."""
    from pipeline.estimates.budget_inputs import Prices

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


def price_ratios(program: Program, crops: pd.DataFrame) -> dict[str, float]:
    """Price of 1 kg N over that of 1 kg of yield, net of hauling and ginning, for crops with both prices."""
    worth = yield_of_one(program, crops)
    price = program.prices.nitrogen.get(RATE_PRICED_AS) if program.prices else None
    # money per lb/ac is money per acre, and so is that of the yield it is worth
    return {crop: price * kg_ha / KG_HA_PER_LB_AC for crop, kg_ha in worth.items()} if price else {}


def yield_of_one(program: Program, crops: pd.DataFrame) -> dict[str, float]:
    """Yield (kg/ha) worth one unit of money per acre, by crop with a price above its harvest costs."""
    own = program.prices.crops if program.prices else {}
    net = {crop: price.price - price.hauling - price.ginning_net for crop, price in own.items()}
    return {crop: float(crops.loc[crop, "kg_ha_per_display_unit"]) / amount for crop, amount in net.items() if amount > 0}


def as_good(program: Program, found, frames: Frames, used, budgets, known: Facts) -> pd.DataFrame:
    """The test of every comparison with a margin, with its assay sensitivity and its economic margin."""
    from pipeline.estimates import assay
    from pipeline.estimates import site_year_gains as site_years
    from pipeline.estimates.noninferiority import noninferiority

    margins = {c.id: margin_of(c, known.crops) for c in program.comparisons if c.margin}
    analyses = site_years.moderated_analyses(frames["trial_analyses"], found.trials)
    arms = found.arms[found.arms["comparison_id"].isin(margins)]
    over_zero = assay.assay_gains(arms, found.treatments, found.plots, found.trials, analyses)
    limits = {name: margin.limit for name, margin in margins.items()}
    ratios = [name for name, margin in margins.items() if margin.unit == "ratio"]
    assays = assay.assay_sensitivity(over_zero, used, program.comparisons, limits, ratios)
    return noninferiority(frames["pooled_gains"], used, margins, assays, budgets=budgets)


def margin_of(comparison: Comparison, crops: pd.DataFrame):
    """The declared margin in kg/ha or as a ratio."""
    from pipeline.estimates.noninferiority import Margin

    declared = comparison.margin
    if declared.unit == "ratio":
        return Margin(declared.size, "ratio", declared.basis, declared.fixed_on)
    per_unit = {"kg/ha": 1.0, "lb/ac": KG_HA_PER_LB_AC}.get(declared.unit)
    per_unit = per_unit or float(crops.loc[comparison.crop, "kg_ha_per_display_unit"])
    return Margin(declared.size * per_unit, "kg/ha", declared.basis, declared.fixed_on)


def trait_gains(program: Program, found, measurements: pd.DataFrame, tell: Tell) -> pd.DataFrame:
    """The average gain of every other trait measured, by the rules of yield, at its last date in each trial."""
    from pipeline.estimates import estimate_program
    from pipeline.estimates.columns import POOLED_GAINS, frame_of

    rows: list[dict] = []
    last = measurements.groupby(["trial_id", "trait"])["date"].transform("max")
    for (trait, unit), plots in measurements[measurements["date"].eq(last) | last.isna()].groupby(["trait", "unit"]):
        tell(f"other traits: {trait}")
        arms = found.arms[found.arms["trial_id"].isin(plots["trial_id"])]
        asked = [c for c in program.comparisons if c.id in set(arms["comparison_id"])]
        gains = estimate_program.headline_gains(asked, found.trials, found.treatments, plots, arms)
        kept = gains[gains["is_headline"].eq(True) & gains["n_site_years"].gt(0)]
        rows += kept.assign(trait=trait, unit=unit).to_dict("records")
    return frame_of(rows, ("trait", "unit", *POOLED_GAINS))


def next_season(program: Program, frames: Frames, used, shares, known: Facts, tell: Tell) -> dict[str, pd.DataFrame]:
    """What more site-years, blocks and seasons would buy, where evidence is thin, and trials that would fill it."""
    from pipeline.planning import evidence, next_season as plans

    parts: dict[str, list[pd.DataFrame]] = {name: [] for name in ("outlook", "substitution", "needed", "evidence", "proposed_trials")}
    for comparison in program.comparisons:
        tell(f"{comparison.id}: next season")
        of_comparison = used[used["comparison_id"] == comparison.id]
        layout, components = plans.layout_of(of_comparison), frames["variance_components"]
        grown = {"more_site_years": MORE_SITE_YEARS, "n_blocks": BLOCKS, "more_seasons": MORE_SEASONS}
        parts["outlook"].append(plans.outlook(comparison.id, layout, components, **grown))
        parts["substitution"].append(plans.substitution(comparison.id, layout, components))
        if comparison.margin and comparison.margin.unit != "ratio":
            size = margin_of(comparison, known.crops).size
            parts["needed"].append(plans.site_years_needed(comparison.id, layout, components, margin=size))
        where = known.trials.loc[known.trials["crop"] == comparison.crop, "site_id"]
        sites = known.sites[known.sites["site_id"].isin(where)]
        cells = evidence.evidence_map(comparison.id, of_comparison, sorted(sites["drainage_group"].dropna().unique()))
        of_crop = shares[shares["crop"] == comparison.crop]
        parts["evidence"].append(cells)
        parts["proposed_trials"].append(evidence.proposed_trials(cells, sites, of_crop, of_comparison, n_trials=N_PROPOSED))
    tables = {name: _stacked(frames_) for name, frames_ in parts.items()}
    return tables | {"needed": tables["needed"].reindex(columns=list(plans.NEEDED))}


def _moistures(plots: pd.DataFrame) -> pd.DataFrame:
    return plots.groupby(["trial_id", "treatment_code"], as_index=False)["moisture_pct"].mean()


def _unit(crops: pd.DataFrame, crop: str) -> str:
    return str(crops.loc[crop, "display_unit"])


def _stacked(frames: list[pd.DataFrame]) -> pd.DataFrame:
    """Frames under each other; empty ones, whose columns have no type, are left out."""
    filled = [frame for frame in frames if len(frame)]
    return pd.concat(filled, ignore_index=True) if filled else pd.DataFrame()
