"""Would the interval we print catch the truth on data like these? Programs with the loaded one's layout and known
gains.

Simulated are gains of blocks, not plots: a site-year's mean gain is exactly normal given its true gain, and a trial's
error mean square an independent chi-square on its own df, as in the trial's analysis. What is left out is that the
spread of the very blocks compared is part of that mean square. Every replicate goes through the estimates' own
site-year gains, rules, guards and direct restricted likelihood, which the agreement table holds against the mixed
model's own fit.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass

import numpy as np
import pandas as pd
from scipy import stats
from threadpoolctl import threadpool_limits

from pipeline import jobs
from pipeline.contract.results import frame_of
from pipeline.contract.vocabulary import TARGETS, TESTED, TO_COME
from pipeline.estimates.average import pooling, robustness, three_methods
from pipeline.estimates.average.three_methods import MethodRow
from pipeline.estimates.engines import interval_rules as rules
from pipeline.estimates.engines.interval_rules import CONF_LEVEL, MIXED, PLAIN, TWO_STAGE
from pipeline.estimates.trials import site_year_gains
from pipeline.estimates.trials.moderation import moderated_dfs, squeeze

PUBLISHED, CROSS_CHECK = "interval we publish", "two-stage cross-check"
PLOTS_POOLED, PLOT_ERROR = "wrong: all plots pooled", "wrong: tested on plot error"
METHODS = (PUBLISHED, CROSS_CHECK, PLOTS_POOLED, PLOT_ERROR)
GOAL, EXCESS = 0.935, 0.97
AS_STATED = "as stated"
ERROR_CV = 0.5  # of the trials' error standard deviations, where they are unequal
BATCH = 25
ROW = ("comparison_id", "truth", "target", "method", "low", "high", "true_gain")


@dataclass(frozen=True)
class Truth:
    """A true state of affairs. Shares are of the variance between true gains, tau2; the rest goes with the site-year.

    lasting_share: of the plot error of blocks that come back on the same plots.
    """

    name: str
    gain: float = 0.0  # in units of tau
    varies: bool = True
    season_share: float = 0.0
    place_share: float = 0.0
    lasting_share: float = 0.5
    unequal_errors: bool = False
    is_skewed: bool = False


TRUTHS = (
    Truth("no gain anywhere", varies=False),
    Truth("the same gain everywhere", gain=1.0, varies=False),
    Truth("gain varies by site-year", gain=1.0),
    Truth("half of the spread goes with the season", gain=1.0, season_share=0.5),
    Truth("trials of unequal precision", gain=1.0, unequal_errors=True),
    Truth("skewed gains: a few fields gain much", gain=1.0, is_skewed=True),
)


def layout_of(block_gains: pd.DataFrame, trials: pd.DataFrame, site_year_gains: pd.DataFrame) -> pd.DataFrame:
    """The layout of a loaded program: one row per comparison, trial and block that is averaged, with its error variance
    and df.

    Frames as estimate() gives and takes them. Nothing of the gains themselves is kept.
    """
    used = site_year_gains[site_year_gains["is_pooled"]]
    rows = pooling.model_blocks(block_gains, trials, used).drop(columns=["gain"])
    return rows.merge(trials[["trial_id", "design", "crop"]], on="trial_id").assign(comparator_mean=0.0, warnings="")


def typical_tau(layout: pd.DataFrame) -> float:
    """A spread between fields as large as the median standard error of a site-year: neither hidden nor overwhelming.

    Trials with an error of exactly zero are left out, as in the estimates; 0 where no other is left.
    """
    known = layout[layout["variance"] > 0]
    if known.empty:
        return 0.0
    by_trial = known.groupby("trial_id")["variance"].agg(lambda v: 1 / np.sum(1 / v))
    return float(np.sqrt(by_trial.median()))


def calibrate(
    layouts: pd.DataFrame,
    truths: Iterable[Truth] = TRUTHS,
    n: int = 1000,
    seed: int = 1,
    *,
    taus: dict[str, float] | None = None,
    n_processes: int | None = None,
    progress: Callable[[int, int], None] | None = None,
) -> pd.DataFrame:
    """How often and how wide, over n simulated programs per comparison and truth; columns of calibration.

    layouts: see layout_of. taus: comparison_id -> standard deviation between true gains, else typical_tau.
    n_processes: at most so many at once. progress is told (batches done, batches in all).
    """
    from joblib import delayed

    work, truths = [], tuple(truths)
    for number, (comparison_id, layout) in enumerate(layouts.groupby("comparison_id")):
        tau = (taus or {}).get(comparison_id) or typical_tau(layout)
        for place, truth in enumerate(truths):
            for first in range(0, n, BATCH):
                keys = [(seed, number, place, i) for i in range(first, min(first + BATCH, n))]
                work.append(delayed(_batch)(layout, truth, tau, keys))
    intervals = []
    with jobs.workers("simulating programs") as at:
        for rows in at.results(work, most=n_processes, in_order=False):
            intervals.append(rows)
            if progress:
                progress(len(intervals), len(work))
    return _summary(pd.concat(intervals) if intervals else pd.DataFrame(columns=list(ROW)), layouts, seed)


def _batch(layout: pd.DataFrame, truth: Truth, tau: float, keys: list[tuple[int, ...]]) -> pd.DataFrame:
    with threadpool_limits(limits=1, user_api="blas"):
        rows = [row for key in keys for row in one_program(layout, truth, tau, np.random.default_rng(key))]
    return pd.DataFrame(rows, columns=list(ROW))


def one_program(layout: pd.DataFrame, truth: Truth, tau: float, rng: np.random.Generator) -> list[dict]:
    """One simulated program: each method's interval beside the truth of its target."""
    blocks, truths = simulate(layout, truth, tau, rng)
    trials = layout.drop_duplicates("trial_id")
    of_trials = ["trial_id", "site_year_id", "place", "season", "crop", "design", "drainage_group", "rainfall_class"]
    trials = trials[[*of_trials, *trials.columns.intersection(["plot_set"])]]
    by_site_year = site_year_gains.site_year_gains(blocks, trials)
    rows, tested = [], {}
    for target in TARGETS:  # the seasons tested first
        published = three_methods.no_narrower(_published(by_site_year, blocks, target), tested, CONF_LEVEL)
        tested = published
        for method, (low, high) in _intervals(published, by_site_year, blocks, target).items():
            key = {"comparison_id": layout["comparison_id"].iloc[0], "truth": truth.name, "target": target}
            rows.append(key | {"method": method, "low": low, "high": high, "true_gain": truths[target]})
    return rows


def simulate(
    layout: pd.DataFrame, truth: Truth, tau: float, rng: np.random.Generator
) -> tuple[pd.DataFrame, dict[str, float]]:
    """(block gains with variances, true gain by target).

    For the seasons tested the truth is the mean over these seasons' effects, each as often as it
    has site-years; for seasons to come it is the mean of the population that seasons come from.
    Places come from a population too, but where they are too few to be random (interval_rules):
    there the truth is that of these places, each as often as it has site-years.
    """
    site_years = layout.drop_duplicates("site_year_id").set_index("site_year_id")
    spread = tau if truth.varies else 0.0
    own = rng.exponential(1.0, len(site_years)) - 1 if truth.is_skewed else rng.normal(size=len(site_years))
    of_season = _effects(site_years["season"], rng) * spread * np.sqrt(truth.season_share)
    rest = 1 - truth.season_share - truth.place_share
    true = truth.gain * tau + of_season + pd.Series(own, site_years.index) * spread * np.sqrt(rest)
    of_places = 0.0
    if truth.place_share:
        of_place = _effects(site_years["place"], rng) * spread * np.sqrt(truth.place_share)
        true = true + of_place
        of_places = float(of_place.mean()) if site_years["place"].nunique() < rules.FEWEST_PLACES else 0.0
    blocks = layout.copy()
    ratio, seen = _errors(layout, truth, rng)
    error_sd = np.sqrt(layout["variance"] * layout["trial_id"].map(ratio))
    blocks["gain"] = layout["site_year_id"].map(true) + error_sd * _block_errors(layout, truth, rng)
    for column in ("own_variance", "variance", "variance_df"):
        blocks[column] = blocks["trial_id"].map(seen[column])
    for column in ("own_variance", "variance"):
        blocks[column] *= layout["variance"]
    to_come = truth.gain * tau + of_places
    return blocks, {TESTED: to_come + float(of_season.mean()), TO_COME: to_come}


def _effects(groups: pd.Series, rng: np.random.Generator) -> pd.Series:
    """A standard normal effect of each group, at the group's members."""
    return groups.map({group: rng.normal() for group in sorted(groups.unique())})


def _block_errors(layout: pd.DataFrame, truth: Truth, rng: np.random.Generator) -> np.ndarray:
    """Errors of variance 1, part of which lasts in blocks that come back on the same plots."""
    own = rng.normal(size=len(layout))
    if "plots" not in layout or layout["plots"].is_unique:
        return own
    lasting = _effects(layout["plots"], rng).to_numpy()
    return np.sqrt(truth.lasting_share) * lasting + np.sqrt(1 - truth.lasting_share) * own


def _errors(layout: pd.DataFrame, truth: Truth, rng: np.random.Generator) -> tuple[pd.Series, pd.DataFrame]:
    """Each trial's true error variance, and what its analysis sees of it, over the variance in the layout."""
    trials = layout.drop_duplicates("trial_id").set_index("trial_id")
    log_sd = np.sqrt(np.log(1 + ERROR_CV**2)) if truth.unequal_errors else 0.0
    ratio = pd.Series(np.exp(2 * (log_sd * rng.normal(size=len(trials)) - log_sd**2)), trials.index)
    df = trials["own_variance_df"]
    known = df.notna()
    own = ratio[known] * rng.chisquare(df[known]) / df[known]
    seen = pd.DataFrame(
        {"own_variance": own, "variance": squeeze(own, df[known]), "variance_df": moderated_dfs(own, df[known])}
    )
    seen = seen.reindex(trials.index)
    seen["variance"] = seen["variance"].fillna(float(np.average(own, weights=df[known])) if len(own) else 1.0)
    return ratio, seen


def _intervals(
    published: dict, site_years: pd.DataFrame, blocks: pd.DataFrame, target: str
) -> dict[str, tuple[float, float]]:
    if not published:
        return {}
    by_method = {PUBLISHED: published, CROSS_CHECK: robustness.refit(site_years, blocks, target, TWO_STAGE, CONF_LEVEL)}
    ends = {method: (row["conf_low"], row["conf_high"]) for method, row in by_method.items() if "conf_low" in row}
    return ends | wrong_intervals(blocks)


def _published(site_years: pd.DataFrame, blocks: pd.DataFrame, target: str) -> dict:
    """The columns of the headline, by the rule for these counts."""
    rule = rules.rule_for(target, len(site_years), site_years["season"].nunique())
    if not rule.has_estimate:
        return {}
    by_method = {method: MethodRow() for method in rules.METHODS}
    by_method[PLAIN] = three_methods.plain_mean(site_years, target, CONF_LEVEL)
    model = robustness.refit(site_years, blocks, target, MIXED, CONF_LEVEL)
    if model["method"] == MIXED:
        by_method[MIXED] = MethodRow(model)
    leader, _ = pooling.leading(by_method, rule, site_years)
    return (
        by_method[leader].columns
        if leader != TWO_STAGE
        else robustness.refit(site_years, blocks, target, leader, CONF_LEVEL)
    )


def wrong_intervals(blocks: pd.DataFrame) -> dict[str, tuple[float, float]]:
    """Two ways that take blocks of one field for independent fields: t over all block gains, and a test on plot
    error.
    """
    gains = blocks["gain"].to_numpy(float)
    half = stats.t.ppf((1 + CONF_LEVEL) / 2, len(gains) - 1) * gains.std(ddof=1) / np.sqrt(len(gains))
    intervals = {PLOTS_POOLED: (gains.mean() - half, gains.mean() + half)}
    known = blocks[blocks["own_variance"].notna()]
    df = known.drop_duplicates("trial_id")["own_variance_df"]
    if len(known) == len(blocks):
        by_trial = known.groupby("trial_id")["own_variance"].mean()
        error = np.average(by_trial.to_numpy(float), weights=df.to_numpy())
        half = stats.t.ppf((1 + CONF_LEVEL) / 2, df.sum()) * np.sqrt(error / len(gains))
        intervals[PLOT_ERROR] = (gains.mean() - half, gains.mean() + half)
    return intervals


def _summary(intervals: pd.DataFrame, layouts: pd.DataFrame, seed: int) -> pd.DataFrame:
    counts = layouts.groupby("comparison_id").agg(
        n_site_years=("site_year_id", "nunique"), n_seasons=("season", "nunique")
    )
    rows = []
    for key, of_key in intervals.groupby(["comparison_id", "truth", "target", "method"], sort=False):
        covered = (of_key["low"] <= of_key["true_gain"]) & (of_key["true_gain"] <= of_key["high"])
        width, n = of_key["high"] - of_key["low"], len(of_key)
        coverage = float(covered.mean())
        # two successes and two failures added (Agresti and Coull 1998, The American Statistician 52:119-126): 20 of 20
        # prove little
        plausible = (covered.sum() + 2) / (n + 4)
        error = float(np.sqrt(plausible * (1 - plausible) / (n + 4)))
        rows.append(
            dict(zip(("comparison_id", "truth", "target", "method"), key, strict=True))
            | {"n_programs": n, "coverage": coverage, "coverage_mc_error": error, "mean_width": float(width.mean())}
            | {"width_mc_error": float(width.std(ddof=1) / np.sqrt(n)) if n > 1 else np.nan, "seed": seed}
            | {"verdict": verdict(coverage, error)}
            | counts.loc[key[0]].to_dict()
        )
    frame = frame_of(rows, "calibration")
    order = [
        list(TARGETS).index(target) * 10 + METHODS.index(m)
        for target, m in zip(frame["target"], frame["method"], strict=True)
    ]
    return (
        frame.assign(order=order)
        .sort_values(["comparison_id", "truth", "order"], kind="stable")
        .drop(columns="order")
        .reset_index(drop=True)
    )


def verdict(coverage: float, mc_error: float) -> str:
    """In words, allowing two Monte Carlo errors."""
    if coverage + 2 * mc_error < GOAL:
        return f"too narrow: catches the truth less often than {GOAL:.1%}"
    if coverage - 2 * mc_error > EXCESS:
        return f"wider than it needs to be: catches the truth more often than {EXCESS:.0%}"
    return AS_STATED
