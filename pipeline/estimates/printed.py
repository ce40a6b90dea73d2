"""Trials known only by print: their treatment means and whatever error was printed, as one gain each.

Every printed error becomes the variance of one treatment mean, so that a gain over
several treatments or rates gets the variance of exactly that contrast. Conversions as
in Gomez and Gomez 1984, Statistical Procedures for Agricultural Research, 2nd ed.,
chapters 2 and 5 (SED = sqrt(2 MSE / n), LSD = t x SED, CV = 100 sqrt(MSE) / mean).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd
from scipy import stats

from pipeline.estimates.block_gains import NO_RATE
from pipeline.estimates.columns import BLOCK_GAINS_WITH_VARIANCE, frame_of, joined
from pipeline.estimates.site_year_gains import BORROWED_ERROR, NO_ERROR

ONLY_PRINT = "known only by print"
BLOCK = "print"
DEFAULT_ALPHA = 0.05
KINDS = ("SE of mean", "SED", "LSD", "CV", "MSE", "p")


@dataclass(frozen=True)
class PrintedError:
    """Variance of one treatment mean of the trial, (value unit)^2, and its df; NaN with a reason where it has none."""

    variance_of_mean: float
    df: float
    note: str = ""


def printed_gains(
    printed_means: pd.DataFrame, arms: pd.DataFrame, trials: pd.DataFrame, analyses: pd.DataFrame | None = None
) -> pd.DataFrame:
    """One row per comparison and printed trial, in the columns of block gains with variances.

    printed_means: trial_id, treatment_code, mean_kg_ha, n_blocks, error_kind, error_value,
    error_alpha, error_df. analyses (moderated) give the crop's pooled error to trials
    without a usable error of their own, as weights only. n plots is 0 in every row.
    """
    pooled = _pooled_error_of_crop(analyses)
    crop_of = trials.set_index("trial_id")["crop"]
    by_trial = {trial_id: table for trial_id, table in printed_means.groupby("trial_id")}
    rows = []
    for (comparison_id, trial_id), of_trial in arms.groupby(["comparison_id", "trial_id"]):
        if trial_id in by_trial and trial_id in crop_of.index:
            table = by_trial[trial_id].set_index("treatment_code")
            row = _row(
                table, of_trial, arms[arms["comparison_id"] == comparison_id], pooled.get(crop_of[trial_id], np.nan)
            )
            rows += [{"comparison_id": comparison_id, "trial_id": trial_id} | row] if row else []
    return frame_of(rows, BLOCK_GAINS_WITH_VARIANCE)


def _pooled_error_of_crop(analyses: pd.DataFrame | None) -> dict[str, float]:
    if analyses is None or analyses.empty:
        return {}
    return analyses.groupby("crop")["pooled_error_variance"].first().to_dict()


def _row(table: pd.DataFrame, of_trial: pd.DataFrame, of_comparison: pd.DataFrame, pooled: float) -> dict | None:
    """The gain at the rates that the print has in both arms, or None where it has none."""
    weights, rates = _weights(table, of_trial)
    if not rates:
        return None
    named = set(of_comparison["rate_kg_ha"].fillna(NO_RATE))
    codes, share = list(weights), np.array(list(weights.values()))
    means = table.loc[codes, "mean_kg_ha"].to_numpy(float)
    gain, factor = float(share @ means), float(np.sum(share**2))
    error = mean_error(table, codes, gain)
    n_blocks = float(table["n_blocks"].min())
    variance = factor * error.variance_of_mean
    row = {
        "block": BLOCK, "gain": gain, "comparator_mean": float(-np.minimum(share, 0) @ means),
        "n_treatment_plots": 0, "n_comparator_plots": 0, "n_rates": len(rates),
        "rates_missing": sorted(named - rates),
        "variance_factor": factor / n_blocks, "main_plot_factor": 0.0,
        "variance": variance, "own_variance": variance, "variance_df": error.df, "own_variance_df": error.df,
    }  # fmt: skip
    if np.isnan(variance):
        row["variance"] = row["variance_factor"] * pooled
        error = PrintedError(np.nan, np.nan, joined([error.note, NO_ERROR if np.isnan(pooled) else BORROWED_ERROR]))
    return row | {"warnings": joined([ONLY_PRINT, error.note])}


def _weights(table: pd.DataFrame, of_trial: pd.DataFrame) -> tuple[dict[str, float], set[float]]:
    """Weight of each printed mean in the gain: rates by their fixed weights, codes of an arm alike."""
    known = of_trial[of_trial["treatment_code"].isin(table.index[table["mean_kg_ha"].notna()])]
    known = known.assign(rate=known["rate_kg_ha"].fillna(NO_RATE))
    known = known[known.groupby("rate")["arm"].transform("nunique") == 2]
    total = known.drop_duplicates("rate")["rate_weight"].sum()
    n_codes = known.groupby(["rate", "arm"])["treatment_code"].transform("size")
    sign = np.where(known["arm"] == "treatment", 1.0, -1.0)
    weight = sign * known["rate_weight"] / total / n_codes
    return dict(zip(known["treatment_code"], weight.astype(float), strict=True)), set(known["rate"])


def mean_error(table: pd.DataFrame, codes: list[str], gain: float) -> PrintedError:
    """What the print says of the error of its means; table is indexed by treatment_code."""
    told = table.loc[codes]
    told = told[told["error_kind"].isin(KINDS) & (told["error_value"].astype(float) > 0)]
    if told.empty:
        return PrintedError(np.nan, np.nan, "no error was printed")
    kind, df = told["error_kind"].iloc[0], _df(table, told)
    if told["error_kind"].nunique() > 1:
        return PrintedError(np.nan, np.nan, "different kinds of error are printed for one trial")
    if df < 1:
        return PrintedError(np.nan, np.nan, "no error df can be told")
    values = told["error_value"].astype(float)
    if kind == "p":
        return _from_p(values, gain, len(codes), df)
    if kind == "SE of mean":
        return PrintedError(float(np.mean(values**2)), df)
    note = "several values are printed for one error: the largest is used" if values.nunique() > 1 else ""
    alpha = told["error_alpha"].astype(float).fillna(DEFAULT_ALPHA).iloc[0]
    grand_mean, n_blocks = table["mean_kg_ha"].astype(float).mean(), float(table["n_blocks"].min())
    return PrintedError(
        variance_of_mean(kind, values.max(), n_blocks=n_blocks, df=df, alpha=alpha, mean=grand_mean), df, note
    )


def variance_of_mean(kind: str, value: float, *, n_blocks: float, df: float, alpha: float, mean: float) -> float:
    """Variance of one treatment mean from a printed SED, LSD, CV (%) or MSE."""
    if kind == "SED":
        return value**2 / 2
    if kind == "LSD":
        return (value / stats.t.ppf(1 - alpha / 2, df)) ** 2 / 2
    if kind == "CV":
        return (value / 100 * mean) ** 2 / n_blocks
    return value / n_blocks  # MSE


def _df(table: pd.DataFrame, told: pd.DataFrame) -> float:
    """As printed, else (blocks - 1) x (treatments - 1)."""
    printed = told["error_df"].astype(float).dropna()
    if len(printed):
        return float(printed.min())
    return float((table["n_blocks"].min() - 1) * (len(table) - 1))


def _from_p(values: pd.Series, gain: float, n_codes: int, df: float) -> PrintedError:
    """The standard error that makes the gain's two-sided t test give this p; only where it is a test of this gain."""
    p = float(values.iloc[0])
    if n_codes > 2 or values.nunique() > 1:
        return PrintedError(np.nan, np.nan, "the printed p is of a single pair of treatments, not of this gain")
    if not 0 < p < 1 or gain == 0:
        return PrintedError(np.nan, np.nan, "no error can be told from the printed p")
    return PrintedError((gain / stats.t.ppf(1 - p / 2, df)) ** 2 / 2, df)
