"""Trials known only by print: their treatment means, or differences, and whatever error was printed, as one gain each.

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

from pipeline.contract.results import frame_of
from pipeline.estimates.frames import joined
from pipeline.estimates.trials.block_gains import NO_RATE, NOT_ADJUSTED
from pipeline.estimates.trials.site_year_gains import BORROWED_ERROR, NO_ERROR

ONLY_PRINT = "known only by print"
ONLY_DIFFERENCE = "only the difference is printed: the comparator's yield is not known, so percentages leave it out"
BLOCK = "print"
DEFAULT_ALPHA = 0.05
KINDS = ("SE of mean", "SED", "LSD", "CV", "MSE", "p")


@dataclass(frozen=True)
class PrintedError:
    """Variance of one treatment mean of the trial, (value unit)^2, and its df; NaN with a reason where it has none."""

    variance_of_mean: float
    df: float
    note: str = ""


@dataclass(frozen=True)
class _Contrast:
    """A gain of printed figures, with the weight of each treatment and of each rate in it; rows: codes of the rows
    whose error counts.
    """

    gain: float
    comparator_mean: float
    share: dict[str, float]
    rates: dict[float, float]
    rows: list[str]
    note: str = ""


def printed_gains(
    printed_means: pd.DataFrame,
    arms: pd.DataFrame,
    trials: pd.DataFrame,
    analyses: pd.DataFrame | None = None,
    rate_terms: dict[str, dict[float, float] | None] | None = None,
) -> pd.DataFrame:
    """One row per comparison and printed trial, in the columns of block gains with variances.

    printed_means: trial_id, treatment_code, mean_kg_ha, n_blocks, error_kind, error_value,
    error_alpha, error_df; where only a difference is printed compared_with and difference_kg_ha
    in place of the mean, and comparator_mean is then None. analyses (moderated) give the crop's pooled error to trials
    without a usable error of their own, as weights only. n plots is 0 in every row.
    """
    pooled = _pooled_error_of_crop(analyses)
    crop_of = trials.set_index("trial_id")["crop"]
    printed_means = printed_means.reindex(columns=printed_means.columns.union(["compared_with", "difference_kg_ha"]))
    by_trial = {trial_id: table for trial_id, table in printed_means.groupby("trial_id")}
    rows = []
    for (comparison_id, trial_id), of_trial in arms.groupby(["comparison_id", "trial_id"]):
        if trial_id in by_trial and trial_id in crop_of.index:
            table = by_trial[trial_id].set_index("treatment_code")
            row = _row(
                table,
                of_trial,
                arms[arms["comparison_id"] == comparison_id],
                pooled.get(crop_of[trial_id], np.nan),
                (rate_terms or {}).get(comparison_id),
            )
            rows += [{"comparison_id": comparison_id, "trial_id": trial_id} | row] if row else []
    return frame_of(rows, "block_gains")


def _pooled_error_of_crop(analyses: pd.DataFrame | None) -> dict[str, float]:
    if analyses is None or analyses.empty:
        return {}
    without_zero_n = analyses[~analyses["zero_n_in_error"].astype(bool)]
    return without_zero_n.groupby("crop")["pooled_error_variance"].first().to_dict()


def _row(
    table: pd.DataFrame,
    of_trial: pd.DataFrame,
    of_comparison: pd.DataFrame,
    pooled: float,
    terms: dict[float, float] | None,
) -> dict | None:
    """The gain at the rates that the print has in both arms, or None where it has none."""
    found = _of_means(table, of_trial) or _of_differences(table, of_trial)
    if found is None:
        return None
    missing = sorted(set(of_comparison["rate_kg_ha"].fillna(NO_RATE)) - set(found.rates))
    offset = sum(share * (terms or {}).get(rate, 0.0) for rate, share in found.rates.items()) if missing else 0.0
    factor = float(np.sum(np.square(list(found.share.values()))))
    error = mean_error(table, found.rows, found.gain, len(found.share))
    n_blocks = float(table["n_blocks"].min())
    variance = factor * error.variance_of_mean
    row = {
        "block": BLOCK,
        "gain": found.gain - offset,
        "comparator_mean": found.comparator_mean,
        "n_treatment_plots": 0,
        "n_comparator_plots": 0,
        "n_rates": len(found.rates),
        "rates_missing": missing,
        "variance_factor": factor / n_blocks,
        "main_plot_factor": 0.0,
        "zero_n_in_error": False,
        "variance": variance,
        "own_variance": variance,
        "variance_df": error.df,
        "own_variance_df": error.df,
    }
    if np.isnan(variance):
        row["variance"] = row["variance_factor"] * pooled
        error = PrintedError(np.nan, np.nan, joined([error.note, NO_ERROR if np.isnan(pooled) else BORROWED_ERROR]))
    unadjusted = NOT_ADJUSTED if missing and terms is None else ""
    return row | {"warnings": joined([ONLY_PRINT, found.note, error.note, unadjusted])}


def _of_means(table: pd.DataFrame, of_trial: pd.DataFrame) -> _Contrast | None:
    """From the printed means of both arms: rates by their fixed weights, codes of an arm alike; None without a rate."""
    known = of_trial[of_trial["treatment_code"].isin(table.index[table["mean_kg_ha"].notna()])]
    known = known.assign(rate=known["rate_kg_ha"].fillna(NO_RATE))
    known = known[known.groupby("rate")["arm"].transform("nunique") == 2]
    if known.empty:
        return None
    rates = known.drop_duplicates("rate").set_index("rate")["rate_weight"]
    total = rates.sum()
    n_codes = known.groupby(["rate", "arm"])["treatment_code"].transform("size")
    sign = np.where(known["arm"] == "treatment", 1.0, -1.0)
    weight = sign * known["rate_weight"] / total / n_codes
    weights = dict(zip(known["treatment_code"], weight.astype(float), strict=True))
    codes, share = list(weights), np.array(list(weights.values()))
    means = table.loc[codes, "mean_kg_ha"].to_numpy(float)
    comparator_mean = float(-np.minimum(share, 0) @ means)
    return _Contrast(float(share @ means), comparator_mean, weights, (rates / total).to_dict(), codes)


def _of_differences(table: pd.DataFrame, of_trial: pd.DataFrame) -> _Contrast | None:
    """From printed differences between the arms, whichever way they were taken: rates by their weights, pairs of a rate
    alike.

    Two differences from one treatment share its error: the weights are of treatments, so that it is counted once.
    """
    printed = table[table["difference_kg_ha"].notna() & table["compared_with"].notna()]
    pairs: list[tuple[float, float, str, float]] = []  # rate, its weight, code of the printed row, sign
    for rate, of_rate in of_trial.assign(rate=of_trial["rate_kg_ha"].fillna(NO_RATE)).groupby("rate"):
        arms = {name: set(codes) for name, codes in of_rate.groupby("arm")["treatment_code"]}
        treatment, comparator = arms.get("treatment", set()), arms.get("comparator", set())
        for code, other in printed["compared_with"].items():
            sign = (code in treatment and other in comparator) - (code in comparator and other in treatment)
            if sign:
                pairs.append((float(rate), float(of_rate["rate_weight"].iloc[0]), str(code), float(sign)))
    if not pairs:
        return None
    weights = {rate: weight for rate, weight, _, _ in pairs}
    rates = {rate: weight / sum(weights.values()) for rate, weight in weights.items()}
    of_rates = pd.Series([rate for rate, *_ in pairs]).value_counts()
    gain, share = (
        0.0,
        dict.fromkeys(sorted({c for *_, code, _ in pairs for c in (code, printed.loc[code, "compared_with"])}), 0.0),
    )
    for rate, _, code, sign in pairs:
        of_pair = sign * rates[rate] / of_rates[rate]
        gain += of_pair * float(printed.loc[code, "difference_kg_ha"])
        share[code] += of_pair
        share[printed.loc[code, "compared_with"]] -= of_pair
    return _Contrast(gain, np.nan, share, rates, [code for *_, code, _ in pairs], ONLY_DIFFERENCE)


def mean_error(table: pd.DataFrame, codes: list[str], gain: float, n_codes: int) -> PrintedError:
    """What the print says of the error of its means; table is indexed by treatment_code, codes: its rows that count.

    n_codes: the treatments in the gain.
    """
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
        return _from_p(values, gain, n_codes, df)
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
    n_treatments = len({*table.index, *table["compared_with"].dropna()})
    return float((table["n_blocks"].min() - 1) * (n_treatments - 1))


def _from_p(values: pd.Series, gain: float, n_codes: int, df: float) -> PrintedError:
    """The standard error that makes the gain's two-sided t test give this p; only where it is a test of this gain."""
    p = float(values.iloc[0])
    if n_codes > 2 or values.nunique() > 1:
        return PrintedError(np.nan, np.nan, "the printed p is of a single pair of treatments, not of this gain")
    if not 0 < p < 1 or gain == 0:
        return PrintedError(np.nan, np.nan, "no error can be told from the printed p")
    return PrintedError((gain / stats.t.ppf(1 - p / 2, df)) ** 2 / 2, df)
