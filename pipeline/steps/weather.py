"""Weather covariates of the site-years and of the reference years, from the trials layer; blind to yields."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pandas as pd

from pipeline.contract.results import frame_of
from pipeline.contract.vocabulary import DECLARED
from pipeline.estimates.frames import stacked
from pipeline.settings.program import Program
from pipeline.site_years.weather import by_site_year, cases, covariates, season_days, soil_warmth, windows
from pipeline.site_years.weather.daily import Soils
from pipeline.site_years.weather.days import MEASURED, DailyWeather
from pipeline.site_years.weather.soil_water import CropWaterUse
from pipeline.warehouse import Warehouse

OF_A_TRIAL = (
    "trial_id",
    "site_id",
    "site_year_id",
    "place",
    "season",
    "crop",
    "drainage_group",
    "texture",
    "irrigated",
    "planted",
)


def weather_tables(program: Program) -> dict[str, Callable[[Warehouse], pd.DataFrame]]:
    """What fills the weather tables of the trials layer, found together when the first of them is filled."""
    found: dict[str, pd.DataFrame] = {}

    def of_site_years(built: Warehouse) -> pd.DataFrame:
        found.update(_found(built, program))
        return found["weather_covariates"]

    return {
        "trials.weather_covariates": of_site_years,
        "trials.reference_covariates": lambda built: found["reference_covariates"],
        "trials.season_days": lambda built: found["season_days"],
        "trials.soil_from_air": lambda built: found["soil_from_air"],
    }


def declared_weather(program: Program) -> dict[str, Callable[[Warehouse], pd.DataFrame]]:
    """What fills trials.weather_covariates where nothing is estimated: declared covariates alone, for the check that
    speaks of them.
    """

    def of_site_years(built: Warehouse) -> pd.DataFrame:
        asked = _asked(built, program)
        facts = _facts(built)
        of_trials = cases.trial_cases(asked[asked["kind"] == DECLARED], facts)
        return by_site_year.by_site_year(covariates.worked_out(of_trials, _known(built, program, facts)))

    return {"trials.weather_covariates": of_site_years}


def _asked(warehouse: Warehouse, program: Program) -> pd.DataFrame:
    return windows.asked_covariates(program.comparisons, warehouse.table("trials.first_harvests"))


def _found(warehouse: Warehouse, program: Program) -> dict[str, pd.DataFrame]:
    facts = _facts(warehouse)
    known = _known(warehouse, program, facts)
    of_trials = cases.trial_cases(_asked(warehouse, program), facts)
    years = program.rainfall.reference
    # comparison by comparison, as there are days of every site-year, and 30 reference years of each
    parts = [own for _, own in of_trials.groupby("comparison_id")]
    of_years = (cases.reference_cases(own, years.first_year, years.last_year) for own in parts)
    found = {
        "reference_covariates": (by_site_year.by_reference_year(covariates.worked_out(own, known)) for own in of_years),
        "season_days": (season_days.season_days(own, known) for own in parts),
    }
    return {
        "weather_covariates": by_site_year.by_site_year(covariates.worked_out(of_trials, known)),
        "soil_from_air": soil_warmth.error_of_air(known.weather),
        **{name: frame_of(stacked(list(frames)), name) for name, frames in found.items()},
    }


def _facts(warehouse: Warehouse) -> cases.Facts:
    trials = warehouse.table("trials.trials")
    trials = trials.loc[trials["status"] == "accepted", list(OF_A_TRIAL)]
    latitudes = warehouse.table("trials.sites")[["site_id", "latitude"]]
    return cases.Facts(
        trials=trials.merge(latitudes, on="site_id", how="left"),
        arms=warehouse.table("trials.arms"),
        eligibility=warehouse.table("trials.eligibility"),
        nitrogen_given=warehouse.table("trials.nitrogen_given"),
        irrigations=warehouse.table("trials.irrigations"),
    )


def _known(warehouse: Warehouse, program: Program, facts: cases.Facts) -> covariates.Known:
    textures, uses = warehouse.table("reference.textures"), warehouse.table("reference.crop_water_use")
    tests = {test.product: test for test in program.release_tests}
    return covariates.Known(
        weather=_daily_weather(warehouse),
        soils=Soils(
            dict(zip(textures["word"], textures["available_mm_per_m"], strict=True)),
            {row.pop("crop"): CropWaterUse(**row) for row in uses.drop(columns="source").to_dict("records")},
        ),
        irrigations=facts.irrigations,
        coated=cases.coated_given(facts, tuple(tests)),
        tests=tests,
        most_missing_days=program.rainfall.most_missing_days,
    )


def _daily_weather(warehouse: Warehouse) -> DailyWeather:
    """The longest table of a program, which is read in batches."""
    places = warehouse.read("select distinct place from trials.daily_weather order by place")["place"]
    ((first, n_days),) = warehouse.execute(
        "select min(date), coalesce(max(date) - min(date) + 1, 0) from trials.daily_weather"
    ).fetchall()
    batches = warehouse.batches(
        f"""with places as (select place, row_number() over (order by place) - 1 as row from
        (select distinct place from trials.daily_weather))
        select p.row, d.date - (select min(date) from trials.daily_weather) as day, {", ".join(MEASURED)}
        from trials.daily_weather as d inner join places as p on p.place = d.place"""
    )
    return DailyWeather.gathered(np.datetime64(first or "2000-01-01", "D"), n_days, list(places), batches)
