"""Which site-years count as one when an interval is found: those whose trials stand on the same plots.

Such site-years share the part of their plot errors that lasts, and N carried over. Intervals of the N response
therefore let their values go together in any way: they are drawn together, or are one cluster of a clustered mean
(CR2).
"""

from __future__ import annotations

import numpy as np
import pandas as pd
from scipy import stats

from pipeline.estimates.engines.cluster_robust import clustered_mean
from pipeline.estimates.trials.shared_plots import joined_sets

FEWEST_FOR_MEAN = 3


def with_clusters(rows: pd.DataFrame, trials: pd.DataFrame) -> pd.DataFrame:
    """rows (crop, site_year_id, trial_id) with `cluster`: one label for site-years of a crop that share plots.

    trials: plot_set of each trial_id; without it, every site-year is a cluster of its own.
    """
    if "plot_set" not in trials:
        return rows.assign(cluster=rows["site_year_id"])
    sets = rows["trial_id"].map(trials.set_index("trial_id")["plot_set"]).fillna(rows["trial_id"])
    known = rows.assign(plot_set=sets)
    of_crops = [joined_sets(of_crop) for _, of_crop in known.groupby("crop")]
    return rows.assign(cluster=pd.concat(of_crops) if of_crops else rows["site_year_id"])


def mean_interval(rows: pd.DataFrame, name: str, conf_level: float) -> dict:
    """Mean of `name` over site-years (several values of one are averaged first), with the t interval of its clusters.

    Keys estimate, n_site_years, and with 3 clusters or more std_error, df, conf_low, conf_high; empty without a value.
    """
    known = rows[rows[name].notna()]
    of_site_year = known.assign(value=known[name]).groupby("site_year_id")
    values, clusters = of_site_year["value"].mean().to_numpy(), of_site_year["cluster"].first().to_numpy()
    n_clusters = len(np.unique(clusters))
    if n_clusters == 0:
        return {}
    row = {"estimate": values.mean(), "n_site_years": len(values)}
    if n_clusters < FEWEST_FOR_MEAN:
        return row
    mean = clustered_mean(values, np.ones(len(values)), clusters)
    half = stats.t.ppf((1 + conf_level) / 2, mean.df) * mean.std_error
    bounds = {"conf_low": row["estimate"] - half, "conf_high": row["estimate"] + half}
    return row | {"std_error": mean.std_error, "df": mean.df} | bounds


def few(n_site_years: int, n_clusters: int, fewest: int) -> str:
    """Why there is no interval; empty where there are clusters enough."""
    if n_clusters >= fewest:
        return ""
    own = " on plots of their own" if n_clusters < n_site_years else ""
    return f"fewer than {fewest} site-years{own}: no interval"
