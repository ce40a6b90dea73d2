"""One gain per site-year, with the trial's moderated standard error and two others beside it."""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np
import pandas as pd
from scipy import stats

from pipeline.contract.results import frame_of, narrowed
from pipeline.estimates.engines.interval_rules import CONF_LEVEL
from pipeline.estimates.frames import groups, joined
from pipeline.estimates.trials import contrasts, shared_plots
from pipeline.estimates.trials.moderation import moderated_dfs, squeeze

# Shown by themselves, never pooled: nothing made their arms alike but for the treatment.
NOT_POOLED = ("not randomized",)
STRATA = ("error", "main_plot_error")
BORROWED_ERROR = "no error of its own: weighted by the crop's pooled error"
NO_ERROR = "no error of its own, and no other trial of the crop has one"


def moderated_analyses(trial_analyses: pd.DataFrame, trials: pd.DataFrame) -> pd.DataFrame:
    """Each stratum's error variance moderated over the trials of its crop, without zero-N and with it apart.

    Adds moderated_<stratum>_variance and moderated_<stratum>_df, and
    pooled_error_variance, the crop's pooled one, for trials without their own.
    """
    analyses = trial_analyses.merge(trials[["trial_id", "crop"]], on="trial_id", how="left")
    alike = ["crop", "zero_n_in_error"]
    for stratum in STRATA:
        variance, df = f"{stratum}_variance", f"{stratum}_df"
        for column in (variance, df):
            analyses[f"moderated_{column}"] = np.nan
        # A mean square of exactly zero has no logarithm and says nothing of the others.
        for _, of_crop in analyses[analyses[variance] > 0].groupby(alike):
            own, dfs = of_crop[variance].to_numpy(), of_crop[df].to_numpy()
            analyses.loc[of_crop.index, f"moderated_{variance}"] = squeeze(own, dfs)
            analyses.loc[of_crop.index, f"moderated_{df}"] = moderated_dfs(own, dfs)
    analyses["pooled_error_variance"] = np.nan
    for _, of_crop in analyses.groupby(alike):
        known = of_crop[of_crop["error_variance"].notna()]
        if len(known):
            pooled = float(np.average(known["error_variance"], weights=known["error_df"]))
            analyses.loc[of_crop.index, "pooled_error_variance"] = pooled
    return analyses


def with_variances(block_gains: pd.DataFrame, analyses: pd.DataFrame) -> pd.DataFrame:
    """Block gains with the variance of each gain (moderated, and by its trial alone) and its df.

    A trial without an error of its own gets the crop's pooled one as variance, no
    variance_df, and a warning.
    """
    keys = ["trial_id", "zero_n_in_error"]
    frame = block_gains.merge(analyses, on=keys, how="left", suffixes=("", "_of_trial"))
    shares = contrasts.stratum_shares(
        frame["variance_factor"].to_numpy(float),
        frame["main_plot_factor"].to_numpy(float),
        frame["subplots_per_main_plot"].to_numpy(float),
    )
    for prefix, name in (("", "own_variance"), ("moderated_", "variance")):
        variances = [frame[f"{prefix}{stratum}_variance"].to_numpy(float) for stratum in STRATA]
        dfs = [frame[f"{prefix}{stratum}_df"].to_numpy(float) for stratum in STRATA]
        frame[name], frame[f"{name}_df"] = contrasts.combined(shares, variances, dfs)
    lacking = frame["variance"].isna()
    borrowed = frame["variance_factor"] * frame["pooled_error_variance"]
    frame.loc[lacking, "variance"] = borrowed[lacking]
    frame.loc[lacking, "warnings"] = [
        joined([warning, NO_ERROR if np.isnan(variance) else BORROWED_ERROR])
        for warning, variance in zip(frame.loc[lacking, "warnings"], borrowed[lacking], strict=True)
    ]
    return narrowed(frame, "block_gains")


def site_year_gains(block_gains: pd.DataFrame, trials: pd.DataFrame) -> pd.DataFrame:
    """One row per comparison and site-year, from block gains with variances.

    std_error rests on the trial's moderated error, own_std_error on its own,
    block_std_error on the spread of its block gains (a sensitivity). All are None
    where a trial has no error of its own. Trials of one site-year count alike. half_width
    is that of its own 95% t interval: the smallest true gain these plots could tell from noise.
    plot_set and lasting_std_error: which site-years stand on the same plots, and the part of
    std_error that lasts there (trials.plot_set names the first trial on its plots; optional).
    """
    if block_gains.empty:
        return frame_of([], "site_year_gains")
    of_trials = [_trial_gain(blocks) for blocks in groups(block_gains, ["comparison_id", "trial_id"])]
    of_trials = pd.DataFrame(of_trials).merge(trials, on="trial_id", how="left")
    key = ["comparison_id", "site_year_id"]
    rows = pd.DataFrame([_site_year_gain(of_site_year) for of_site_year in groups(of_trials, key)])
    lasting = shared_plots.NONE
    if "plot_set" in trials:
        lasting = shared_plots.lasting_errors(of_trials, shared_plots.lasting_shares(block_gains, trials))
    rows = rows.join(lasting, on=key) if len(lasting) else rows.assign(**dict.fromkeys(lasting.columns))
    return frame_of(with_limits(rows), "site_year_gains")


def with_limits(gains: pd.DataFrame) -> pd.DataFrame:
    """The gains with their t interval (conf_low, conf_high, half_width), None where there is no error."""
    half_width = stats.t.ppf(0.5 + CONF_LEVEL / 2, gains["df"]) * gains["std_error"]
    gain = gains["gain"]
    return gains.assign(half_width=half_width, conf_low=gain - half_width, conf_high=gain + half_width)


def _trial_gain(blocks: dict[str, np.ndarray]) -> dict:
    """Blocks weighted by the inverse of their gain's variance within the trial."""
    relative = blocks["variance_factor"] if np.isnan(blocks["variance"]).any() else blocks["variance"]
    weights = 1 / relative
    weights = weights / weights.sum()
    gain = float(weights @ blocks["gain"])
    return {
        "comparison_id": blocks["comparison_id"][0],
        "trial_id": blocks["trial_id"][0],
        "gain": gain,
        "comparator_mean": float(weights @ blocks["comparator_mean"]),
        "variance": _own_only(weights, blocks, "variance"),
        "own_variance": _own_only(weights, blocks, "own_variance"),
        "block_variance": _spread(weights, blocks["gain"] - gain),
        "df": blocks["variance_df"][0],
        "n_blocks": len(weights),
        "n_plots": int(blocks["n_treatment_plots"].sum() + blocks["n_comparator_plots"].sum()),
        "rates_missing": _any_of(blocks["rates_missing"]),
        "zero_n_in_error": bool(blocks["zero_n_in_error"].any()),
        "warnings": joined(blocks["warnings"]),
    }


def _own_only(weights: np.ndarray, blocks: dict[str, np.ndarray], column: str) -> float:
    """Variance of the weighted gain; NaN where the trial has no error of its own."""
    if np.isnan(blocks["own_variance"]).any():
        return np.nan
    return float(np.sum(weights**2 * blocks[column]))


def _spread(weights: np.ndarray, deviations: np.ndarray) -> float:
    """Variance of the weighted mean from the spread of the blocks; NaN for one block."""
    if len(weights) < 2:
        return np.nan
    return float(np.sum(weights * deviations**2) / (len(weights) - 1))


def _any_of(rates_missing: Iterable[list[float]]) -> list[float]:
    """The named rates (kg/ha) that some block or trial lacks; reports say them in the reader's unit."""
    return sorted({rate for rates in rates_missing for rate in rates})


def _site_year_gain(trials: dict[str, np.ndarray]) -> dict:
    n = len(trials["gain"])
    _, df = contrasts.combined(np.ones(n), trials["variance"], trials["df"])
    known = trials["comparator_mean"][~np.isnan(trials["comparator_mean"])]
    return {
        "gain": trials["gain"].mean(),
        "comparator_mean": known.mean() if len(known) else np.nan,
        "std_error": np.sqrt(trials["variance"].sum()) / n,
        "own_std_error": np.sqrt(trials["own_variance"].sum()) / n,
        "block_std_error": np.sqrt(trials["block_variance"].sum()) / n,
        "df": df,
        "n_blocks": int(trials["n_blocks"].sum()),
        "n_plots": int(trials["n_plots"].sum()),
        "n_trials": n,
        "rates_missing": _any_of(trials["rates_missing"]),
        "is_pooled": not set(trials["design"]).intersection(NOT_POOLED),
        "zero_n_in_error": bool(trials["zero_n_in_error"].any()),
        "warnings": joined([*trials["warnings"], "several trials here: counted alike" if n > 1 else ""]),
        "drainage_group": _shared(trials["drainage_group"]),
    } | {column: trials[column][0] for column in ("comparison_id", "site_year_id", "place", "season", "rainfall_class")}


def _shared(groups: np.ndarray) -> str | None:
    """The drainage group of all these trials; None where they lie in two: their mean is of neither."""
    return groups[0] if len(set(groups)) == 1 else None
