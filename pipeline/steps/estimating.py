"""From checked trials to every estimate: gathers what the estimates need and signs what it gives."""

from __future__ import annotations

import json
from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from datetime import date

import pandas as pd
from threadpoolctl import threadpool_limits

from pipeline.contract.results import frame_of, narrowed
from pipeline.contract.vocabulary import AS_GOOD, CLAIM
from pipeline.errors import UserError
from pipeline.estimate_ids import FIGURES, data_ids, estimate_ids, figure_ids
from pipeline.progress import Steps
from pipeline.provenance import RunCard
from pipeline.settings.program import Program
from pipeline.site_years.rainfall import next_class
from pipeline.steps import other_questions
from pipeline.steps.eligible import usable_plots
from pipeline.steps.loading import Tell, cut_points_of
from pipeline.steps.reviewing import review
from pipeline.steps.season_inputs import season_inputs
from pipeline.warehouse import Warehouse

UNIT = "kg/ha"
# average, breakdown, what carries it, other cuts, agreement, other breakdowns, weather, long-run weather, next season
TOLD_OF_A_COMPARISON = 9
TOLD_UNTIL_R_STANDS = 3
FITTED_OTHERWISE = (
    "What fitted the models of the last run cannot be started now, though it is installed as it was. Nothing is stored."
    " To fit every model again, add FRESH=yes."
)


@dataclass(frozen=True)
class Inputs:
    """What the estimates rest on: accepted trials with their classes, treatments, used plots or printed means,
    eligibility and arms.

    For robustness also the site-years with a noted finding on one of their trials, and the next rainfall class of those
    near a cut. first_harvests: by comparison, the earliest day on which a yield it uses can have been known. covariates
    and reference_covariates: of the weather, by site-year and by year of the reference period.
    """

    trials: pd.DataFrame
    treatments: pd.DataFrame
    plots: pd.DataFrame
    printed_means: pd.DataFrame
    eligibility: pd.DataFrame
    arms: pd.DataFrame
    noted: list[str]
    neighboring_classes: pd.DataFrame
    first_harvests: dict[str, date]
    covariates: pd.DataFrame
    reference_covariates: pd.DataFrame


def gather(warehouse: Warehouse, program: Program) -> Inputs:
    """Reads the trials layer and finds which trials can answer which comparison, blind to yields."""
    trials = warehouse.table("trials.trials")
    classes = warehouse.table("trials.rainfall_classes")
    trials = trials.merge(classes[["site_year_id", "crop", "rainfall_class"]], on=["site_year_id", "crop"], how="left")
    plots, treatments = usable_plots(warehouse), warehouse.table("trials.treatments")
    printed = warehouse.table("trials.printed_means")
    eligibility, arms = warehouse.table("trials.eligibility"), warehouse.table("trials.arms")
    noted = warehouse.read(
        """select distinct t.site_year_id from trials.findings as f
          inner join trials.trials as t on t.trial_id = f.trial_id
        where f.severity = 'noted' and t.status = 'accepted' order by t.site_year_id"""
    )["site_year_id"]
    accepted = trials[trials["status"] == "accepted"]
    near = _neighboring(program, classes)
    first = warehouse.table("trials.first_harvests")
    first_harvests = {row.comparison_id: row.first_harvest.date() for row in first.itertuples()}
    weather = (warehouse.table(f"trials.{name}") for name in ("weather_covariates", "reference_covariates"))
    return Inputs(accepted, treatments, plots, printed, eligibility, arms, list(noted), near, first_harvests, *weather)


def _neighboring(program: Program, classes: pd.DataFrame) -> pd.DataFrame:
    """The rainfall class on the other side of the cut, by comparison, for site-years that lie near one."""
    near = classes[classes["near_cut"].eq(True) & classes["rainfall_class"].notna()]
    crops = pd.DataFrame([{"comparison_id": c.id, "crop": c.crop} for c in program.comparisons])
    moved = near.assign(rainfall_class=[next_class(index, cut_points_of(program)) for index in near["spi"]])
    return moved.merge(crops, on="crop")[["comparison_id", "site_year_id", "rainfall_class"]]


def estimate_all(
    warehouse: Warehouse,
    program: Program,
    card: RunCard,
    tell: Tell,
    tell_averages: Callable[[pd.DataFrame], None] = lambda shown: None,
) -> tuple[dict[str, pd.DataFrame], RunCard]:
    """Every estimate, as frames for the estimates layer.

    tell_averages: called with the averages over all site-years once they are known, as reports.gains will have them.
    """
    from pipeline.estimates.engines import mixed

    warehouse.let_go()
    found, fitted_by = gather(warehouse, program), mixed.fitted_by()
    tell = Steps(tell, TOLD_OF_A_COMPARISON * len(program.comparisons), warming_up=TOLD_UNTIL_R_STANDS)
    units, known = warehouse.table("reference.display_units"), other_questions.facts(warehouse)
    warehouse.let_go()
    frames = estimated(program, found, tell, lambda rows: tell_averages(_as_shown(program, rows, units)))
    with threadpool_limits(limits=1, user_api="blas"):  # as estimate does
        frames = frames | other_questions.other_questions(program, found, frames, known, tell)
    card = replace(card, r_versions=json.dumps(fitted_by))
    if mixed.fitted_by() != fitted_by:
        raise UserError(FITTED_OTHERWISE)
    ids = data_ids(program, found.trials, found.plots, found.printed_means, found.arms)
    for name in ("pooled_gains", "explored"):
        frames[name] = frames[name].assign(estimate_id=estimate_ids(frames[name], program, ids))
    for name in FIGURES:
        frames[name] = frames[name].assign(estimate_id=figure_ids(name, frames[name], program))
    # every average with its run and the hash of everything that was delivered to that run
    frames["pooled_gains"] = frames["pooled_gains"].assign(
        run_id=card.run_id, inputs_sha256=card.inputs_sha256, unit=UNIT
    )
    frames |= {
        "comparisons": _comparison_rows(program),
        "season_inputs": season_inputs(vars(found)),
        "runs": pd.DataFrame([card.as_row()]),
        "run_headlines": headline_rows(frames["pooled_gains"]).assign(run_id=card.run_id, unit=UNIT),
    }
    results = {f"estimates.{name}": frame_of(frame, name, stored=True) for name, frame in frames.items()}
    results |= review(warehouse, program, results)
    verdicts = frame_of(verdict_rows(results).assign(run_id=card.run_id), "run_verdicts", stored=True)
    return results | {"estimates.run_verdicts": verdicts}, card


def _as_shown(program: Program, averages: pd.DataFrame, units: pd.DataFrame) -> pd.DataFrame:
    """The averages over all site-years in display units, with what the screen says of them."""
    declared = [(c.id, position, c.crop, c.target) for position, c in enumerate(program.comparisons)]
    comparisons = pd.DataFrame(declared, columns=["comparison_id", "position", "crop", "declared_target"])
    shown = averages.merge(comparisons, on="comparison_id").merge(units, on="crop")
    sizes = {name: shown[name] / shown["kg_ha_per_unit"] for name in ("estimate", "conf_low", "conf_high")}
    return shown.assign(is_declared=shown["target"] == shown["declared_target"], **sizes)


def estimated(
    program: Program, found: Inputs, tell: Tell, tell_averages: Callable[[pd.DataFrame], None] = lambda rows: None
) -> dict[str, pd.DataFrame]:
    """What the estimates make of these inputs."""
    from pipeline.estimates.program import estimate

    return estimate(
        program.comparisons,
        found.trials,
        found.treatments,
        found.plots,
        found.arms,
        printed_means=found.printed_means,
        noted=found.noted,
        eligibility=found.eligibility,
        neighboring_classes=found.neighboring_classes,
        also_declared=_declared_in_time(program, found.first_harvests),
        covariates=found.covariates,
        reference_covariates=found.reference_covariates,
        progress=tell,
        tell_averages=tell_averages,
    )


def _declared_in_time(program: Program, first_harvests: dict[str, date]) -> tuple[str, ...]:
    """The further breakdowns, none where they were declared after the first harvest of any comparison: they explore
    then.
    """
    also = program.also_declared
    in_time = also is not None and also.declared <= min(first_harvests.values(), default=date.max)
    return also.classes if in_time else ()


def headlines(warehouse: Warehouse, program: Program) -> pd.DataFrame:
    """The headlines alone, for what the trials layer holds now."""
    from pipeline.estimates.program import headlines_and_blocks

    found = gather(warehouse, program)
    by_plots = (found.trials, found.treatments, found.plots, found.arms)
    averages, _ = headlines_and_blocks(program.comparisons, *by_plots, printed_means=found.printed_means)
    return headline_rows(averages)


def headline_rows(pooled: pd.DataFrame) -> pd.DataFrame:
    """One row per comparison and target: the average that leads."""
    leading = pooled[pooled["is_headline"] & (pooled["moderator"] == "all")]
    return narrowed(leading, "run_headlines", without=("run_id", "unit"))


def verdict_rows(results: Mapping[str, pd.DataFrame]) -> pd.DataFrame:
    """One row per claim, and per test of as good: what the evidence says of it. A claim printed twice has one;
    where one sentence is claimed of several things, each is told with what it speaks of.
    """
    claims, tests = results["estimates.claims"], results["estimates.noninferiority"]
    parts = claims[["comparison_id", "only_in", "weather"]].fillna("")
    of = pd.Series([", ".join(filter(None, row)) for row in parts.itertuples(index=False)], claims.index, dtype=object)
    is_of_several = of.groupby(claims["sentence"]).transform("nunique").gt(1)
    claimed = claims.assign(
        what=claims["sentence"].mask(is_of_several, claims["sentence"] + " (" + of + ")"), kind=CLAIM
    )
    tested = tests.rename(columns={"comparison_id": "what"}).assign(kind=AS_GOOD)
    told = [narrowed(frame, "run_verdicts", without=("run_id",)) for frame in (claimed, tested)]
    return pd.concat(told).drop_duplicates(["kind", "what", "target"])


def _comparison_rows(program: Program) -> pd.DataFrame:
    rows = [
        {
            "comparison_id": c.id,
            "position": i,
            "says": c.says,
            "treatment_in_short": c.in_short[0] if c.in_short else None,
            "comparator_in_short": c.in_short[1] if c.in_short else None,
            "crop": c.crop,
            "trait": c.trait,
            "question": c.question,
            "target": c.target,
            "rates": json.dumps(c.rates),
            "may_differ": ", ".join(c.may_differ),
            "declared": c.declared,
        }
        for i, c in enumerate(program.comparisons)
    ]
    return frame_of(rows, "comparisons")
