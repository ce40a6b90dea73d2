"""Could these trials have shown a loss? The comparator against zero-N in the same site-years.

Where nitrogen made no difference, any two ways of giving it look alike, so "as good"
proves little (assay sensitivity; the word and the reasoning are those of ICH guideline
E10, 2000, on choice of control group; from memory).
"""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np
import pandas as pd

from pipeline.contract.results import declared_results, frame_of, narrowed
from pipeline.contract.vocabulary import DOES_NOT_APPLY, NOT_SHOWN, SHOWN, TESTED
from pipeline.estimates.average import three_methods
from pipeline.estimates.engines import interval_rules as rules
from pipeline.estimates.trials import block_gains as blocks
from pipeline.estimates.trials import site_year_gains as site_years_of

# Crops that fix most of their own nitrogen, so that zero-N is no proof of a trial's power to show a loss.
FIXES_ITS_NITROGEN = ("soybean",)
ONE_SIDED_ALPHA = 0.025
# This room's part of the table of tests, as it is before anything is known.
NOT_ASKED = {name: None for name in declared_results()["noninferiority"].names() if name.startswith("assay_")}
OF_THE_TEST = tuple(set(declared_results()["noninferiority"].names()) - {"comparison_id", *NOT_ASKED})


def assay_gains(
    arms: pd.DataFrame,
    treatments: pd.DataFrame,
    plots: pd.DataFrame,
    trials: pd.DataFrame,
    moderated_analyses: pd.DataFrame,
) -> pd.DataFrame:
    """Site-year gains (as site_year_gains) of each comparison's comparator over zero-N, kg/ha."""
    gains = blocks.block_gains(plots, blocks.with_zero_n(assay_arms(arms, treatments), treatments), trials)
    return site_years_of.site_year_gains(site_years_of.with_variances(gains, moderated_analyses), trials)


def assay_arms(arms: pd.DataFrame, treatments: pd.DataFrame) -> pd.DataFrame:
    """Arms that set each comparator, rate by rate, against the zero-N of its trial.

    Trials without zero-N, or whose comparator is zero-N itself, give none.
    """
    zero = treatments.loc[treatments["is_zero_n"].eq(True), ["trial_id", "treatment_code"]]
    comparators = arms[arms["arm"] == "comparator"].merge(
        zero, on=["trial_id", "treatment_code"], how="left", indicator=True
    )
    comparators = comparators[comparators["_merge"] == "left_only"].drop(columns="_merge")
    rates = comparators[["comparison_id", "trial_id", "rate_kg_ha", "rate_weight"]].drop_duplicates()
    against = rates.merge(zero, on="trial_id").assign(arm="comparator")
    fertilized = comparators[comparators["trial_id"].isin(against["trial_id"])].assign(arm="treatment")
    return narrowed(pd.concat([fertilized, against], ignore_index=True), "arms")


def assay_sensitivity(
    assay_site_years: pd.DataFrame,
    site_year_gains: pd.DataFrame,
    comparisons: Iterable,
    limits: dict[str, float],
    ratio_scale: Iterable[str] = (),
) -> pd.DataFrame:
    """Whether the comparator stands clearly above zero-N: one row per comparison with a margin.

    assay_site_years: from assay_gains; only site-years that are also in site_year_gains
    (those behind the comparison) count. comparisons have id and crop. limits: the margin
    on the scale of its test, by comparison. Shown when the one-sided 2.5% lower limit of
    the plain mean lies above that margin: a loss of the margin's size could then have been
    seen. For comparisons in ratio_scale the means' log ratio is tested and
    carried back to a ratio, else kg/ha.
    """
    key = ["comparison_id", "site_year_id"]
    found = assay_site_years.merge(site_year_gains[key].drop_duplicates(), on=key)
    rows = []
    for comparison in comparisons:
        if comparison.id not in limits:
            continue
        of_comparison = found[found["comparison_id"] == comparison.id]
        if comparison.id in ratio_scale:
            of_comparison = log_ratios(of_comparison)
        row = _sensitivity(comparison.crop, of_comparison, limits[comparison.id])
        if comparison.id in ratio_scale:
            logs = row.keys() & {"assay_estimate", "assay_low"}
            row |= {name: float(np.exp(row[name])) for name in logs}
        rows.append(NOT_ASKED | {"comparison_id": comparison.id, "assay_n_site_years": len(of_comparison)} | row)
    return frame_of(rows, "noninferiority", without=OF_THE_TEST)


def log_ratios(site_year_gains: pd.DataFrame) -> pd.DataFrame:
    """The same site-years with gain = log(treatment mean / comparator mean); NaN where a mean is not above zero."""
    comparator = site_year_gains["comparator_mean"]
    treatment = comparator + site_year_gains["gain"]
    positive = (comparator > 0) & (treatment > 0)
    ratio = (treatment / comparator).where(positive)
    lasting = site_year_gains.get("lasting_std_error", pd.Series(np.nan, site_year_gains.index))
    return site_year_gains.assign(gain=np.log(ratio), lasting_std_error=lasting / comparator)


def _sensitivity(crop: str, site_years: pd.DataFrame, limit: float) -> dict:
    if crop in FIXES_ITS_NITROGEN:
        reason = f"{crop} fixes most of its own nitrogen"
        return {"assay_sensitivity": DOES_NOT_APPLY, "assay_reason": reason}
    if reason := _why_not(site_years["gain"].to_numpy(float)):
        return {"assay_sensitivity": NOT_SHOWN, "assay_reason": f"{reason}: as good proves little"}
    mean = three_methods.plain_mean(site_years, TESTED, 1 - 2 * ONE_SIDED_ALPHA).columns
    is_shown = mean["conf_low"] > limit
    return {
        "assay_sensitivity": SHOWN if is_shown else NOT_SHOWN,
        "assay_reason": (
            "the comparator clearly out-yields zero-N in these site-years"
            if is_shown
            else "the comparator does not clearly out-yield zero-N, by more than the margin: as good proves little"
        ),
        "assay_estimate": mean["estimate"],
        "assay_std_error": mean["std_error"],
        "assay_df": mean["df"],
        "assay_low": mean["conf_low"],
    }


def _why_not(gains: np.ndarray) -> str:
    """Why these gains have no mean; '' where they have one."""
    if len(gains) == 0:
        return "no zero-N plots beside a fertilized comparator"
    if len(gains) < rules.FEWEST_FOR_A_MEAN:
        return "fewer than 3 site-years have zero-N plots beside a fertilized comparator"
    return "a site-year mean is not above zero, so there is no ratio to average" if np.isnan(gains).any() else ""
