"""The plot workbook of one trial: an .xlsx that cooperators fill in and send back as it is.

Sheets, headings, words and ranges come from the declared tables, so a filled workbook is a
delivery like any other. Sheets whose name begins with '_', and 'instructions', are not read.
"""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from pathlib import Path

import pandas as pd
from openpyxl import Workbook

from pipeline.contract.tables import declared_tables
from pipeline.contract.units import US
from pipeline.errors import UserError, one_of, printable
from pipeline.incoming.own_sheets import PLAN, WORDS
from pipeline.planning.instructions import write_instructions
from pipeline.planning.plan_sheet import write_plan
from pipeline.planning.table_sheets import save, write_table, write_words
from pipeline.planning.workbook_fields import fields_of

SHEETS = ("trials", "treatments", "nitrogen_applications", "plots")
CONTROL_CHARACTER = re.compile(r"[\x00-\x08\x0b\x0c\x0e-\x1f]")
SPARE_ROWS = {"nitrogen_applications": 40}


def write_plot_workbook(
    path: Path,
    tables: Mapping[str, pd.DataFrame],
    plan: pd.DataFrame,
    words: Mapping[str, Sequence[str]],
    *,
    random_seed: int,
    product: str = "grain",
    display_units: str = US,
) -> None:
    """Writes the workbook of one trial.

    tables: trials (one row), treatments, nitrogen_applications, with delivered headings and
    cells as they would be typed. plan: as plan_of_plots gives it. words: the known words of
    each reference list a column points to, by its name ('reference.crops'). UserError for a
    heading or a list that the declarations do not know, and where the file cannot be written.
    product: what the trial's crop is harvested for, grain or lint. display_units: us or metric, for the headings
    that the tables do not have yet.
    """
    _refuse_control_characters(tables)
    tables = dict(tables) | {"plots": _plots(tables, plan)}
    crop, season = _trial(tables)
    fields = {
        name: fields_of(
            declared_tables()[name], _known_headings(name, tables[name]), {crop: product}, season, words, display_units
        )
        for name in SHEETS
    }
    if "main_plot" not in tables["plots"]:
        fields["plots"] = [field for field in fields["plots"] if field.heading != "main_plot"]
    workbook = Workbook()
    write_instructions(workbook.active, fields, trial=tables["trials"].iloc[0], random_seed=random_seed)
    lists = write_words(workbook, fields)
    for name in SHEETS:
        write_table(workbook.create_sheet(name), fields[name], tables[name], lists, SPARE_ROWS.get(name, 0))
    write_plan(workbook.create_sheet(PLAN), plan, tables["treatments"], tables["nitrogen_applications"])
    workbook.move_sheet(WORDS, offset=len(workbook.sheetnames))
    save(workbook, path)


def _refuse_control_characters(tables: Mapping[str, pd.DataFrame]) -> None:
    """XML 1.0, and so no workbook, has characters for bells and the like."""
    for name, frame in tables.items():
        for heading in frame.columns:
            for text in frame[heading]:
                if isinstance(text, str) and CONTROL_CHARACTER.search(text):
                    raise UserError(
                        f'layout: {heading} "{printable(text)}" in {name} holds a control character, which no workbook'
                        " can hold. Delete it where it was delivered, or correct it in corrections.yml, and run make"
                        " report."
                    )


def _plots(tables: Mapping[str, pd.DataFrame], plan: pd.DataFrame) -> pd.DataFrame:
    """The plan as rows of the plots table."""
    if len(tables["trials"]) != 1:
        raise UserError(f"layout: {len(tables['trials'])} rows in trials; a plot workbook is for one trial")
    known = set(tables["treatments"]["treatment_code"].astype(str))
    if strange := sorted(set(plan["treatment_code"].astype(str)) - known):
        raise UserError(f"layout: the plan holds codes that the treatments table lacks: {', '.join(strange)}")
    columns = ["block", "main_plot", "plot", "treatment_code"]
    columns = [name for name in columns if plan[name].notna().any()]
    plots = plan[columns].astype(str)
    plots.insert(0, "trial_id", tables["trials"]["trial_id"].iloc[0])
    return plots


def _trial(tables: Mapping[str, pd.DataFrame]) -> tuple[str, int]:
    trial = tables["trials"].iloc[0]
    for column in ("trial_id", "crop", "season"):
        if column not in trial or pd.isna(trial[column]):
            raise UserError(f"layout: trials needs {column} for the workbook to be made")
    return str(trial["crop"]), int(trial["season"])


def _known_headings(name: str, frame: pd.DataFrame) -> list[str]:
    table = declared_tables()[name]
    for heading in frame.columns:
        if not table.knows(heading):
            raise UserError(f'layout: {name} has no column "{heading}": {one_of(table.known_headings, heading)}')
    return list(frame.columns)
