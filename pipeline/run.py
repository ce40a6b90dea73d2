"""The order of the flow: the one module that knows every room.

Loading, estimating and storing are one transaction of the warehouse: a run that is refused or killed leaves it
as it was. Pages are drawn from frames after the warehouse is closed, so that readers are not shut out.
"""

from __future__ import annotations

import json
from dataclasses import dataclass, replace
from pathlib import Path

import pandas as pd

from pipeline import console
from pipeline.errors import UserError
from pipeline.incoming.deliveries import brought_in, find_files, input_files
from pipeline.loading import Tell, load
from pipeline.provenance import RunCard, inputs_hash, short_id, start_run
from pipeline.settings import Program, read_program
from pipeline.site_years.eligibility import eligible_trials
from pipeline.warehouse import Warehouse, open_warehouse

UNIT = "kg/ha"


@dataclass(frozen=True)
class Outcome:
    """What a run leaves for the pages and for the last words on the screen."""

    program: Program
    card: RunCard
    arrived: list[str]
    withdrawn: list[str]
    tables: dict[str, pd.DataFrame]
    headlines_before: pd.DataFrame


def make_demo(folder: Path) -> None:
    """Writes the invented demo program into a new folder."""
    from pipeline.simulation.demo import write_demo

    if (folder / "program.yml").exists():
        raise UserError(f"{folder} holds a program already; remove it first, or name another folder.")
    write_demo(folder)
    console.say(f"The demo program stands in {folder}: invented trials with planted defects, their key in defects.csv.")


def report(folder: Path) -> None:
    """The main job: load all seasons, estimate, publish, say where."""
    outcome = _built(folder, "report")
    _publish(outcome)


def add_season(season_folder: Path, folder: Path) -> None:
    """Brings one more season into the program, then as report; ends with every headline before and after."""
    read_program(folder)
    with brought_in(season_folder, folder):
        outcome = _built(folder, "season")
    _publish(outcome)
    console.headline_changes(outcome.headlines_before, outcome.tables["reports.gains"])


def _built(folder: Path, command: str) -> Outcome:
    with console.steps() as tell:
        outcome = build_warehouse(folder, command, tell)
    console.arrivals(outcome.arrived, outcome.withdrawn)
    console.row_counts(outcome.tables["reports.row_counts"])
    console.findings(outcome.tables["reports.findings"], outcome.tables["reports.trials"])
    return outcome


def _publish(outcome: Outcome) -> None:
    from pipeline.publishing.pages import publish

    with console.pages() as tell:
        publish(outcome.tables, folder=outcome.program.published, program_name=outcome.program.name, tell=tell)
    console.headlines(outcome.tables["reports.gains"])
    console.say(f"Reports: {outcome.program.published / 'index.html'}")


def build_warehouse(folder: Path, command: str, tell: Tell) -> Outcome:
    """Loads what changed in the season folders, estimates, stores; all of it or nothing."""
    program = read_program(folder)
    files = find_files(folder)
    card = start_run(command, folder / "program.yml")
    with open_warehouse(program.warehouse_file) as warehouse, warehouse.transaction():
        arrived, withdrawn = load(warehouse, program, files, card, tell)
        card = replace(card, inputs_sha256=inputs_hash(input_files(folder, files)))
        before = _headlines_before(warehouse)
        results, card = estimate_all(warehouse, program, card, tell)
        warehouse.build(["estimates", "reports"], fill=results)
        tables = {name: warehouse.table(name) for name in _published_names(warehouse)}
    return Outcome(program, card, arrived, withdrawn, tables, before)


def _headlines_before(warehouse: Warehouse) -> pd.DataFrame:
    """The headlines of the last run that is stored, empty on a new warehouse."""
    there = warehouse.read("select 1 from information_schema.tables where table_schema = 'estimates' and table_name = 'run_headlines'")
    if there.empty:
        return pd.DataFrame()
    return warehouse.read(
        "select * from estimates.run_headlines where run_id = (select arg_max(run_id, started) from estimates.runs)"
    )


def estimate_all(warehouse: Warehouse, program: Program, card: RunCard, tell: Tell) -> tuple[dict[str, pd.DataFrame], RunCard]:
    """Eligibility and every estimate, as frames for the estimates layer."""
    from pipeline.estimates import estimate_program
    from pipeline.estimates.mixed import start_r

    trials = warehouse.table("trials.trials")
    classes = warehouse.table("trials.rainfall_classes")[["site_year_id", "crop", "rainfall_class"]]
    trials = trials.merge(classes, on=["site_year_id", "crop"], how="left")
    treatments = warehouse.table("trials.treatments")
    plots = warehouse.table("trials.plots")
    plots = plots[(plots["fate"] == "used") & plots["yield_kg_ha"].notna()].rename(columns={"yield_kg_ha": "value"})
    eligibility, arms = eligible_trials(
        program.comparisons, trials, treatments, plots[["trial_id", "block", "treatment_code"]], fewest_blocks=program.fewest_blocks
    )
    accepted = trials[trials["status"] == "accepted"]
    frames = estimate_program.estimate(program.comparisons, accepted, treatments, plots, arms, progress=tell)
    card = replace(card, r_versions=json.dumps(start_r().versions))
    frames["pooled_gains"] = _signed(frames["pooled_gains"], card)
    results = {f"estimates.{name}": frame for name, frame in frames.items()}
    results |= {
        "estimates.eligibility": eligibility,
        "estimates.arms": arms,
        "estimates.comparisons": _comparison_rows(program),
        "estimates.runs": pd.DataFrame([card.as_row()]),
        "estimates.run_headlines": _headline_rows(frames["pooled_gains"], card),
    }
    return results, card


def _signed(pooled: pd.DataFrame, card: RunCard) -> pd.DataFrame:
    """Every estimate with its id, its run and the hash of the inputs it rests on."""
    parts = pooled[["comparison_id", "target", "method", "moderator", "level"]].itertuples(index=False)
    ids = [short_id(*row, card.inputs_sha256, card.settings_sha256) for row in parts]
    return pooled.assign(estimate_id=ids, run_id=card.run_id, inputs_sha256=card.inputs_sha256, unit=UNIT)


def _comparison_rows(program: Program) -> pd.DataFrame:
    return pd.DataFrame(
        {
            "comparison_id": c.id, "position": i, "says": c.says, "crop": c.crop, "trait": c.trait, "question": c.question,
            "target": c.target, "rates": json.dumps(c.rates), "may_differ": ", ".join(c.may_differ), "declared": c.declared,
        }  # fmt: skip
        for i, c in enumerate(program.comparisons)
    )


def _headline_rows(pooled: pd.DataFrame, card: RunCard) -> pd.DataFrame:
    headlines = pooled[pooled["is_headline"].eq(True) & (pooled["moderator"] == "all")]
    wanted = ["comparison_id", "target", "estimate", "conf_low", "conf_high", "n_site_years", "n_seasons", "method", "unit"]
    return headlines[wanted].assign(run_id=card.run_id)


def _published_names(warehouse: Warehouse) -> list[str]:
    names = warehouse.read("select table_name from information_schema.tables where table_schema = 'reports' order by table_name")
    return [f"reports.{name}" for name in names["table_name"]]
