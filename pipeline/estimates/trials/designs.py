"""One trial's own analysis, in the strata of its own design: without zero-N, and with it for contrasts that use it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import asdict, dataclass, replace

import numpy as np
import pandas as pd
from scipy import stats

from pipeline.contract.results import frame_of
from pipeline.estimates.frames import groups
from pipeline.estimates.trials import contrasts

# Design -> whether it has blocks. A Latin square is analyzed in its rows, given as
# blocks; column differences stay in the error. An incomplete block design is
# analyzed within blocks. Strips are analyzed by their means: points along one are
# not replicates.
RANDOMIZED = {
    "RCBD": True,
    "split-plot": True,
    "incomplete block": True,
    "Latin square": True,
    "strips": True,
    "CRD": False,
}
WITHOUT_ERROR = {
    "unreplicated": "unreplicated: each treatment has one plot, so there is no plot error to estimate",
    "not randomized": "not randomized: the differences between plots are no measure of chance",
}
SINGLE_STRIPS = (
    "strips that no second block repeats: points along a strip are not replicates, so there is no error to estimate"
)


STRIP = ("trial_id", "block", "treatment_code")


@dataclass(frozen=True)
class ErrorStrata:
    """Error mean squares of one trial, per plot, (value unit)^2; None where not estimable.

    main_plot_error_variance is the mean square of the main-plot stratum; its
    expectation is error_variance + subplots_per_main_plot x main-plot variance.
    """

    error_variance: float | None = None
    error_df: float | None = None
    main_plot_error_variance: float | None = None
    main_plot_error_df: float | None = None
    subplots_per_main_plot: float | None = None
    no_error_reason: str | None = None


def analyze_trials(
    plots: pd.DataFrame, treatments: pd.DataFrame, trials: pd.DataFrame
) -> tuple[pd.DataFrame, pd.DataFrame]:
    """Every trial's error strata (two rows per trial) and treatment means (one per treatment).

    Zero-N plots often vary otherwise than fertilized ones, so they are left out of the error of
    contrasts between fertilized treatments, and kept (zero_n_in_error) for contrasts that use them.
    A trial of zero-N treatments alone leaves none out.
    """
    analyses, means = [], []
    by_trial = dict(tuple(plots.groupby("trial_id", sort=False)))
    zero_n = zero_n_codes(treatments)
    for trial in trials.itertuples():
        in_trial = by_trial.get(trial.trial_id, plots.iloc[:0])
        in_trial = strip_means(in_trial) if trial.design == "strips" else in_trial
        is_zero = in_trial["treatment_code"].isin(zero_n.get(trial.trial_id, set()))
        if is_zero.all() and in_trial["treatment_code"].nunique() > 1:
            is_zero[:] = False
        fertilized = in_trial[~is_zero]
        strata = error_strata(fertilized, trial.design)
        for kept, of_kept in ((False, fertilized), (True, in_trial)):
            found = strata if len(of_kept) == len(fertilized) else error_strata(of_kept, trial.design)
            which = {"trial_id": trial.trial_id, "zero_n_in_error": kept}
            analyses.append(which | _summary(of_kept, trial.design, found) | asdict(found))
        means.extend(_means(trial.trial_id, in_trial, trial.design, strata))
    return frame_of(analyses, "trial_analyses"), frame_of(means, "treatment_means")


def zero_n_codes(treatments: pd.DataFrame) -> dict[str, set[str]]:
    """trial_id -> codes of its zero-N treatments; trials without any are left out."""
    zero_n = treatments.loc[treatments["is_zero_n"].eq(True), ["trial_id", "treatment_code"]]
    return zero_n.groupby("trial_id")["treatment_code"].agg(set).to_dict()


def strip_means(plots: pd.DataFrame, also_by: Sequence[str] = ()) -> pd.DataFrame:
    """One row per strip of a strip trial (treatment in its block): points along a strip are not replicates.

    also_by: columns in each of whose values a strip stands once. Of what else differs from point to point, such as the
    row that it was delivered in, the strip has its first point's.
    """
    keys = [*also_by, *STRIP]
    others = {column: "first" for column in plots.columns if column not in (*keys, "plot", "value", "main_plot")}
    means = plots.groupby(keys, dropna=False, sort=True, as_index=False).agg({**others, "value": "mean"})
    return means.assign(plot=means["treatment_code"], main_plot=None)


def is_blocked(design: str) -> bool:
    """Whether the plots of this design are compared within blocks."""
    return RANDOMIZED.get(design, False)


def error_strata(plots: pd.DataFrame, design: str) -> ErrorStrata:
    """Error mean squares by block-adjusted least squares, right for lost plots too; of strips, one row per strip."""
    reason = _no_error_reason(plots, design)
    if reason:
        return ErrorStrata(no_error_reason=reason)
    strata = _split_plot_strata(plots) if design == "split-plot" else _one_stratum(plots, design)
    if strata.error_df < 1:
        none_left = SINGLE_STRIPS if design == "strips" else "no degrees of freedom are left for error"
        return ErrorStrata(no_error_reason=none_left)
    if strata.error_variance <= 1e-12 * float(np.mean(plots["value"] ** 2)):
        return ErrorStrata(no_error_reason="the plots leave no variation at all, so the error cannot be estimated")
    return strata


def _no_error_reason(plots: pd.DataFrame, design: str) -> str | None:
    if design in WITHOUT_ERROR:
        return WITHOUT_ERROR[design]
    if design not in RANDOMIZED:
        return f"the design '{design}' has no written analysis"
    if len(plots) == 0:
        return "no harvest of a fertilized plot was delivered"
    if design == "split-plot" and plots["main_plot"].isna().any():
        return "split-plot, but some plots do not name their main plot"
    return None


def _one_stratum(plots: pd.DataFrame, design: str) -> ErrorStrata:
    factors = [plots["treatment_code"]] + ([plots["block"]] if RANDOMIZED[design] else [])
    rss, df = _residual(plots["value"], _design(factors))
    return ErrorStrata(error_variance=rss / df if df else np.nan, error_df=df)


def _split_plot_strata(plots: pd.DataFrame) -> ErrorStrata:
    """Sub-plot error within main plots; main-plot error as what main plots add to blocks.

    The coefficient of the main-plot variance is taken from the design matrices, so that
    lost sub-plots are allowed for (it is the number of sub-plots when none is lost). Main plots of which one plot is
    left each, such as those of zero-N and one rate, are the plots of a randomized block, with one error.
    """
    unit = main_plot_units(plots)
    if unit.is_unique:
        of_plots = _one_stratum(plots, "split-plot")
        return replace(
            of_plots,
            main_plot_error_variance=of_plots.error_variance,
            main_plot_error_df=of_plots.error_df,
            subplots_per_main_plot=1.0,
        )
    by_block = _design([plots["treatment_code"], plots["block"]])
    within_rss, within_df = _residual(plots["value"], _design([plots["treatment_code"], unit]))
    block_rss, block_df = _residual(plots["value"], by_block)
    main_df = block_df - within_df
    if main_df < 1:
        return ErrorStrata(error_variance=within_rss / max(within_df, 1), error_df=within_df)
    units = contrasts.indicators(unit)[0]
    left = units - by_block @ (np.linalg.pinv(by_block) @ units)
    return ErrorStrata(
        error_variance=within_rss / max(within_df, 1),
        error_df=within_df,
        main_plot_error_variance=(block_rss - within_rss) / main_df,
        main_plot_error_df=main_df,
        subplots_per_main_plot=float(np.sum(left**2) / main_df),
    )


def main_plot_units(plots: pd.DataFrame) -> pd.Series:
    """Main plots told apart between blocks, whether or not their labels repeat."""
    return plots["block"].astype(str) + " / " + plots["main_plot"].astype(str)


def _design(factors: list[pd.Series]) -> np.ndarray:
    return np.hstack([contrasts.indicators(factor)[0] for factor in factors])


def _residual(value: pd.Series, design: np.ndarray) -> tuple[float, float]:
    """Residual sum of squares and its df; the design may be rank-deficient."""
    observed = value.to_numpy(float)
    coefficients, _, rank, _ = np.linalg.lstsq(design, observed, rcond=None)
    return float(np.sum((observed - design @ coefficients) ** 2)), float(len(observed) - rank)


def _summary(plots: pd.DataFrame, design: str, strata: ErrorStrata) -> dict:
    mean = plots["value"].mean() if len(plots) else None
    summary = {
        "n_plots": len(plots),
        "n_blocks": plots["block"].nunique(),
        "n_treatments": plots["treatment_code"].nunique(),
        "mean": mean,
        "cv_pct": None,
        "lsd_5pct": None,
        "lsd_5pct_largest": None,
    }
    if strata.error_variance is None:
        return summary
    replication = plots["treatment_code"].value_counts().median()
    standard_error = np.sqrt(2 * strata.error_variance / replication)
    return summary | {
        "cv_pct": 100 * np.sqrt(strata.error_variance) / mean if mean else None,
        "lsd_5pct": stats.t.ppf(0.975, strata.error_df) * standard_error,
        "lsd_5pct_largest": _largest_lsd(plots, design, strata),
    }


def _largest_lsd(plots: pd.DataFrame, design: str, strata: ErrorStrata) -> float | None:
    """The LSD of the pair of treatments known least precisely; None where a pair has no error.

    Pairs differ where plots were lost, in incomplete blocks, and where treatments lie in different main plots.
    """
    adjusted = contrasts.AdjustedForBlocks(plots, blocked=is_blocked(design))
    of_means = [adjusted.weights({code: 1.0}) for code in sorted(plots["treatment_code"].astype(str).unique())]
    weights = np.array([each for each in of_means if each is not None])
    first, second = np.triu_indices(len(weights), 1)
    if not len(first):
        return None
    between = weights[first] - weights[second]
    main = np.zeros(len(between))
    if design == "split-plot":
        main = np.sum((between @ contrasts.indicators(main_plot_units(plots))[0]) ** 2, axis=1)
        main[main < 1e-12] = 0.0
    if main.any() and strata.main_plot_error_variance is None:
        return None
    shares = contrasts.stratum_shares(np.sum(between**2, axis=1), main, strata.subplots_per_main_plot or 1.0)
    variances = (strata.error_variance, strata.main_plot_error_variance or 0.0)
    variance, df = contrasts.combined(shares, variances, (strata.error_df, strata.main_plot_error_df or 1.0))
    return float(np.max(stats.t.ppf(0.975, df) * np.sqrt(variance)))


def _means(trial_id: str, plots: pd.DataFrame, design: str, strata: ErrorStrata) -> list[dict]:
    """Raw and block-adjusted mean of each treatment, zero-N among them."""
    rows = []
    adjusted = contrasts.AdjustedForBlocks(plots, blocked=is_blocked(design))
    units = main_plot_units(plots) if design == "split-plot" else None
    value = plots["value"].to_numpy(float)
    for of_code in groups(plots[["treatment_code", "value"]], ["treatment_code"]):
        code = of_code["treatment_code"][0]
        weights = adjusted.weights({str(code): 1.0})
        row = {
            "trial_id": trial_id,
            "treatment_code": code,
            "n_plots": len(of_code["value"]),
            "mean": of_code["value"].mean(),
            "adjusted_mean": None if weights is None else float(weights @ value),
            "std_error": None if weights is None else _std_error(weights, units, strata),
        }
        rows.append(row)
    return rows


def _std_error(weights: np.ndarray, units: pd.Series | None, strata: ErrorStrata) -> float | None:
    """units: the main plot of each plot of a split-plot trial."""
    if strata.error_variance is None:
        return None
    if units is not None and strata.main_plot_error_variance is None:
        return None
    shares = contrasts.stratum_shares(*contrasts.variance_factors(weights, units), strata.subplots_per_main_plot or 1.0)
    variance, _ = contrasts.combined(
        shares,
        (strata.error_variance, strata.main_plot_error_variance or 0.0),
        (strata.error_df, strata.main_plot_error_df or 1.0),
    )
    return float(np.sqrt(variance))
