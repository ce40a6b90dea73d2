"""Writes the demo program: its settings, what each season delivered, the truth and the answer key of the defects."""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np
import pandas as pd

from pipeline.simulation.defects import HEADINGS, UNKNOWN_COLUMN, Tables, plant_defects
from pipeline.simulation.program import RANDOM_SEED, SEASONS, simulate_program

WORKBOOK_SEASON = 2092  # delivered as one workbook; the other seasons as CSV files
DELIVERED_ONCE = ("sites", "rain_history")  # in the first season's folder
PROGRAM_FILE = Path(__file__).parent / "program.yml"


def write_demo(
    folder: Path, *, random_seed: int = RANDOM_SEED, defects: bool = True, seasons: tuple[int, ...] = SEASONS
) -> None:
    """Writes a program folder: program.yml, seasons/<year>/, truth.json and, with defects, defects.csv.

    The same seed gives the same contents. Existing files of these names are replaced.
    """
    program = simulate_program(random_seed=random_seed, seasons=seasons)
    tables, planted = program.tables, None
    if defects:
        tables, planted = plant_defects(tables, np.random.default_rng([random_seed, 1]))
    folder.mkdir(parents=True, exist_ok=True)
    (folder / "program.yml").write_text(PROGRAM_FILE.read_text(encoding="utf-8"), encoding="utf-8")
    delivered = {season: season_tables(tables, season, is_first=season == seasons[0]) for season in seasons}
    for season, frames in delivered.items():
        _write_season(folder / "seasons" / str(season), frames, as_workbook=season == WORKBOOK_SEASON)
    (folder / "truth.json").write_text(json.dumps(program.truth, indent=1) + "\n", encoding="utf-8")
    if planted is not None:
        answer_key(planted, delivered).to_csv(folder / "defects.csv", index=False)


def season_tables(tables: Tables, season: int, *, is_first: bool) -> Tables:
    """What one season delivers, each table in file order with its row index kept."""
    trials = tables["trials"][tables["trials"]["season"] == season]
    found = {name: tables[name] for name in DELIVERED_ONCE} if is_first else {}
    found["trials"] = trials
    for name in ("treatments", "nitrogen_applications", "plots"):
        found[name] = tables[name][tables[name]["trial_id"].isin(trials["trial_id"])]
    weather = tables["weather_daily"]
    found["weather_daily"] = weather[weather["season"] == season].drop(columns="season")
    # a column that only another season's cooperators filled is not part of this delivery
    if UNKNOWN_COLUMN in found["plots"] and found["plots"][UNKNOWN_COLUMN].isna().all():
        found["plots"] = found["plots"].drop(columns=UNKNOWN_COLUMN)
    return found


def _write_season(folder: Path, tables: Tables, *, as_workbook: bool) -> None:
    folder.mkdir(parents=True, exist_ok=True)
    if not as_workbook:
        for name, frame in tables.items():
            frame.to_csv(folder / f"{name}.csv", index=False, date_format="%Y-%m-%d")
        return
    with pd.ExcelWriter(
        folder / _workbook_name(folder.name),
        engine="openpyxl",
        date_format="YYYY-MM-DD",
        datetime_format="YYYY-MM-DD",
    ) as workbook:
        for name, frame in tables.items():
            frame.to_excel(workbook, sheet_name=name, index=False)


def _workbook_name(season: int | str) -> str:
    return f"season_{season}.xlsx"


def answer_key(planted: pd.DataFrame, delivered: dict[int, Tables]) -> pd.DataFrame:
    """One row per defect: where a person would look for it, and what should be said about it.

    `row` is the first row concerned as the file numbers it, headings in row 1; empty where a row is missing altogether.
    """
    rows = []
    for defect, trial_id, season, labels in planted.itertuples(index=False):
        is_workbook = season == WORKBOOK_SEASON
        frame = delivered[season][defect.table]
        rows.append({
            "defect": defect.name,
            "file": f"seasons/{season}/{_workbook_name(season) if is_workbook else defect.table + '.csv'}",
            "sheet": defect.table if is_workbook else "",
            "row": _row_number(frame, labels),
            "n_rows": len(labels),
            "column": defect.column, "trial_id": trial_id, "what_was_done": defect.done,
            "pipeline_should_say": defect.expected, "severity_expected": defect.severity,
        })  # fmt: skip
    return pd.DataFrame(rows)


def _row_number(frame: pd.DataFrame, labels: list) -> str:
    if not labels:
        return ""
    return "1" if labels[0] == HEADINGS else str(frame.index.get_loc(labels[0]) + 2)
