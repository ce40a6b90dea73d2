"""Beside the average gains: money, fewer passes, N response, other traits, and what to plant next.

Gathers what estimates and planning need from the trials layer and the settings, in the order in which one
feeds the next: the gain at long-run weather feeds the budget, the budget the economic margin and the share of fields.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import pandas as pd

from pipeline.contract.results import frame_of, narrowed
from pipeline.estimates.frames import stacked
from pipeline.estimates.kept_results import by_crop, kept_result
from pipeline.settings.program import Program
from pipeline.site_years.rainfall import classify_rainfall
from pipeline.steps.loading import Tell
from pipeline.warehouse import Warehouse

Frames = Mapping[str, pd.DataFrame]

N_PROPOSED = 5
PLANS = ("outlook", "substitution", "needed", "slope_outlook", "evidence", "proposed_trials")
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


def other_questions(program: Program, found, frames: Frames, known: Facts, tell: Tell) -> dict[str, pd.DataFrame]:
    """All tables of this half, by name in the estimates layer.

    found: estimating.Inputs. frames: what program.estimate gave.
    """
    from pipeline.estimates.average import spread
    from pipeline.estimates.money import program_budgets as money
    from pipeline.estimates.n_response.source_prices import prices_of_sources
    from pipeline.estimates.passes import margins

    used = frames["site_year_gains"][frames["site_year_gains"]["is_pooled"]]
    shares = class_shares(program, known.reference_rainfall)
    tables = {"class_shares": shares} | money.money_tables(program, found, frames, used, shares, known.crops, tell)
    tables |= margins.as_good(program, found, frames, used, tables["budgets"], known.crops)
    tables["source_prices"] = prices_of_sources(program, found, known.crops)
    tables["nitrogen_prices"] = money.nitrogen_prices(program)
    tell("N response of each trial and over site-years")
    ratios = tables["source_prices"][["crop", "family", "price_ratio"]]
    of_trials = [found.treatments, found.plots, found.arms, found.printed_means]
    tables |= by_crop(_n_response, found.trials, of_trials, ratios)
    break_even = (
        tables["budgets"].dropna(subset=["break_even_gain_kg_ha"]).set_index("comparison_id")["break_even_gain_kg_ha"]
    )
    tables["field_shares"] = spread.field_shares(frames["pooled_gains"], break_even.to_dict())
    tables["trait_gains"], tables["trait_blocks"] = trait_gains(program, found, known.measurements, tell)
    return tables | next_season(program, found, frames, used, shares, known, tell)


def _n_response(trials, treatments, plots, arms, printed_means, ratios) -> dict[str, pd.DataFrame]:
    from pipeline.estimates.n_response.estimate_n_response import estimate_n_response

    return estimate_n_response(trials, treatments, plots, arms, ratios, printed_means=printed_means)


def class_shares(program: Program, reference: pd.DataFrame) -> pd.DataFrame:
    """How often each rainfall class came in the reference period: its years classed as the seasons tested are."""
    from pipeline.estimates.where import long_run

    years = reference.assign(site_year_id=reference["place"], season=reference["year"], n_days=float("nan"))
    rain = program.rainfall
    cuts = {
        "dry_at_or_below": rain.dry_at_or_below,
        "wet_at_or_above": rain.wet_at_or_above,
        "max_missing_days": rain.most_missing_days,
        "min_reference_years": rain.fewest_reference_years,
    }
    return long_run.class_shares(classify_rainfall(years, reference, cut_points=cuts))


def trait_gains(program: Program, found, measurements: pd.DataFrame, tell: Tell) -> tuple[pd.DataFrame, pd.DataFrame]:
    """(trait_gains, trait_blocks): the average gain of every other trait measured, by the rules of yield, at its last
    date in each trial, and the blocks that have a gain.
    """
    from pipeline.estimates.program import headlines_and_blocks

    rows: list[dict] = []
    behind: list[dict] = []
    last = measurements.groupby(["trial_id", "trait"])["date"].transform("max")
    for (trait, unit), plots in measurements[measurements["date"].eq(last) | last.isna()].groupby(["trait", "unit"]):
        tell(f"other traits: {trait}")
        arms = found.arms[found.arms["trial_id"].isin(plots["trial_id"])]
        asked = [c for c in program.comparisons if c.id in set(arms["comparison_id"])]
        gains, blocks = headlines_and_blocks(asked, found.trials, found.treatments, plots, arms)
        kept = gains[gains["is_headline"] & gains["n_site_years"].gt(0)]
        rows += kept.assign(trait=trait, unit=unit).to_dict("records")
        behind += blocks.assign(trait=trait).to_dict("records")
    return frame_of(rows, "trait_gains"), narrowed(behind, "trait_blocks")


def next_season(
    program: Program, found, frames: Frames, used, shares, known: Facts, tell: Tell
) -> dict[str, pd.DataFrame]:
    """What more site-years, blocks and seasons would buy, where evidence is thin, and trials that would fill it."""
    from pipeline.estimates.passes import margins

    every = (used, frames["variance_components"], found.covariates, found.reference_covariates)
    parts = []
    for comparison in program.comparisons:
        tell(f"{comparison.id}: next season")
        own = [frame[frame["comparison_id"] == comparison.id].reset_index(drop=True) for frame in every]
        where = known.trials.loc[known.trials["crop"] == comparison.crop, "site_id"]
        sites = known.sites[known.sites["site_id"].isin(where)].reset_index(drop=True)
        of_crop = shares[shares["crop"] == comparison.crop].reset_index(drop=True)
        is_absolute = comparison.margin and comparison.margin.unit != "ratio"
        margin = margins.margin_of(comparison, known.crops).size if is_absolute else None
        worth = _worth_finding(comparison, known.crops)
        parts.append(kept_result(_next_season, *own, sites, of_crop, comparison.id, margin, worth))
    tables = {name: stacked([part[name] for part in parts]) for name in PLANS}
    return {name: frame_of(frame, name) for name, frame in tables.items()}


def _next_season(
    used, components, covariates, reference, sites, shares, comparison_id: str, margin: float | None, worth: dict
) -> dict[str, pd.DataFrame]:
    """The tables of one comparison; sites and shares are its crop's, margin in kg/ha."""
    from pipeline.planning import evidence
    from pipeline.planning import next_season as plans
    from pipeline.planning.slope_outlook import slope_outlook

    layout = plans.layout_of(used)
    grown = {"more_site_years": MORE_SITE_YEARS, "n_blocks": BLOCKS, "more_seasons": MORE_SEASONS}
    cells = evidence.evidence_map(comparison_id, used, sorted(sites["drainage_group"].dropna().unique()))
    needed = frame_of([], "needed")
    if margin is not None:
        needed = plans.site_years_needed(comparison_id, layout, components, margin=margin)
    slopes = slope_outlook(
        comparison_id, covariates, used, reference, components, worth_finding=worth, more_seasons=MORE_SEASONS
    )
    return {
        "outlook": plans.outlook(comparison_id, layout, components, **grown),
        "substitution": plans.substitution(comparison_id, layout, components),
        "needed": needed,
        "slope_outlook": slopes,
        "evidence": cells,
        "proposed_trials": evidence.proposed_trials(cells, sites, shares, used, n_trials=N_PROPOSED),
    }


def worth_finding(program: Program, crops: pd.DataFrame) -> dict[tuple[str, str], float]:
    """By comparison and covariate, the slope that program.yml calls worth finding, kg/ha per stored unit of the
    covariate.

    crops: reference.crops by word.
    """
    return {
        (comparison.id, covariate): size
        for comparison in program.comparisons
        for covariate, size in _worth_finding(comparison, crops).items()
    }


def _worth_finding(comparison, crops: pd.DataFrame) -> dict[str, float]:
    bushel = float(crops.loc[comparison.crop, "kg_ha_per_display_unit"])
    named = {each.covariate: each.worth_finding for each in comparison.explained_by if each.worth_finding}
    return {covariate: size.per_stored_unit(bushel) for covariate, size in named.items()}
