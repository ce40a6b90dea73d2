"""What to plant next, on the screen, and a plot workbook for a trial to plant, from what the last report stored."""

from __future__ import annotations

import json
import re
import secrets
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path

import pandas as pd

from pipeline import console
from pipeline.contract.tables import declared_tables
from pipeline.contract.units import KG_HA_PER_LB_AC, UNITS
from pipeline.errors import UserError, one_of
from pipeline.file_names import file_name
from pipeline.settings.program import Program, read_program
from pipeline.verbs.last_report import last_report
from pipeline.verbs.plan_told import tell_plan
from pipeline.warehouse import Warehouse

WORD_LISTS = ("crops", "n_sources", "n_products")
LEADING_DATE = re.compile(r"^\d{4}-\d\d-\d\d\s*")
MOST_SEED = 1_000_000
TAKEN_OVER = ("crop", "series", "row_spacing_cm")  # from the trial whose treatments a new one takes


@dataclass(frozen=True)
class Wanted:
    """A trial to lay out: whose treatments it takes, and where, when and how it is planted; None for the usual."""

    like: str
    season: int | None
    site_id: str | None
    design: str
    n_blocks: int
    random_seed: int | None
    main_plots: str


def plan(folder: Path) -> None:
    """Prints the half-widths to expect and the proposed trials of each comparison, as the last report stored them."""
    program = read_program(folder)
    names = ("outlook", "slope_outlook", "evidence", "proposed_trials", "comparisons")
    with last_report(program, [f"reports.{name}" for name in names]) as warehouse:
        views = {name: warehouse.table(f"reports.{name}") for name in names}
    tell_plan(**views)


def layout(folder: Path, wanted: Wanted) -> Path:
    """Writes the plot workbook of a trial to plant into the program's plans/ and says where.

    It takes the treatments and applications of a trial of the program; of a planned trial, unless another season or
    site is asked for, it is the layout itself. UserError where the trial or site is not known,
    the design does not fit the treatments, or the workbook is there already.
    """
    from pipeline.planning.layout import plan_of_plots
    from pipeline.planning.plot_workbook import write_plot_workbook

    program = read_program(folder)
    with last_report(program) as warehouse:
        tables = _tables_like(warehouse, program, wanted)
        words = {f"reference.{name}": tuple(warehouse.table(f"reference.{name}")["word"]) for name in WORD_LISTS}
        products = warehouse.table("reference.crops").set_index("word")["product"]
        rows_of = warehouse.table("trials.trials").set_index("trial_id")["file"].to_dict()
    seed = secrets.randbelow(MOST_SEED) if wanted.random_seed is None else wanted.random_seed
    plots = plan_of_plots(
        tables["treatments"],
        design=wanted.design,
        n_blocks=wanted.n_blocks,
        random_seed=seed,
        main_plot_column=wanted.main_plots,
    )
    path = folder / "plans" / f"{file_name(tables['trials']['trial_id'][0])}.xlsx"
    if path.exists():
        raise UserError(
            f"{path} is there already. Move it away, or name another season or site; a plan in use is never"
            " overwritten."
        )
    path.parent.mkdir(exist_ok=True)
    product = products[tables["trials"]["crop"][0]]
    write_plot_workbook(
        path, tables, plots, words, random_seed=seed, product=product, display_units=program.display_units
    )
    console.say(f"{len(plots)} plots in {wanted.n_blocks} blocks ({wanted.design}, random seed {seed}): {path}")
    if unlisted := _without_applications(tables):
        console.say(
            f"No nitrogen application is listed for {', '.join(unlisted)}. Fill in the sheet nitrogen_applications,"
            " then the treatment key in the plan of plots."
        )
    if replaced := rows_of.get(tables["trials"]["trial_id"][0]):
        console.say(
            "It brings the rows of this trial again. Once its outcome there is planted, harvested or lost, they take"
            f" the place of those in {replaced}."
        )
    console.say(
        "Fill it in and put it into the season's folder as it is. Product labels and your nutrient management plan come"
        " first."
    )
    return path


def _tables_like(warehouse: Warehouse, program: Program, wanted: Wanted) -> dict[str, pd.DataFrame]:
    """Trials, treatments and applications of the new trial, with delivered headings, in the program's units."""
    trials = warehouse.table("trials.trials")
    like = _known(trials, "trial_id", wanted.like, "trial")
    site = _known(warehouse.table("trials.sites"), "site_id", wanted.site_id or like["site_id"], "site")
    is_there_and_then = wanted.season in (None, like["season"]) and site["site_id"] == like["site_id"]
    itself = like["status"] == "planned" and is_there_and_then
    season = int(like["season"]) if itself else wanted.season or _next_season(trials)
    trial_id = like["trial_id"] if itself else _new_name(like, season, site["site_id"], trials)
    treatments = warehouse.table("trials.treatments")
    treatments = treatments[treatments["trial_id"] == wanted.like]
    if treatments.empty:
        why = f"is {like['status']}"
        if like["status"] == "not harvested":
            why = "was planned and did not report, while other trials of its crop are harvested"
        raise UserError(f"{wanted.like} {why}: its treatments cannot be taken. Name an accepted or a planned trial.")
    applied = warehouse.table("staging.nitrogen_applications")
    applied = applied[(applied["trial_id"] == wanted.like) & (itself | (applied["counts_toward"] == "treatment"))]
    head = _own_row(warehouse, trial_id) if itself else {name: like[name] for name in TAKEN_OVER}
    head |= {"trial_id": trial_id, "season": season, "site_id": site["site_id"], "design": wanted.design}
    head |= {"outcome": "planned"}
    kept = ["treatment_code", "n_source", "coated_n_fraction", "timing", "passes", "placement", "additive"]
    flags = {
        "is_zero_n": treatments["is_zero_n"] | treatments["n_rate_kg_ha"].eq(0),
        "is_grower_standard": treatments["is_grower_standard"],
    }
    flags = {name: flag.map({True: "yes", False: "no"}) for name, flag in flags.items()}
    return {
        "trials": pd.DataFrame([_as_typed(head, program)]),
        "treatments": (
            _rates(treatments, kept, program)
            .assign(trial_id=trial_id, **flags, **_factors(treatments))
            .reset_index(drop=True)
        ),
        "nitrogen_applications": (
            _rates(
                applied if itself else applied.assign(application=_passes(applied)),
                ["treatment_code", "application", "product", "product_n_pct", "placement", "counts_toward"],
                program,
            )
            .assign(trial_id=trial_id)
            .reset_index(drop=True)
        ),
    }


def _without_applications(tables: Mapping[str, pd.DataFrame]) -> list[str]:
    """The treatments with nitrogen of which no application is listed."""
    treatments = tables["treatments"]
    rate = treatments.filter(regex="^n_rate_").iloc[:, 0]
    listed = tables["nitrogen_applications"]["treatment_code"]
    return list(treatments.loc[rate.gt(0) & ~treatments["treatment_code"].isin(listed), "treatment_code"])


def _own_row(warehouse: Warehouse, trial_id: str) -> dict[str, object]:
    """All that was delivered of a planned trial, by its columns' stored names: its workbook replaces that row."""
    staged = warehouse.table("staging.trials")
    return staged[staged["trial_id"] == trial_id].iloc[0].to_dict()


def _as_typed(row: Mapping[str, object], program: Program) -> dict[str, object]:
    """A row of trials by its headings in the program's units, its cells as a person types them."""
    from pipeline.planning.workbook_fields import usual_heading

    typed = {}
    for column in declared_tables()["trials"].plain_columns:
        value = row.get(column.stored_name)
        if pd.isna(value):
            continue
        heading = usual_heading(column, program.display_units)
        if unit := column.unit_of_heading[heading]:
            value = round((value - UNITS[unit].offset) / UNITS[unit].factor, 4)
        elif column.type == "yes_no":
            value = "yes" if value else "no"
        elif column.type == "date":
            value = value.strftime("%Y-%m-%d")
        typed[heading] = value
    return typed


def _next_season(trials: pd.DataFrame) -> int:
    """The year after the last one with more than plans."""
    known = trials[trials["status"] != "planned"]
    return int((known if len(known) else trials)["season"].max()) + 1


def _known(rows: pd.DataFrame, column: str, word: str, what: str) -> pd.Series:
    found = rows[rows[column] == word]
    if found.empty:
        raise UserError(
            f'layout: the {what} "{word}" is not known in this program: {one_of(sorted(rows[column].dropna()), word)}'
        )
    return found.iloc[0]


def _new_name(like: pd.Series, season: int, site_id: str, trials: pd.DataFrame) -> str:
    """The old trial's name with the new season, and the new site's where it moves."""
    stem = str(like["trial_id"]).removeprefix(f"{like['season']}-")
    name = (
        f"{season}-{stem}"
        if site_id == like["site_id"]
        else f"{season}-{re.sub(r'[^A-Za-z0-9]+', '-', site_id)}-{like['crop']}"
    )
    taken = trials[trials["trial_id"] == name]
    if len(taken) and taken.iloc[0]["status"] == "planned":
        raise UserError(
            f"layout: {name} is planned already; lay it out with TRIAL={name}, or name another season with SEASON"
        )
    if len(taken):
        raise UserError(f"layout: {name} is a trial of this program already; name another season with SEASON")
    return name


def _rates(rows: pd.DataFrame, columns: list[str], program: Program) -> pd.DataFrame:
    """These columns with the rate in the program's unit, freed from the conversion's last digits."""
    unit, size = ("lb_ac", KG_HA_PER_LB_AC) if program.display_units == "us" else ("kg_ha", 1.0)
    return rows[columns].assign(**{f"n_rate_{unit}": (rows["n_rate_kg_ha"] / size).round(4)})


def _factors(treatments: pd.DataFrame) -> dict[str, pd.Series]:
    """Levels of the free factors by delivered heading, from the stored objects."""
    levels = pd.DataFrame(
        [json.loads(text) if isinstance(text, str) else {} for text in treatments["factors"]], index=treatments.index
    )
    return {str(name): levels[name] for name in levels}


def _passes(applied: pd.DataFrame) -> list[str]:
    """Applications by pass and product: an old trial's dates are not next season's."""
    dates = applied["application"].str.extract(r"^(\d{4}-\d\d-\d\d)")[0]
    order = dates.groupby(applied["treatment_code"]).rank(method="dense")
    names = []
    for name, product, number in zip(applied["application"], applied["product"], order, strict=True):
        names.append(name if pd.isna(number) else f"pass {number:.0f}, {LEADING_DATE.sub('', name) or product}")
    return names
