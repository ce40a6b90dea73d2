"""Which checked trials can answer which comparison, read from the trials layer; blind to yields."""

from __future__ import annotations

from collections.abc import Callable

import pandas as pd

from pipeline.settings.program import Program
from pipeline.site_years.asked_of_no_trial import asked_of_no_trial
from pipeline.site_years.eligibility import eligible_trials
from pipeline.site_years.first_harvests import first_harvests
from pipeline.warehouse import Warehouse

USABLE = "fate = 'used' and yield_kg_ha is not null"


def usable_plots(warehouse: Warehouse) -> pd.DataFrame:
    """Plots in use, their yields as `value` (kg/ha)."""
    plots = warehouse.table("trials.plots")
    return plots[(plots["fate"] == "used") & plots["yield_kg_ha"].notna()].rename(columns={"yield_kg_ha": "value"})


def eligible_tables(program: Program) -> dict[str, Callable[[Warehouse], pd.DataFrame]]:
    """What fills trials.eligibility and trials.arms, found together when the first of them is filled."""
    found: dict[str, pd.DataFrame] = {}

    def eligibility(built: Warehouse) -> pd.DataFrame:
        found["eligibility"], found["arms"] = _eligible(built, program)
        return found["eligibility"]

    return {"trials.eligibility": eligibility, "trials.arms": lambda built: found["arms"]}


def _eligible(warehouse: Warehouse, program: Program) -> tuple[pd.DataFrame, pd.DataFrame]:
    """(eligibility, arms) of every comparison, as eligible_trials gives them."""
    printed = _blocks_behind(_without_plots(warehouse))

    def usable_blocks(treatments: pd.DataFrame) -> pd.DataFrame:
        grown = warehouse.read(
            f"""select distinct trial_id, block, treatment_code
            from trials.plots semi join given using (trial_id, treatment_code) where {USABLE}""",
            given=treatments,
        )
        return pd.concat([grown, printed], ignore_index=True)

    return eligible_trials(
        program.comparisons,
        warehouse.table("trials.trials"),
        warehouse.table("trials.treatments"),
        usable_blocks,
        fewest_blocks=program.fewest_blocks,
    )


def first_harvests_of(warehouse: Warehouse) -> pd.DataFrame:
    """The rows of trials.first_harvests."""
    eligibility, trials = warehouse.table("trials.eligibility"), warehouse.table("trials.trials")
    return first_harvests(eligibility, trials, set(_without_plots(warehouse)["trial_id"]))


def asked_of_no_trial_in(warehouse: Warehouse, program: Program) -> pd.DataFrame:
    """The rows of trials.asked_of_no_trial."""
    crops = warehouse.read("select trial_id, crop from trials.trials")
    treatments = warehouse.table("trials.treatments").merge(crops, on="trial_id")
    return asked_of_no_trial(program.comparisons, treatments, program.display_units)


def _without_plots(warehouse: Warehouse) -> pd.DataFrame:
    """The printed means of trials that are known by them alone: one with usable plots is taken from its plots."""
    return warehouse.read(f"""select * from trials.printed_means
        anti join (select trial_id from trials.plots where {USABLE}) using (trial_id)""")


def _blocks_behind(printed_means: pd.DataFrame) -> pd.DataFrame:
    """The blocks a printed mean or difference stands for, as if its plots were here: eligibility counts them."""
    own = printed_means[["trial_id", "treatment_code", "n_blocks"]]
    other = printed_means[["trial_id", "compared_with", "n_blocks"]].dropna()
    both = pd.concat([own, other.rename(columns={"compared_with": "treatment_code"})]).drop_duplicates()
    blocks = [range(1, int(n) + 1) for n in both["n_blocks"]]
    named = both[["trial_id", "treatment_code"]].assign(block=blocks).explode("block", ignore_index=True)
    return named.astype({"block": str}).drop_duplicates(ignore_index=True)
