"""The columns of the N response frames. N and yields in kg/ha; price_ratio in kg of yield per kg of N."""

from __future__ import annotations

LADDERS = (
    "trial_id", "site_year_id", "crop", "design", "family", "variant",
    "block", "main_plot", "plot", "n_rate_kg_ha", "value",
)  # fmt: skip
LADDER_PLOTS = ("crop", "family", "trial_id", "variant", "treatment_code", "block", "plot", "n_rate_kg_ha")
# n_plots is 0 and std_error may be known where the mean was printed; plots carry their error themselves.
RATE_MEANS = (
    "crop", "family", "site_year_id", "trial_id", "variant", "n_rate_kg_ha", "mean", "n_plots", "std_error",
)  # fmt: skip
# a: yield at zero-N. b: slope at zero-N (Mitscherlich: rise to the asymptote). c: curvature
# (Mitscherlich: rate constant). plateau: yield at the join (quadratic: at its top; Mitscherlich: asymptote).
# A missing bound is open: the data do not close the interval on that side. An upper bound may lie up to one printed unit
# (intervals.PRINTED_ALIKE_KG_HA) beyond the highest rate: pages call it open unless it prints as that rate.
# n_clusters: how many groups of site-years that share no plots (clusters.py); of common curves only.
N_RESPONSE = (
    "crop", "family", "level", "site_year_id", "trial_id", "variant", "model", "is_primary", "flag",
    "a", "b", "c", "join", "plateau",
    "aonr", "aonr_std_error", "aonr_low", "aonr_high",
    "price_ratio", "eonr", "eonr_std_error", "eonr_low", "eonr_high", "eonr_boot_low", "eonr_boot_high",
    "conf_level", "interval_method", "n_plots", "n_rates", "n_site_years", "n_clusters", "lowest_rate", "highest_rate",
    "sse", "df", "aicc", "warnings",
)  # fmt: skip
# Refits of the common primary curve to resampled site-years; is_below: one tested rate or none lies under the join.
RESPONSE_DRAWS = ("crop", "family", "draw", "b", "join", "is_below")
EONR_GRID = (
    "crop", "family", "level", "site_year_id", "trial_id", "variant", "model",
    "price_ratio", "is_planning_ratio", "flag", "eonr", "eonr_low", "eonr_high", "conf_level", "interval_method",
)  # fmt: skip
SITE_YEAR_OPTIMA = (
    "crop", "family", "model", "price_ratio", "n_ladders", "n_found", "n_no_response", "n_negative_response",
    "n_beyond_highest_rate", "n_below_two_rates", "n_not_fitted",
    "mean_aonr", "aonr_low", "aonr_high", "n_aonr", "mean_eonr", "eonr_low", "eonr_high", "n_eonr", "conf_level",
)  # fmt: skip
NITROGEN_SAVED = (
    "comparison_id", "crop", "family", "comparator_family", "at", "comparator_rate", "same_yield_rate",
    "nitrogen_saved", "conf_low", "conf_high", "conf_level", "status", "n_site_years", "warnings",
)  # fmt: skip
EFFICIENCIES = (
    "crop", "family", "n_rate_kg_ha", "efficiency", "estimate", "std_error", "df", "conf_low", "conf_high",
    "conf_level", "n_site_years", "status",
)  # fmt: skip
# worth_1_per_ac_kg_ha: yield worth one unit of money per acre. priced_as: the source that its N is priced as. harvest_cost: per unit of yield.
SOURCE_PRICES = (
    "crop", "family", "n_source", "coated_n_fraction", "currency", "prices_fixed_on", "n_price_per_lb",
    "priced_as", "harvest_cost", "price_ratio", "worth_1_per_ac_kg_ha", "lacking",
)  # fmt: skip
# Losses of net return against the rate that pays best (eonr), kg/ha of yield. n_site_years: those that tested the rate;
# n_curve_site_years: those behind the curve. A lower end of zero: not shown to pay less than the best.
RATE_LOSSES = (
    "crop", "family", "n_rate_kg_ha", "price_ratio", "eonr", "loss_kg_ha", "conf_low", "conf_high", "conf_level",
    "interval_method", "n_site_years", "n_curve_site_years", "warnings",
)  # fmt: skip
