"""Agronomic efficiency and partial factor productivity, by source and rate over site-years.

(Y - Y0) / F and Y / F, kg of yield per kg of N (Dobermann 2007, in Fertilizer Best Management Practices,
IFA, from memory). Y0 is the zero-N of the same trial; both are undefined at no N.
"""

from __future__ import annotations

import pandas as pd

from pipeline.contract.results import frame_of
from pipeline.contract.vocabulary import DOES_NOT_APPLY
from pipeline.estimates.n_response.clusters import FEWEST_FOR_MEAN, few, mean_interval
from pipeline.estimates.n_response.ladders import rate_levels
from pipeline.estimates.n_response.optimum import NO_ZERO_N
from pipeline.site_years.eligibility import SAME_RATE_KG_HA

AGRONOMIC = "agronomic efficiency"
PARTIAL = "partial factor productivity"
ESTIMATED = "estimated"
# what a row leaves empty that has no mean, or no interval
NOTHING = dict.fromkeys(("estimate", "std_error", "df", "conf_low", "conf_high", "n_site_years"))


def efficiencies(means: pd.DataFrame, *, without: frozenset[str], conf_level: float) -> pd.DataFrame:
    """One row per crop, family, rate and efficiency, with the t interval of the mean over site-years.

    means: as rate_means gives them, with their `cluster`.

    `without` are crops whose yield does not measure the use of fertilizer N (those that fix their own):
    'does not apply'.
    """
    zero = means[means["n_rate_kg_ha"] == 0].set_index(["family", "trial_id", "variant"])["mean"]
    fertilized = means[means["n_rate_kg_ha"] > 0]
    rows = []
    for (crop, family), of_family in fertilized.groupby(["crop", "family"], sort=True):
        rates = of_family["n_rate_kg_ha"].to_numpy(float)
        key = pd.MultiIndex.from_frame(of_family[["family", "trial_id", "variant"]])
        values = of_family["mean"].to_numpy(float)
        per_kg = of_family.assign(
            **{AGRONOMIC: (values - zero.reindex(key).to_numpy()) / rates, PARTIAL: values / rates},
            level=rate_levels(rates, SAME_RATE_KG_HA),
        )
        for rate, at_rate in per_kg.groupby("level"):
            base = {"crop": crop, "family": family, "n_rate_kg_ha": rate, "conf_level": conf_level}
            for name in (AGRONOMIC, PARTIAL):
                found = {"status": DOES_NOT_APPLY} if crop in without else _mean(at_rate, name, conf_level)
                rows.append(NOTHING | base | {"efficiency": name} | found)
    return frame_of(rows, "efficiencies")


def _mean(at_rate: pd.DataFrame, name: str, conf_level: float) -> dict:
    found = mean_interval(at_rate, name, conf_level)
    if not found:
        return {"status": NO_ZERO_N, "n_site_years": 0}
    n_clusters = at_rate.loc[at_rate[name].notna(), "cluster"].nunique()
    return found | {"status": few(found["n_site_years"], n_clusters, FEWEST_FOR_MEAN) or ESTIMATED}
