"""A drawn program as a folder: one integer seed, one program. All of it is invented."""

from __future__ import annotations

import csv
from dataclasses import dataclass
from pathlib import Path

import pandas as pd
import yaml

from tests.drawn_programs.choices import CORRECTOR, FIRST_SEASON, Choices, choose, stream
from tests.drawn_programs.settings_of import settings_of
from tests.drawn_programs.trials_of import delivered_trials

PLACES = ("Alder", "Birch", "Cedar", "Dogwood", "Elder", "Fir", "Ginkgo", "Hazel")
DRAINAGE = (
    "well drained",
    "poorly drained",
    "excessively drained",
    "somewhat poorly drained",
    "moderately well drained",
)
HISTORY = range(2071, 2091)
DAYS = range(1, 6)  # of May: the rainfall window
WINDOW = {(5, day) for day in DAYS}
TEXTURES = ("silt loam", "sand", "", "muck", "clay")
CORRECTED = {"who": CORRECTOR, "treatment_known": "no", "cause": "read off the wrong ticket"}


@dataclass(frozen=True)
class Drawn:
    """A program that was written. held_back: the last season's folder, still outside the program; None where it is
    within.
    """

    seed: int
    chosen: Choices
    folder: Path
    held_back: Path | None

    @property
    def refusal(self) -> str:
        """Why this program deserves to be refused; empty where it does not."""
        return self.chosen.refused


def write_drawn(seed: int, folder: Path) -> Drawn:
    """Writes the program of a seed into a new folder."""
    chosen = choose(seed)
    by_season = delivered_trials(seed, chosen, sites_of(seed, chosen))
    settings = settings_of(seed, chosen)
    if chosen.refused == "unknown key":
        settings["comparisons"][0]["treatmnt"] = {"n_source": "urea"}
    folder.mkdir(parents=True)
    (folder / "program.yml").write_text(yaml.safe_dump(settings, sort_keys=False), encoding="utf-8")
    last = max(by_season)
    for season, tables in by_season.items():
        if season == min(by_season):
            tables |= {"sites": sites_of(seed, chosen)}
            tables |= {"rain_history": _days(seed, chosen, HISTORY)} if chosen.rain in ("whole", "gaps") else {}
        if chosen.rain != "none":
            tables |= {"weather_daily": _days(seed, chosen, [season])}
        if watered := [trial for trial in tables["trials"] if trial.get("irrigated") == "yes"]:
            tables |= {
                "irrigations": [{"trial_id": watered[0]["trial_id"], "date": f"{season}-06-01", "irrigation_in": 1.2}]
            }
        if chosen.refused == "no trials table" and season == last:
            tables.pop("trials")
        held_back = chosen.adds_season and len(by_season) > 1 and season == last
        _write_season(folder / ("held back" if held_back else "seasons") / str(season), tables)
        _write_corrections(seed, chosen, folder / "seasons" / str(season), tables)
    return Drawn(seed, chosen, folder, folder / "held back" / str(last) if (folder / "held back").exists() else None)


def sites_of(seed: int, chosen: Choices) -> list[dict]:
    """One or two sites a place."""
    rng = stream(seed, "sites")
    rows = []
    for position, place in enumerate(PLACES[: chosen.n_places]):
        for name in ("Bench", "Flats")[: int(rng.integers(1, 3))]:
            words = {
                "varied": DRAINAGE[int(rng.integers(len(DRAINAGE)))],
                "one": DRAINAGE[0],
                "one odd": DRAINAGE[1 if position == 0 else 0],
                "blank": "" if position % 2 else DRAINAGE[0],
            }
            rows.append({"site_id": f"{place} {name}", "place": place, "drainage_class": words[chosen.drainage]})
            if chosen.weather != "none":
                rows[-1] |= {"latitude": 35 + position / 10, "texture": TEXTURES[position % len(TEXTURES)]}
    return rows


def _days(seed: int, chosen: Choices, years) -> list[dict]:
    """Rain of the window; with weather also temperatures, and the days that covariates ask for."""
    rows = _rain(seed, chosen, years)
    if chosen.weather == "none":
        return rows
    rng = stream(seed, f"weather {min(years)}")
    for year in years:
        others = [day for day in pd.date_range(f"{year}-04-01", f"{year}-07-05") if (day.month, day.day) not in WINDOW]
        wetness = rng.choice([0.3, 1.0, 2.0])
        for place in PLACES[: chosen.n_places]:
            rain = (rng.gamma(0.3, 0.5, len(others)) * wetness).round(2)
            rows += [
                {"place": place, "date": f"{day:%Y-%m-%d}", "rain_in": fall}
                for day, fall in zip(others, rain, strict=True)
            ]
    for row in rows:
        is_blank = chosen.weather == "in part" and rng.random() < 0.02
        mean = 68 + 8 * rng.normal()
        row |= {"temp_max_f": "" if is_blank else round(mean + 10), "temp_min_f": "" if is_blank else round(mean - 10)}
        row |= {"soil_temp_f": round(mean, 1)} if chosen.weather == "whole" and row["place"] == PLACES[0] else {}
    return rows


def _rain(seed: int, chosen: Choices, years) -> list[dict]:
    """Rain of the window's days; the trials' seasons are dry, normal or wet in turn, and a day may be blank."""
    rows = []
    for year in years:
        rng = stream(seed, f"rain {year}")
        wetness = 1.0 if year < FIRST_SEASON else float(rng.choice([0.1, 1.0, 1.0, 4.0]))
        for place in PLACES[: chosen.n_places]:
            for day in DAYS:
                is_blank = chosen.rain == "gaps" and rng.random() < 0.25
                amount = "" if is_blank else round(float(rng.gamma(0.8, 0.4)) * wetness, 2)
                rows.append({"place": place, "date": f"{year}-05-{day:02d}", "rain_in": amount})
    return rows


def _write_season(folder: Path, tables: dict[str, list[dict]]) -> None:
    folder.mkdir(parents=True)
    for table, rows in tables.items():
        headings = list(dict.fromkeys(heading for row in rows for heading in row))
        with (folder / f"{table}.csv").open("w", newline="", encoding="utf-8") as file:
            writer = csv.DictWriter(file, headings or HEADINGS_OF_NOTHING[table], restval="")
            writer.writeheader()
            writer.writerows(rows)


# a season without a harvested plot still delivers its table
HEADINGS_OF_NOTHING = {"plots": ("trial_id", "block", "plot", "treatment_code", "yield_bu_ac", "outcome")}


def _write_corrections(seed: int, chosen: Choices, folder: Path, tables: dict[str, list[dict]]) -> None:
    """One reviewed change of a plot's row, now and then one whose old value no longer stands there."""
    weighed = [row for row in tables.get("plots", []) if row.get("harvest_length_ft")]
    if chosen.corrections == "none" or not weighed or not folder.exists():
        return
    row = weighed[int(stream(seed, f"correction {folder.name}").integers(len(weighed)))]
    old = row["harvest_length_ft"] if chosen.corrections == "one" else "77"
    change = {"harvest_length_ft": {"old": str(old), "new": "29.5"}}
    where = {"trial_id": row["trial_id"], "plot": str(row["plot"])}
    entry = {"table": "plots", "where": where, "change": change, "date": f"{folder.name}-12-08", **CORRECTED}
    (folder / "corrections.yml").write_text(yaml.safe_dump([entry], sort_keys=False), encoding="utf-8")
