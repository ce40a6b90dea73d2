"""One simulated program: every delivered table as a frame, and the truth behind it."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd

from pipeline.simulation.protocol import applications_table, treatments_table
from pipeline.simulation.scenario import POSITIONS, SITES
from pipeline.simulation.trials import plot_yields, site_years_table, trials_table
from pipeline.simulation.truth import truth_of
from pipeline.simulation.weather import simulate_weather
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


def simulate_program(*, random_seed: int = RANDOM_SEED, seasons: tuple[int, ...] = SEASONS) -> SimulatedProgram:
    """Simulates a program without defects. The same seed and seasons give the same frames.

    Weather, layout, yields and weighing each draw from their own stream of the seed.
    """
    streams = [np.random.default_rng(part) for part in np.random.SeedSequence(random_seed).spawn(4)]
    weather_rng, layout_rng, yield_rng, weighing_rng = streams
    history, weather, classes = simulate_weather(weather_rng, seasons)
    trials = trials_table(layout_rng, seasons)
    treatments = treatments_table(trials)
    site_years = site_years_table(yield_rng, trials, classes)
    yields = plot_yields(yield_rng, site_years, treatments)
    tables = {
        "sites": sites_table(),
        "rain_history": history,
        "weather_daily": weather,
        "trials": trials.drop(columns=_GENERATOR_ONLY),
        "treatments": treatments,
        "nitrogen_applications": applications_table(trials, treatments),
        "plots": plots_table(weighing_rng, yields),
    }
    return SimulatedProgram(tables, site_years, yields, truth_of(site_years, random_seed=random_seed, seasons=seasons))
