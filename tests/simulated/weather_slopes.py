"""Does the interval of a slope catch the true slope, and how often is a slope shown that is not there?

`python -m tests.simulated.weather_slopes [programs]` simulates programs on each case below (200 by default, seed 1) and
writes weather_slopes.csv beside this file. They are fitted by the program's own code, which here searches from the
first of its starts only. Gains of site-years differ by 1.5 standard errors of a site-year; a sixth of that variance
goes with the place and none, or half of it, with the season. The covariate has a standard deviation of 1; its true
slope is 0. A slope of b per unit adds b to every estimate and leaves every error as it is (test_weather_slopes.py), so
coverage holds for any slope, and the chance to show a slope of one standard deviation of true gains is worked out from
the same fits.

The true slope of the seasons tested is that of their true gains: 0 and what the effects of these seasons add to it (by
the model's own weights at the true variances). For seasons to come, and for what is shown falsely in either target, it
is 0.
"""

from __future__ import annotations

import itertools
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import astuple, dataclass
from pathlib import Path
from unittest.mock import patch

import numpy as np
import pandas as pd

from pipeline.contract.vocabulary import DECLARED, TARGETS, TESTED, TO_COME
from pipeline.estimates.engines import mixed, profiled_reml
from pipeline.estimates.engines.interval_rules import CONF_LEVEL
from pipeline.estimates.engines.two_stage import Mean
from pipeline.estimates.where.weather_gains import on_line
from pipeline.estimates.where.weather_slopes import failed_checks, p_value, slopes_of
from pipeline.estimates.where.weather_values import Values, group_means, values_of
from pipeline.simulation.slope_calibration import shifted

FILE = Path(__file__).with_suffix(".csv")
SEED, TAU, N_BLOCKS, PLACE_SHARE = 1, 1.5, 4, 1 / 6
WITHIN, MIXED_PARTS, CONSTANT, OF_PLACE = (
    "within seasons",
    "within and between",
    "nearly constant within",
    "of the place",
)
WITHIN_SHARES = {WITHIN: 1.0, MIXED_PARTS: 0.4, CONSTANT: 0.01}


@dataclass(frozen=True)
class Case:
    """Site-years spread over seasons and, in each, over the first places; is_uneven: the first season has 2 of them
    only.
    """

    n_site_years: int
    n_seasons: int
    covariate: str
    season_share: float
    is_uneven: bool = False
    place_share: float = PLACE_SHARE


LAYOUTS = ((12, 4), (24, 3), (24, 4), (24, 6), (40, 5))
CASES = (
    *(Case(*layout, x, share) for layout, x, share in itertools.product(LAYOUTS, WITHIN_SHARES, (0.0, 0.5))),
    Case(40, 5, MIXED_PARTS, 0.5, is_uneven=True),
    Case(40, 5, CONSTANT, 0.5, is_uneven=True),
    Case(24, 4, MIXED_PARTS, 0.8),
    Case(24, 4, OF_PLACE, 0.0, place_share=0.5),
)


def simulate(case: Case, rng: np.random.Generator, *, slope: float = 0.0) -> tuple[Values, dict, dict]:
    """(the covariate at simulated gains, true slope by target, true average at its center by target)."""
    sizes = np.full(case.n_seasons, case.n_site_years // case.n_seasons)
    if case.is_uneven:
        sizes = np.array([2, *np.full(case.n_seasons - 1, (case.n_site_years - 2) // (case.n_seasons - 1))])
    season, place = np.repeat(np.arange(case.n_seasons), sizes), np.concatenate([np.arange(n) for n in sizes])
    x = _covariate(case, season, place, rng)
    of_season = _effects(season, rng) * TAU * np.sqrt(case.season_share)
    of_place = _effects(place, rng) * TAU * np.sqrt(case.place_share)
    rest = TAU**2 * (1 - case.season_share - case.place_share)
    true = slope * x + of_season + of_place + rng.normal(size=len(x)) * np.sqrt(rest)
    site_years = pd.DataFrame(
        {
            "comparison_id": "c",
            "site_year_id": [f"s{n:03d}" for n in range(len(x))],
            "place": [f"p{n:02d}" for n in place],
            "season": 2091 + season,
            "n_trials": 1,
            "std_error": 1.0,
        }
    )
    blocks = site_years.loc[np.repeat(np.arange(len(x)), N_BLOCKS)].reset_index(drop=True)
    blocks = blocks.assign(trial_id=blocks["site_year_id"], variance=float(N_BLOCKS))
    blocks["gain"] = np.repeat(true, N_BLOCKS) + rng.normal(size=len(blocks)) * np.sqrt(N_BLOCKS)
    site_years["gain"] = blocks.groupby("site_year_id")["gain"].mean().to_numpy()
    covariates = site_years[["site_year_id"]].assign(covariate="rain", kind=DECLARED, value=x, unit="mm")
    added = _projected(of_season, x, np.equal.outer(place, place) * TAU**2 * case.place_share, rest + 1.0)
    slopes = {TESTED: slope + added[1], TO_COME: slope}
    center = slope * x.mean()
    return next(values_of(covariates, site_years, blocks)), slopes, {TESTED: center + added[0], TO_COME: center}


def _covariate(case: Case, season: np.ndarray, place: np.ndarray, rng: np.random.Generator) -> np.ndarray:
    if case.covariate == OF_PLACE:
        x = _effects(place, rng)
        return (x - x.mean()) / x.std()
    share = WITHIN_SHARES[case.covariate]
    between, within = _effects(season, rng), rng.normal(size=len(season))
    between, within = between - between.mean(), within - group_means(within, season)
    return np.sqrt(1 - share) * between / between.std() + np.sqrt(share) * within / within.std()


def _effects(groups: np.ndarray, rng: np.random.Generator) -> np.ndarray:
    return rng.normal(size=groups.max() + 1)[groups]


def _projected(of_season: np.ndarray, x: np.ndarray, of_places: np.ndarray, own: float) -> np.ndarray:
    """Average and slope of the season effects, by the weights of the model at the true variances."""
    design, weights = np.column_stack([np.ones(len(x)), x - x.mean()]), np.linalg.inv(of_places + own * np.eye(len(x)))
    return np.linalg.solve(design.T @ weights @ design, design.T @ weights @ of_season)


def one_program(case: Case, rng: np.random.Generator) -> list[dict]:
    """By target: whether intervals catch the truth, and whether a slope of 0 and of TAU would be shown."""
    values, true_slopes, true_gains = simulate(case, rng)
    found = {slope.target: slope for slope in slopes_of([values])}
    rows = []
    for target in TARGETS:
        line = found[target].line
        far = values.x.max() - values.center
        at_far = on_line(line, far)
        caught = {
            "coverage": _caught(line.slope, true_slopes[target]),
            "coverage_at_center": _caught(line.gain, true_gains[target]),
            "coverage_at_highest": _caught(at_far, true_gains[target] + far * true_slopes[target]),
            "two_stage_coverage": _caught(found[target].lines["two-stage"].slope, true_slopes[target]),
        }
        shown = {
            name: not failed_checks(
                shifted(found[target], by), *(p_value(shifted(found[t], by).line.slope) for t in (target, TO_COME))
            )
            for name, by in (("shown_falsely", 0.0), ("shown_rightly", TAU))
        }
        rows.append({"target": target} | caught | shown | {"half_width": line.slope.half_width(CONF_LEVEL)})
    return rows


def _caught(mean: Mean, truth: float) -> bool:
    return abs(mean.estimate - truth) <= mean.half_width(CONF_LEVEL)


@contextmanager
def searched_from_the_first_start() -> Iterator[None]:
    """The program's own code fits, from the first of its starts only: in half of the time."""
    with mixed.by(mixed.OWN), patch.object(profiled_reml, "STARTS", profiled_reml.STARTS[:1]):
        yield


def run(case: Case, n: int, seed: int = SEED) -> pd.DataFrame:
    """One row per target: means over n programs, and the Monte Carlo error of the coverage."""
    with searched_from_the_first_start():
        rows = [row for i in range(n) for row in one_program(case, np.random.default_rng((seed, i)))]
    means = pd.DataFrame(rows).groupby("target", sort=False).mean().reset_index()
    plausible = (means["coverage"] * n + 2) / (n + 4)  # Agresti and Coull, as in simulation/calibration.py
    told = means.assign(mc_error=np.sqrt(plausible * (1 - plausible) / (n + 4)), n_programs=n, seed=seed)
    names = ["n_site_years", "n_seasons", "covariate", "season_share", "is_uneven", "place_share"]
    for name, value in zip(names[::-1], astuple(case)[::-1], strict=True):
        told.insert(0, name, value)
    return told


if __name__ == "__main__":
    from joblib import Parallel, delayed

    n_programs = int(sys.argv[1]) if len(sys.argv) > 1 else 200
    found = []
    for of_case in Parallel(n_jobs=2, return_as="generator")(delayed(run)(case, n_programs) for case in CASES):
        found.append(of_case)
        pd.concat(found).round(4).to_csv(FILE, index=False)  # what is done stands, whenever it is stopped
        print(of_case.to_string(index=False, header=len(found) == 1), flush=True)
