"""Invented programs with known gains, built without any code of the pipeline."""

from types import SimpleNamespace

import numpy as np
import pandas as pd
import pytest

from pipeline.estimates.average import pooling
from pipeline.estimates.gains import Gains, all_gains

TRIAL = {"crop": "corn", "design": "RCBD", "drainage_group": "W", "rainfall_class": "normal"}


def trials_frame(*rows: dict) -> pd.DataFrame:
    """Trials with the columns that rows leave out filled in."""
    frame = pd.DataFrame([TRIAL | row for row in rows])
    for column in ("site_year_id", "place"):
        if column not in frame:
            frame[column] = frame["trial_id"]
    if "season" not in frame:
        frame["season"] = 2091
    return frame


def plots_frame(trial_id: str, table: dict[str, dict[str, float | list[float]]]) -> pd.DataFrame:
    """Plots from a drawn table: block -> treatment code -> value, or list of values."""
    rows = [
        {
            "trial_id": trial_id,
            "block": block,
            "main_plot": None,
            "treatment_code": code,
            "value": float(value),
        }
        for block, values in table.items()
        for code, of_code in values.items()
        for value in np.atleast_1d(of_code)
    ]
    return pd.DataFrame(rows).assign(plot=range(len(rows)))


def arms_frame(
    trial_ids, pairs: dict[float, tuple[str, str]], weights: dict[float, float] | None = None
) -> pd.DataFrame:
    """Arms from rate -> (treatment code, comparator code)."""
    return pd.DataFrame(
        [
            {
                "comparison_id": "c",
                "trial_id": trial_id,
                "treatment_code": code,
                "arm": arm,
                "rate_kg_ha": rate,
                "rate_weight": (weights or {}).get(rate, 1.0),
            }
            for trial_id in trial_ids
            for rate, codes in pairs.items()
            for code, arm in zip(codes, ("treatment", "comparator"), strict=True)
        ]
    )


def treatments_of(plots: pd.DataFrame) -> pd.DataFrame:
    """One row per treatment; codes that start with Z are zero-N."""
    frame = plots[["trial_id", "treatment_code"]].drop_duplicates()
    return frame.assign(is_zero_n=frame["treatment_code"].str.startswith("Z"))


def program(
    seed: int,
    *,
    n_places: int = 6,
    n_seasons: int = 4,
    n_blocks: int = 4,
    gain: float = 250.0,
    tau: float = 200.0,
    season_sd: float = 0.0,
    wet_gain: float = 0.0,
    plot_sd: float = 500.0,
):
    """Frames of an invented program, gains in kg/ha: the arguments of estimate(), in order."""
    rng = np.random.default_rng(seed)
    season_gains = rng.normal(0, season_sd, n_seasons)
    pairs = {90.0: ("C90", "U90"), 135.0: ("C135", "U135")}
    trials, plots = [], []
    for place in range(n_places):
        for number in range(n_seasons):
            trial_id, rain = f"p{place}-{2091 + number}", ("dry", "normal", "wet", "normal")[number % 4]
            trials.append(
                {
                    "trial_id": trial_id,
                    "place": f"p{place}",
                    "season": 2091 + number,
                    "drainage_group": "RWP"[place % 3],
                    "rainfall_class": rain,
                }
            )
            true = gain + wet_gain * (rain == "wet") + season_gains[number] + rng.normal(0, tau)
            level = rng.normal(11000, 800)
            table = {}
            for block in range(n_blocks):
                of_block = level + rng.normal(0, 300)
                noise = iter(rng.normal(0, plot_sd, 5))
                table[str(block + 1)] = {"Z": of_block - 4000 + next(noise)} | {
                    f"{source}{rate}": of_block + 8 * rate + true * (source == "C") + next(noise)
                    for source in "UC"
                    for rate in (90, 135)
                }
            plots.append(plots_frame(trial_id, table))
    plots, trials = pd.concat(plots, ignore_index=True), trials_frame(*trials)
    comparisons = [SimpleNamespace(id="c", crop="corn")]
    return comparisons, trials, treatments_of(plots), plots, arms_frame(trials["trial_id"], pairs)


def averages(comparisons, *frames: pd.DataFrame) -> tuple[Gains, pd.DataFrame, pd.DataFrame]:
    """What estimate() begins with, for tests of one step after it: gains, pooled rows over all site-years, variance
    components.
    """
    ids = [comparison.id for comparison in comparisons]
    own = all_gains(ids, *frames)
    return own, *pooling.pooled_gains(own.used, own.grouped, ids)


@pytest.fixture(scope="module", autouse=True)
def fitted(request) -> None:
    """Estimates rest on the program's own fits; the tests of engines/ are about what fits."""
    if "engines" not in request.path.parts:
        request.getfixturevalue("fitted_by_own_code")


@pytest.fixture(scope="session")
def build():
    """The builders above, for tests to call."""
    return SimpleNamespace(
        trials=trials_frame,
        plots=plots_frame,
        arms=arms_frame,
        treatments=treatments_of,
        program=program,
        averages=averages,
    )
