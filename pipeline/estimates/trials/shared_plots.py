"""Trials on the very plots of an earlier one: part of a plot's error lasts from year to year, so their gains err
together.

`plot_set` names the first trial on those plots. How much of a block's error lasts is seen where the same block comes
back: the mean product of its errors in two years over their mean square, pooled over the crop as plot errors are.
"""

from __future__ import annotations

import numpy as np
import pandas as pd
from scipy.sparse import coo_matrix
from scipy.sparse.csgraph import connected_components

from pipeline.estimates.engines.two_stage import SharedError

ON_THE_SAME_PLOTS = "trials on the same plots in several years: the error that lasts is counted once"
NONE = pd.DataFrame(columns=["plot_set", "lasting_std_error", "lasting_df"])


def linked_sets(rows: pd.DataFrame) -> pd.Series:
    """plot_set of each row (comparison_id, trial_id, plot_set), None where no other trial of its comparison has those
    plots.
    """
    if "plot_set" not in rows:
        return pd.Series(None, index=rows.index, dtype=object)
    n_trials = rows.groupby(["comparison_id", "plot_set"])["trial_id"].transform("nunique")
    return rows["plot_set"].astype(object).where(n_trials > 1, None)


def lasting_shares(block_gains: pd.DataFrame, trials: pd.DataFrame) -> pd.DataFrame:
    """By crop: share of a block gain's error variance that lasts (0 to 1) and the df it rests on; 1 and NaN where
    unseen.

    block_gains with variances, trials with crop and plot_set. df: blocks less 1, summed over the sets of plots.
    """
    rows = block_gains[["comparison_id", "trial_id", "block", "gain", "variance"]]
    rows = rows.merge(trials.reindex(columns=["trial_id", "crop", "plot_set"]), on="trial_id")
    rows = rows[linked_sets(rows).notna()]
    known = rows[(rows["variance"] > 0)].copy()
    of_trial = known.groupby(["comparison_id", "trial_id"])
    known["n_blocks"] = of_trial["gain"].transform("size")
    known["error"] = (known["gain"] - of_trial["gain"].transform("mean")) / np.sqrt(known["variance"])
    known["spare"] = 1 - 1 / known["n_blocks"]  # what centering leaves of a square
    found = {crop: _share(of_crop) for crop, of_crop in known.groupby("crop")}
    lacking = set(rows["crop"]) - set(found)
    found |= {crop: (1.0, np.nan) for crop in lacking}
    return pd.DataFrame.from_dict(found, orient="index", columns=["share", "df"])


def _share(rows: pd.DataFrame) -> tuple[float, float]:
    block = ["comparison_id", "plot_set", "block"]
    sums = rows.groupby(block)["error"].agg(["sum", "size"])
    squares = rows.assign(square=rows["error"] ** 2).groupby(block)[["square", "spare"]].sum()
    comes_back = sums["size"] > 1
    pairs = sums["size"] - 1
    product = (sums["sum"] ** 2 - squares["square"])[comes_back].sum()  # of every two years, both ways round
    spare = (squares["spare"] * pairs)[comes_back].sum()
    if spare <= 0 or squares["square"].sum() <= 0:
        return 1.0, np.nan
    size = squares["square"].sum() / squares["spare"].sum()
    blocks = rows[rows.set_index(block).index.isin(sums.index[comes_back])].groupby("plot_set")["block"].nunique()
    return float(np.clip(product / spare / size, 0, 1)), float((blocks - 1).sum())


def lasting_errors(of_trials: pd.DataFrame, shares: pd.DataFrame) -> pd.DataFrame:
    """plot_set, lasting_std_error and lasting_df by (comparison_id, site_year_id), for site-years on shared plots only.

    of_trials: one row per comparison and trial, with site_year_id, crop, plot_set, variance and df of its gain. Trials
    of one site-year count alike there; sets that meet in a site-year are one.
    """
    n_here = of_trials.groupby(["comparison_id", "site_year_id"])["trial_id"].transform("size")
    rows = of_trials.assign(plot_set=linked_sets(of_trials), n_here=n_here).query("plot_set.notna() and variance > 0")
    if rows.empty:
        return NONE
    rows = rows.assign(plot_set=pd.concat([joined_sets(group) for _, group in rows.groupby("comparison_id")]))
    share = rows["crop"].map(shares["share"])
    # no more of an error can last than all of it: at the whole, what is uncertain is its size alone
    df = rows["crop"].map(shares["df"]).where(share < 1).fillna(rows["df"])
    lasting = share * rows["variance"] / rows["n_here"] ** 2
    rows = rows.assign(lasting=lasting, lasting_df=df)
    found = rows.groupby(["comparison_id", "site_year_id"]).agg(
        plot_set=("plot_set", "first"), lasting=("lasting", "sum"), lasting_df=("lasting_df", "min")
    )
    return found.assign(lasting_std_error=np.sqrt(found.pop("lasting")))


def joined_sets(rows: pd.DataFrame) -> pd.Series:
    """One name for all sets that are joined by site-years they share: the first of them."""
    sets, names = pd.factorize(rows["plot_set"], sort=True)
    here, _ = pd.factorize(rows["site_year_id"])
    n = len(names) + here.max() + 1
    joins = coo_matrix((np.ones(len(rows)), (sets, len(names) + here)), shape=(n, n))
    group = connected_components(joins, directed=False)[1][: len(names)]
    first = pd.Series(names).groupby(group).transform("first")
    return pd.Series(first.to_numpy()[sets], index=rows.index)


def shared_error(site_years: pd.DataFrame, scale: np.ndarray | float = 1.0) -> SharedError | None:
    """Covariances between the errors of these site-years' gains; None where no two stand on the same plots.

    scale: what a standard error of the frame is multiplied by, where gains are looked at on another scale.
    """
    if "plot_set" not in site_years or not site_years["plot_set"].dropna().duplicated().any():
        return None
    sets = site_years["plot_set"].to_numpy()
    error = np.nan_to_num(site_years["lasting_std_error"].to_numpy(float) * scale)
    is_same = np.equal.outer(sets, sets) & site_years["plot_set"].notna().to_numpy()
    covariance = np.outer(error, error) * is_same
    np.fill_diagonal(covariance, 0.0)
    if not covariance.any():
        return None
    return SharedError(covariance, float(site_years["lasting_df"].min()))
