"""One simulated program: every delivered table as a frame, and the truth behind it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
import pandas as pd

from pipeline.simulation.protocol import applications_table, treatments_table
from pipeline.simulation.scenario import POSITIONS, SITES
from pipeline.simulation.temperatures import irrigations_table, with_temperatures
from pipeline.simulation.trials import plot_yields, site_years_table, trials_table
from pipeline.simulation.truth import truth_of
from pipeline.simulation.weather import simulate_weather
from pipeline.simulation.weather_driven import excess_inches, following_excess
from pipeline.simulation.weighing import plots_table

SEASONS = (2091, 2092, 2093, 2094)
RANDOM_SEED = 2091
_GENERATOR_ONLY = ["drainage_group", "starter", "n_blocks"]


@dataclass(frozen=True)
class SimulatedProgram:
    """`tables` are in delivered headings and US units (weather_daily carries its season beside them).

    `site_years` holds the true gains of each harvested trial, `plot_yields` the true yield of each plot, both in
    bu/ac or lb lint/ac; `truth` is what an analysis should recover.
    """

    tables: dict[str, pd.DataFrame]
    site_years: pd.DataFrame
    plot_yields: pd.DataFrame
    truth: dict


def sites_table() -> pd.DataFrame:
    return pd.DataFrame(
        {
            "site_id": site.name,
            "place": site.place,
            "drainage_class": site.drainage_class,
            "drainage_source": "on-site description",
            "texture": site.texture,
            "organic_matter_pct": site.organic_matter_pct,
            "latitude": POSITIONS[site.place][0],
            "longitude": POSITIONS[site.place][1],
        }
        for site in SITES
    )


def simulate_program(
    *,
    random_seed: int = RANDOM_SEED,
    seasons: tuple[int, ...] = SEASONS,
    excess_slopes: Mapping[str, float] | None = None,
) -> SimulatedProgram:
    """Simulates a program without defects. The same seed and seasons give the same frames.

    Weather, layout, yields, weighing and warmth each draw from their own stream of the seed. excess_slopes: by drainage
    group, how much more the half-coated blend gains over urea once for an inch of excess water; its gains then follow
    that and not the classes, and `truth` says nothing of them.
    """
    streams = [np.random.default_rng(part) for part in np.random.SeedSequence(random_seed).spawn(5)]
    weather_rng, layout_rng, yield_rng, weighing_rng, warmth_rng = streams
    history, weather, classes = simulate_weather(weather_rng, seasons)
    trials = trials_table(layout_rng, seasons)
    treatments = treatments_table(trials)
    tables = {
        "sites": sites_table(),
        "rain_history": with_temperatures(warmth_rng, history),
        "weather_daily": with_temperatures(warmth_rng, weather, has_soil=True),
        "trials": trials.drop(columns=_GENERATOR_ONLY),
        "treatments": treatments,
        "nitrogen_applications": applications_table(trials, treatments),
        "irrigations": irrigations_table(warmth_rng, trials),
    }
    site_years = site_years_table(yield_rng, trials, classes)
    if excess_slopes:
        sown = site_years.merge(trials[["trial_id", "planted"]], on="trial_id")
        site_years = following_excess(site_years, excess_inches(sown, tables), excess_slopes)
    yields = plot_yields(yield_rng, site_years, treatments)
    tables["plots"] = plots_table(weighing_rng, yields)
    return SimulatedProgram(tables, site_years, yields, truth_of(site_years, random_seed=random_seed, seasons=seasons))
