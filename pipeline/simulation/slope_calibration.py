"""Would a slope on the weather be caught, or shown where there is none, on data like these?

As calibration.py, with the loaded values of each declared covariate at their site-years. One fit serves for no slope
and for one of a stated size: a slope of b adds b to every estimate and leaves every error as it is
(tests/simulated/weather_slopes.py).
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pandas as pd
from threadpoolctl import threadpool_limits

from pipeline import jobs
from pipeline.contract.results import frame_of
from pipeline.contract.vocabulary import DECLARED, TARGETS, TO_COME
from pipeline.estimates.engines import mixed
from pipeline.estimates.engines.interval_rules import CONF_LEVEL
from pipeline.estimates.engines.two_stage import Mean
from pipeline.estimates.trials import site_year_gains
from pipeline.estimates.where.weather_slopes import Slope, failed_checks, p_value, slopes_of
from pipeline.estimates.where.weather_values import values_of
from pipeline.simulation.calibration import TRUTHS, Truth, simulate, typical_tau, verdict

SPREAD_OF = ("gain varies by site-year", "half of the spread goes with the season")
SLOPE_TRUTHS = tuple(truth for truth in TRUTHS if truth.name in SPREAD_OF)
BATCH = 10


def shifted(slope: Slope, by: float) -> Slope:
    """What the same errors give where the true slope is higher by so much."""

    def moved(one: Mean) -> Mean:
        return replace(one, estimate=one.estimate + by)

    return replace(
        slope,
        lines={name: replace(line, slope=moved(line.slope)) for name, line in slope.lines.items()},
        parts={name: moved(part) for name, part in slope.parts.items()},
        left_out=[replace(one, slope=moved(one.slope)) for one in slope.left_out],
    )


def calibrate_slopes(
    layouts: pd.DataFrame,
    covariates: pd.DataFrame,
    n: int = 200,
    seed: int = 1,
    *,
    sizes: dict[tuple[str, str], float] | None = None,
    n_processes: int | None = None,
    progress: Callable[[int, int], None] | None = None,
) -> pd.DataFrame:
    """Columns of slope_calibration: one row per comparison, declared covariate, truth and target that gives a slope.

    layouts: see calibration.layout_of. covariates: the rows of trials.weather_covariates. sizes: by comparison and
    covariate the slope whose chance to be shown is asked for; else that which makes site-years differ as much as they
    do otherwise.
    """
    from joblib import delayed

    declared = covariates[covariates["kind"].eq(DECLARED)]
    asked = [
        _Asked(
            layout, of_covariate, declared.loc[declared["comparison_id"].eq(key[0]), "covariate"].nunique(), sizes or {}
        )
        for key, of_covariate in declared.groupby(["comparison_id", "covariate"])
        if len(layout := layouts[layouts["comparison_id"].eq(key[0])])
    ]
    work = [
        delayed(_batch)(one, truth, [(seed, number, place, i) for i in range(first, min(first + BATCH, n))])
        for number, one in enumerate(asked)
        for place, truth in enumerate(SLOPE_TRUTHS)
        for first in range(0, n, BATCH)
    ]
    rows: list[dict] = []
    with jobs.workers("simulating programs") as at:
        for done, found in enumerate(at.results(work, most=n_processes), start=1):
            rows += found
            if progress:
                progress(done, len(work))
    return _summary(rows, seed)


class _Asked:
    """One comparison and declared covariate: its layout where the covariate is known, and the slope that is asked
    for.
    """

    def __init__(self, layout: pd.DataFrame, covariate: pd.DataFrame, n_tests: int, sizes: dict) -> None:
        known = covariate[covariate["value"].notna()]
        self.covariate, self.n_tests = covariate, n_tests
        self.key = (covariate["comparison_id"].iloc[0], covariate["covariate"].iloc[0])
        self.layout = layout[layout["site_year_id"].isin(known["site_year_id"])].reset_index(drop=True)
        self.tau = typical_tau(self.layout) if len(self.layout) else 0.0
        spread = float(known["value"].std(ddof=0)) if len(known) > 1 else 0.0
        self.size = sizes.get(self.key) or (self.tau / spread if spread else 0.0)


def _batch(asked: _Asked, truth: Truth, keys: list[tuple[int, ...]]) -> list[dict]:
    with threadpool_limits(limits=1, user_api="blas"), mixed.by(mixed.OWN):
        return [row for key in keys for row in one_program(asked, truth, np.random.default_rng(key))]


def one_program(asked: _Asked, truth: Truth, rng: np.random.Generator) -> list[dict]:
    """By target: whether the interval catches the true slope, and whether none, and one of the size, would be shown.

    The true slope of the seasons tested is not 0 where seasons differ: what is shown there is told for future seasons
    alone.
    """
    if asked.layout.empty or not asked.size:
        return []
    blocks, _ = simulate(asked.layout, truth, asked.tau, rng)
    trials = asked.layout.drop_duplicates("trial_id")
    of_trials = ["trial_id", "site_year_id", "place", "season", "crop", "design", "drainage_group", "rainfall_class"]
    trials = trials[[*of_trials, *trials.columns.intersection(["plot_set"])]]
    values = next(values_of(asked.covariate, site_year_gains.site_year_gains(blocks, trials), blocks))
    found = {slope.target: slope for slope in slopes_of([values])}
    if not found[TO_COME].line:
        return []
    rows = []
    for target in TARGETS:
        half = found[target].line.slope.half_width(CONF_LEVEL)
        is_known = target == TO_COME or not truth.season_share
        rows.append(
            {
                "comparison_id": asked.key[0],
                "covariate": asked.key[1],
                "covariate_unit": values.unit,
                "truth": truth.name,
                "target": target,
                "caught": abs(found[target].line.slope.estimate) <= half if is_known else None,
                "none": _is_shown(found, target, asked.n_tests, 0.0) if is_known else None,
                "steep": _is_shown(found, target, asked.n_tests, asked.size),
                "slope": asked.size,
                "n_site_years": len(values.x),
                "n_seasons": values.counts()["n_seasons"],
            }
        )
    return rows


def _is_shown(found: dict[str, Slope], target: str, n_tests: int, by: float) -> bool:
    """Whether the slope would be shown, its p value times the number of declared covariates (the strictest step of
    Holm's way).
    """
    moved = {name: shifted(slope, by) for name, slope in found.items()}
    p = {name: min(1.0, n_tests * p_value(slope.line.slope)) for name, slope in moved.items()}
    return not failed_checks(moved[target], p[target], p[TO_COME])


def _summary(rows: list[dict], seed: int) -> pd.DataFrame:
    if not rows:
        return frame_of([], "slope_calibration")
    keys = ["comparison_id", "covariate", "covariate_unit", "truth", "target"]
    found = []
    for key, of_key in pd.DataFrame(rows).groupby(keys, sort=False):
        n = len(of_key)
        coverage, none, steep = (_share(of_key[name]) for name in ("caught", "none", "steep"))
        error = _error(of_key["caught"])
        found.append(
            dict(zip(keys, key, strict=True))
            | {"n_programs": n, "coverage": coverage, "coverage_mc_error": error, "shown_falsely": none}
            | {"slope": of_key["slope"].iloc[0], "shown_rightly": steep, "seed": seed}
            | {name: of_key[name].iloc[0] for name in ("n_site_years", "n_seasons")}
            | {"verdict": "" if coverage is None else verdict(coverage, error)}
        )
    return frame_of(found, "slope_calibration")


def _share(flags: pd.Series) -> float | None:
    return None if flags.isna().any() else float(flags.astype(bool).mean())


def _error(flags: pd.Series) -> float | None:
    """Monte Carlo error; two successes and two failures added (Agresti and Coull 1998)."""
    if flags.isna().any():
        return None
    n = len(flags) + 4
    plausible = (flags.astype(bool).sum() + 2) / n
    return float(np.sqrt(plausible * (1 - plausible) / n))
