"""A trial of long ago, known only by its printed treatment means and their LSD. Invented, its true gains drawn like the
others'.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd
from scipy import stats

from pipeline.simulation.protocol import treatments_table
from pipeline.simulation.scenario import BLOCKS, CORN, SITE_NAMED
from pipeline.simulation.trials import expected_yields, site_years_table
from pipeline.simulation.weather import WINDOWS, in_window, reference_totals, total_at_spi

PRINTED_SEASON, PRINTED_SITE = 2086, "Quillmoor Flats"  # INV; the season lies in the rain history
CITATION = "annual report 2086, p. 14"
LSD_ALPHA = 0.05


@dataclass(frozen=True)
class PrintedTrial:
    """`tables` as delivered for its season; `site_year` one row of true gains, as in SimulatedProgram.site_years."""

    tables: dict[str, pd.DataFrame]
    site_year: pd.DataFrame


def printed_trial(rng: np.random.Generator, rain_history: pd.DataFrame) -> PrintedTrial:
    """The corn trial of PRINTED_SEASON; its rainfall class is what the rain history says."""
    trials = _trials()
    treatments = treatments_table(trials)
    site = SITE_NAMED[PRINTED_SITE]
    classes = pd.DataFrame(
        {
            "place": [site.place],
            "season": [PRINTED_SEASON],
            "rainfall_class": [_rainfall_class(rain_history, site.place)],
        }
    )
    generator_rows = trials.assign(drainage_group=site.drainage_group, n_blocks=BLOCKS)
    site_year = site_years_table(rng, generator_rows, classes)
    tables = {"trials": trials, "treatments": treatments, "printed_means": _printed_means(rng, site_year, treatments)}
    return PrintedTrial(tables, site_year)


def _trials() -> pd.DataFrame:
    site = SITE_NAMED[PRINTED_SITE]
    return pd.DataFrame([{
        "trial_id": f"{PRINTED_SEASON}-{site.initials}-corn", "season": PRINTED_SEASON, "site_id": site.name,
        "crop": "corn",
        "series": "coated blends", "design": "RCBD", "irrigated": site.irrigated,
        "artificial_drainage": site.artificial_drainage,
        "paid_by": "program", "product_given_by": "none", "outcome": "harvested",
    }])  # fmt: skip


def _rainfall_class(rain_history: pd.DataFrame, place: str) -> str:
    own = rain_history[rain_history["place"] == place]
    dates = pd.DatetimeIndex(own["date"])
    totals = reference_totals(dates, own["rain_in"].to_numpy())["corn"]
    window = in_window(dates, WINDOWS["corn"]) & (dates.year == PRINTED_SEASON)
    total = own["rain_in"].to_numpy()[window].sum()
    if total <= total_at_spi(totals, -1.0):
        return "dry"
    return "wet" if total >= total_at_spi(totals, 1.0) else "normal"


def _printed_means(rng: np.random.Generator, site_year: pd.DataFrame, treatments: pd.DataFrame) -> pd.DataFrame:
    """Means over the blocks and the LSD of their error mean square, rounded as a report prints them.

    Block effects are the same for all treatments of a complete block design and fall out of every difference.
    """
    arms = expected_yields(site_year, treatments)
    df = (BLOCKS - 1) * (len(arms) - 1)
    means = arms["expected"] + CORN.sd_plot / np.sqrt(BLOCKS) * rng.standard_normal(len(arms))
    mean_square = CORN.sd_plot**2 * rng.chisquare(df) / df
    lsd = stats.t.ppf(1 - LSD_ALPHA / 2, df) * np.sqrt(2 * mean_square / BLOCKS)
    return pd.DataFrame({
        "trial_id": arms["trial_id"], "treatment_code": arms["treatment_code"], "mean_yield_bu_ac": means.round(1),
        "n_blocks": BLOCKS,
        "error_kind": "LSD", "error_value": round(float(lsd), 1), "error_alpha": LSD_ALPHA, "error_df": df,
        "citation": CITATION,
    })  # fmt: skip
