"""The N rates of trials known only by print: their treatment means, as the rate means of ladders.

A printed mean counts in the common curve as the mean of an unreplicated trial does: a site-year weighs the same
whatever stands behind it. There are no plots to judge a curve of its own by.
"""

from __future__ import annotations

import numpy as np
import pandas as pd

from pipeline.estimates.n_response import optimum as opt
from pipeline.estimates.n_response.ladders import LADDER, LADDERS, steps
from pipeline.estimates.n_response.trial_curves import FittedLadder
from pipeline.estimates.trials.printed_trials import mean_error


def printed_steps(printed_means: pd.DataFrame, treatments: pd.DataFrame, trials: pd.DataFrame) -> pd.DataFrame:
    """One row per printed mean and ladder, in the columns of LADDERS with treatment_code and std_error; no block, no
    plot.

    value is missing where only a difference from another treatment was printed.

    printed_means: as estimate_program takes them, of trials without plots. std_error: what the print says of the error
    of its means; missing where it says nothing that gives one (a p value belongs to a pair of treatments).
    """
    columns = [*LADDERS, "treatment_code", "std_error"]
    if printed_means.empty or treatments.empty:
        return pd.DataFrame(columns=columns, dtype=object)
    printed_means = printed_means.reindex(columns=printed_means.columns.union(["compared_with"]))
    tables = {trial_id: table.set_index("treatment_code") for trial_id, table in printed_means.groupby("trial_id")}
    codes = printed_means[["trial_id", "treatment_code"]].itertuples(index=False)
    errors = [np.sqrt(mean_error(tables[trial_id], [code], 0.0, 1).variance_of_mean) for trial_id, code in codes]
    known = printed_means[["trial_id", "treatment_code"]].assign(
        value=printed_means["mean_kg_ha"].astype(float), std_error=errors
    )
    in_trial = trials[["trial_id", "site_year_id", "crop", "design"]]
    rows = steps(treatments).merge(known, on=["trial_id", "treatment_code"])
    return rows.merge(in_trial, on="trial_id").assign(block=None, main_plot=None, plot=None)[columns]


def printed_rate_means(of_print: pd.DataFrame) -> list[dict]:
    """Rows of rate_means: one row per rate of each printed ladder, n_plots 0; of_print: from printed_steps."""
    rows = []
    for key, at_rate in of_print.dropna(subset="value").groupby([*LADDER, "n_rate_kg_ha"], sort=True):
        found = dict(zip([*LADDER, "n_rate_kg_ha"], key, strict=True)) | {"mean": at_rate["value"].mean(), "n_plots": 0}
        error = np.sqrt((at_rate["std_error"] ** 2).sum(skipna=False)) / len(at_rate)
        rows.append(found | {"std_error": float(error)})
    return rows


def printed_ladders(of_print: pd.DataFrame) -> list[FittedLadder]:
    """Each printed ladder without a curve of its own, and why; of_print: from printed_steps."""
    return [
        FittedLadder(
            dict(zip(LADDER, key, strict=True)), _flag(ladder), ladder["n_rate_kg_ha"].astype(float), "", n_plots=0
        )
        for key, ladder in of_print.groupby(LADDER, sort=True)
    ]


def _flag(ladder: pd.DataFrame) -> str:
    if ladder["design"].iloc[0] == "not randomized":
        return opt.NOT_RANDOMIZED
    if ladder["value"].isna().all():
        return opt.NO_MEANS
    ladder = ladder.dropna(subset="value")
    return opt.PRINTED if ladder["n_rate_kg_ha"].eq(0).any() else opt.NO_ZERO_N
