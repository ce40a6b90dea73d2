"""The columns of every frame this room gives, so that an empty result still has its shape."""

from __future__ import annotations

import pandas as pd

# Whose weather an average stands for that money rests on.
LONG_RUN, AS_TESTED = "long-run weather", "weather as tested"

TRIAL_ANALYSES = (
    "trial_id", "zero_n_in_error", "n_plots", "n_blocks", "n_treatments", "error_variance", "error_df",
    "main_plot_error_variance", "main_plot_error_df", "subplots_per_main_plot",
    "mean", "cv_pct", "lsd_5pct", "no_error_reason",
)  # fmt: skip
TREATMENT_MEANS = ("trial_id", "treatment_code", "n_plots", "mean", "adjusted_mean", "std_error")
BLOCK_GAINS = (
    "comparison_id", "trial_id", "block", "gain", "comparator_mean",
    "n_treatment_plots", "n_comparator_plots", "n_rates", "rates_missing",
    "variance_factor", "main_plot_factor", "zero_n_in_error", "warnings",
)  # fmt: skip
BLOCK_GAINS_WITH_VARIANCE = (*BLOCK_GAINS, "variance", "own_variance", "variance_df", "own_variance_df")
SITE_YEAR_GAINS = (
    "comparison_id", "site_year_id", "place", "season", "drainage_group", "rainfall_class",
    "gain", "std_error", "df", "half_width", "conf_low", "conf_high", "own_std_error", "block_std_error",
    "comparator_mean", "n_blocks", "n_plots", "n_trials", "plot_set", "lasting_std_error", "lasting_df", "is_pooled", "rates_missing",
    "zero_n_in_error", "warnings",
)  # fmt: skip
POOLED_GAINS = (
    "comparison_id", "target", "method", "moderator", "level",
    "estimate", "std_error", "df", "df_method", "conf_level", "conf_low", "conf_high",
    "pred_low", "pred_high", "pred_method", "observed_low", "observed_high",
    "tau2", "q_stat", "i2_pct", "n_site_years", "n_places", "n_seasons", "n_trials", "n_unknown",
    "seasons", "shown_as", "is_headline", "rule", "formula", "warnings",
)  # fmt: skip
INTERACTION_TESTS = (
    "comparison_id", "target", "moderator", "kind", "f_stat", "df1", "df2", "p_value", "p_value_holm", "n_tests",
    "n_levels", "n_site_years", "n_unknown", "sentence", "warnings",
)  # fmt: skip
EXPLORED = (
    "comparison_id", "target", "method", "moderator", "level", "estimate", "std_error", "df", "df_method", "conf_level", "conf_low", "conf_high",
    "n_site_years", "n_seasons", "n_unknown", "seasons", "shown_as", "is_headline", "kind", "p_value", "p_value_holm", "rule", "formula", "warnings",
)  # fmt: skip
EXPLORED_SITE_YEARS = (
    "comparison_id", "moderator", "level", "site_year_id", "place", "season", "gain", "std_error", "n_blocks", "n_plots",
)  # fmt: skip
ROBUSTNESS = (
    "comparison_id", "target", "kind", "left_out", "moderator", "level", "method",
    "estimate", "conf_low", "conf_high", "n_site_years", "n_seasons", "changes_conclusion", "warnings",
)  # fmt: skip
AGREEMENT = (
    "comparison_id", "target", "leads", "headline", "std_error", "mixed_model", "two_stage", "plain_mean",
    "third_road", "third_road_std_error", "agrees", "sentence",
)  # fmt: skip
FIELD_SHARES = (
    "comparison_id", "target", "above", "threshold", "share", "tenths", "tau", "n_site_years", "n_seasons", "reason",
)  # fmt: skip
SHRUNKEN_GAINS = ("comparison_id", "site_year_id", "gain", "shrunken_gain", "shrunken_std_error")
VARIANCE_COMPONENTS = ("comparison_id", "target", "component", "variance")


def frame_of(rows: list[dict] | pd.DataFrame, columns: tuple[str, ...]) -> pd.DataFrame:
    """Rows as a frame with exactly these columns, in this order; a missing value is None or NaN."""
    if len(rows) == 0:
        return pd.DataFrame(columns=list(columns), dtype=object)
    return pd.DataFrame(rows).reindex(columns=list(columns))


def stacked(frames: list[pd.DataFrame]) -> pd.DataFrame:
    """Frames under each other; empty ones, whose columns have no type, are left out."""
    filled = [frame for frame in frames if len(frame)]
    return pd.concat(filled, ignore_index=True) if filled else pd.DataFrame()


def joined(warnings: list[str] | pd.Series) -> str:
    """Distinct non-empty warnings as one text, in the order they arose."""
    return "; ".join(dict.fromkeys(warning for warning in warnings if warning))
