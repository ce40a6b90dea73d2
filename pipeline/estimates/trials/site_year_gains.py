"""One gain per site-year, with the trial's moderated standard error and two others beside it."""

from __future__ import annotations

import numpy as np
import pandas as pd
from scipy import stats

from pipeline.contract.results import frame_of, narrowed
from pipeline.estimates.engines.interval_rules import CONF_LEVEL
from pipeline.estimates.frames import joined
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
    of_trials = pd.DataFrame(
        [_trial_gain(of_trial) for _, of_trial in block_gains.groupby(["comparison_id", "trial_id"])]
    ).merge(trials, on="trial_id", how="left")
    key = ["comparison_id", "site_year_id"]
    rows = pd.DataFrame([_site_year_gain(group) for _, group in of_trials.groupby(key)])
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


def _trial_gain(blocks: pd.DataFrame) -> dict:
    """Blocks weighted by the inverse of their gain's variance within the trial."""
    relative = blocks["variance"] if blocks["variance"].notna().all() else blocks["variance_factor"]
    weights = (1 / relative).to_numpy()
    weights = weights / weights.sum()
    gain = float(weights @ blocks["gain"].to_numpy(float))
    return {
        "comparison_id": blocks["comparison_id"].iloc[0],
        "trial_id": blocks["trial_id"].iloc[0],
        "gain": gain,
        "comparator_mean": float(weights @ blocks["comparator_mean"].to_numpy(float)),
        "variance": _own_only(weights, blocks, "variance"),
        "own_variance": _own_only(weights, blocks, "own_variance"),
        "block_variance": _spread(weights, blocks["gain"].to_numpy(float) - gain),
        "df": blocks["variance_df"].iloc[0],
        "n_blocks": len(blocks),
        "n_plots": int(blocks[["n_treatment_plots", "n_comparator_plots"]].to_numpy().sum()),
        "rates_missing": _any_of(blocks["rates_missing"]),
        "zero_n_in_error": bool(blocks["zero_n_in_error"].any()),
        "warnings": joined(blocks["warnings"]),
    }


def _own_only(weights: np.ndarray, blocks: pd.DataFrame, column: str) -> float:
    """Variance of the weighted gain; NaN where the trial has no error of its own."""
    if blocks["own_variance"].isna().any():
        return np.nan
    return float(np.sum(weights**2 * blocks[column].to_numpy(float)))


def _spread(weights: np.ndarray, deviations: np.ndarray) -> float:
    """Variance of the weighted mean from the spread of the blocks; NaN for one block."""
    if len(weights) < 2:
        return np.nan
    return float(np.sum(weights * deviations**2) / (len(weights) - 1))


def _any_of(rates_missing: pd.Series) -> list[float]:
    """The named rates (kg/ha) that some block or trial lacks; reports say them in the reader's unit."""
    return sorted({rate for rates in rates_missing for rate in rates})


def _site_year_gain(trials: pd.DataFrame) -> dict:
    n = len(trials)
    first = trials.iloc[0]
    _, df = contrasts.combined(np.ones(n), trials["variance"], trials["df"])
    return {
        "gain": trials["gain"].mean(),
        "comparator_mean": trials["comparator_mean"].mean(),
        "std_error": np.sqrt(trials["variance"].to_numpy(float).sum()) / n,
        "own_std_error": np.sqrt(trials["own_variance"].to_numpy(float).sum()) / n,
        "block_std_error": np.sqrt(trials["block_variance"].to_numpy(float).sum()) / n,
        "df": df,
        "n_blocks": int(trials["n_blocks"].sum()),
        "n_plots": int(trials["n_plots"].sum()),
        "n_trials": n,
        "rates_missing": _any_of(trials["rates_missing"]),
        "is_pooled": not trials["design"].isin(NOT_POOLED).any(),
        "zero_n_in_error": bool(trials["zero_n_in_error"].any()),
        "warnings": joined([*trials["warnings"], "several trials here: counted alike" if n > 1 else ""]),
    } | {
        column: first[column]
        for column in ("comparison_id", "site_year_id", "place", "season", "drainage_group", "rainfall_class")
    }
