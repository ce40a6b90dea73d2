"""Writes the demo program: its settings, what each season delivered, the truth and the answer key of the defects."""

from __future__ import annotations

import json
from collections.abc import Mapping
from pathlib import Path

import numpy as np
import pandas as pd

from pipeline.simulation.answer_key import WORKBOOK_SEASON, answer_key, with_paperwork, workbook_name
from pipeline.simulation.defects import UNKNOWN_COLUMN, Tables, plant_defects
from pipeline.simulation.other_deliveries import measured, picked_twice, weather_under_another_name
from pipeline.simulation.paperwork import SAVED_ANEW, write_corrections, write_manifest
from pipeline.simulation.printed import PRINTED_SEASON, printed_trial
from pipeline.simulation.program import RANDOM_SEED, SEASONS, simulate_program
from pipeline.simulation.senders import SENDERS, senders_sites, tables_of_site, write_delivery
from pipeline.simulation.truth import truth_of
from pipeline.simulation.workbooks import write_workbook

DELIVERED_ONCE = ("sites", "rain_history")  # in the first season's folder
OF_TRIALS = ("treatments", "nitrogen_applications", "plots", "harvests", "measurements")
PROGRAM_FILE = Path(__file__).parent / "program.yml"


def write_demo(
    folder: Path,
    *,
    random_seed: int = RANDOM_SEED,
    defects: bool = True,
    senders: bool = True,
    seasons: tuple[int, ...] = SEASONS,
    excess_slopes: Mapping[str, float] | None = None,
) -> None:
    """Writes a program folder: program.yml, seasons/<year>/, truth.json and, with defects, defects.csv.

    With `senders` it comes in the shapes people send: see _as_people_send. The same seed gives the same files, to the
    byte. Existing files of these names are replaced. excess_slopes: as for simulate_program.
    """
    program = simulate_program(random_seed=random_seed, seasons=seasons, excess_slopes=excess_slopes)
    tables, planted, truth = program.tables, None, program.truth
    if defects:
        tables, planted = plant_defects(tables, np.random.default_rng([random_seed, 1]))
    touched = set() if planted is None else set(planted["trial_id"])
    folder.mkdir(parents=True, exist_ok=True)
    (folder / "program.yml").write_text(PROGRAM_FILE.read_text(encoding="utf-8"), encoding="utf-8")
    if senders:
        rng = np.random.default_rng([random_seed, 2])
        older = printed_trial(rng, tables["rain_history"])
        truth = truth_of(
            pd.concat([older.site_year, program.site_years], ignore_index=True),
            random_seed=random_seed,
            seasons=(PRINTED_SEASON, *seasons),
        )
        _write_season(folder / "seasons" / str(PRINTED_SEASON), older.tables)
        tables = _as_people_send(folder, tables, seasons, touched, rng)
    delivered = {season: season_tables(tables, season, is_first=season == seasons[0]) for season in seasons}
    for season, frames in delivered.items():
        _write_season(folder / "seasons" / str(season), frames)
    key = answer_key(planted, delivered) if defects else []
    if senders:
        key = _add_paperwork(folder, paper_season(seasons), delivered, touched, key)
    (folder / "truth.json").write_text(json.dumps(truth, indent=1) + "\n", encoding="utf-8")
    if defects:
        pd.DataFrame(key).to_csv(folder / "defects.csv", index=False)


def paper_season(seasons: tuple[int, ...]) -> int:
    """The season with a manifest, corrections, picks and measurements; the harvest width is planted in it too."""
    return seasons[2 % len(seasons)]


def _as_people_send(
    folder: Path, tables: Tables, seasons: tuple[int, ...], touched: set[str], rng: np.random.Generator
) -> Tables:
    """Writes the folders of two cooperators who deliver the last season by themselves; returns what is left to deliver.

    In that season one place's weather goes by another name. In another one, a cotton trial is picked twice and some
    trials bring measurements.
    """
    trials = tables["trials"]
    own = trials[
        (trials["season"] == paper_season(seasons))
        & (trials["outcome"] == "harvested")
        & ~trials["trial_id"].isin(touched)
    ]
    by_crop = own.groupby("crop")["trial_id"].apply(list)
    heights = measured(tables, [*by_crop["corn"][:2], by_crop["cotton"][0]], rng)
    tables = picked_twice(tables, by_crop["cotton"][0], rng) | {"measurements": heights}
    tables = weather_under_another_name(tables, seasons[-1])
    for site_id, sender in zip(senders_sites(tables, seasons[-1], touched), SENDERS, strict=False):
        own, tables = tables_of_site(tables, seasons[-1], site_id)
        cooperator = own["trials"]["cooperator"].iloc[0]
        write_delivery(folder / "seasons" / str(seasons[-1]) / cooperator, own, sender)
    return tables


def _add_paperwork(folder: Path, season: int, delivered: dict[int, Tables], touched: set[str], key: list) -> list:
    """A right manifest; with defects a line of it is stale, and corrections.yml mends one defect and has a stale
    entry.
    """
    season_folder = folder / "seasons" / str(season)
    write_manifest(season_folder, season, saved_anew=SAVED_ANEW if key else "")
    if not key:
        return []
    plots = delivered[season]["plots"]
    stale = plots[~plots["trial_id"].isin(touched) & plots["harvest_weight_lb"].notna()].iloc[0]
    width_of = next(row.trial_id for row in key if row.defect == "harvest width")
    write_corrections(season_folder, season, width_of=width_of, plot=stale)
    return with_paperwork(key, season, delivered[season], stale)


def season_tables(tables: Tables, season: int, *, is_first: bool) -> Tables:
    """What one season delivers, each table in file order with its row index kept."""
    trials = tables["trials"][tables["trials"]["season"] == season]
    delivered = {name: tables[name] for name in DELIVERED_ONCE} if is_first else {}
    delivered["trials"] = trials
    of_trials = {name: tables[name] for name in OF_TRIALS if name in tables}
    of_season = {name: frame[frame["trial_id"].isin(trials["trial_id"])] for name, frame in of_trials.items()}
    # who waters keeps one list for all trials, also for those whose cooperators deliver by themselves
    of_season["irrigations"] = tables["irrigations"][pd.to_datetime(tables["irrigations"]["date"]).dt.year == season]
    delivered |= {name: frame for name, frame in of_season.items() if len(frame)}
    weather = tables["weather_daily"]
    delivered["weather_daily"] = weather[weather["season"] == season].drop(columns="season")
    # a column that only another season's cooperators filled is not part of this delivery
    if UNKNOWN_COLUMN in delivered["plots"] and delivered["plots"][UNKNOWN_COLUMN].isna().all():
        delivered["plots"] = delivered["plots"].drop(columns=UNKNOWN_COLUMN)
    return delivered


def _write_season(folder: Path, tables: Tables) -> None:
    folder.mkdir(parents=True, exist_ok=True)
    season = int(folder.name)
    if season != WORKBOOK_SEASON:
        for name, frame in tables.items():
            frame.to_csv(folder / f"{name}.csv", index=False, date_format="%Y-%m-%d")
        return
    write_workbook(folder / workbook_name(season), tables)
