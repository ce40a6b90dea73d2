"""From trials to site-years, and from sites to reference years: the rows that estimates and pages read."""

from __future__ import annotations

import pandas as pd

from pipeline.contract.results import narrowed


def by_site_year(cases: pd.DataFrame) -> pd.DataFrame:
    """One row per comparison, site-year and covariate, columns of weather_covariates: the mean over its trials of known
    value.

    cases: of trials, as covariates.worked_out gives them.
    """
    groups = cases["drainage_group"].astype(object).fillna("")  # a trial of no known group is not of another's
    keyed = cases.assign(of_group=groups).groupby(["comparison_id", "site_year_id", "covariate"], sort=True)
    row = keyed.ngroup()
    found = keyed.agg(
        **{name: (name, "first") for name in ("place", "season", "kind", "unit", "drainage_group")},
        n_groups=("of_group", "nunique"),
        value=("value", "mean"),
        n_known=("value", "count"),
        window_from=("first_day", "min"),
        window_to=("last_day", "max"),
        **{name: (name, "max") for name in ("n_days", "n_days_missing", "is_modeled")},
        n_trials=("trial_id", "size"),
    ).reset_index()
    for name in ("inputs", "reason"):
        found[name] = _each_once(row, cases[name], len(found))
    in_part = found["n_known"].between(1, found["n_trials"] - 1)
    reserve = "the mean of " + found["n_known"].astype(str) + " of " + found["n_trials"].astype(str) + " trials"
    found["reason"] = found["reason"].mask(in_part, (found["reason"] + "; " + reserve).fillna(reserve))
    found["drainage_group"] = found["drainage_group"].where(found["n_groups"] == 1)
    for name in ("window_from", "window_to"):
        found[name] = pd.to_datetime(found[name]).dt.date.astype(object)
    return narrowed(found, "weather_covariates")


def by_reference_year(cases: pd.DataFrame) -> pd.DataFrame:
    """One row per comparison, site, covariate and year that is known, columns of reference_covariates.

    cases: of reference years, as covariates.worked_out gives them.
    """
    known = cases[cases["value"].notna()].rename(columns={"season": "year"})
    known = known.sort_values(["comparison_id", "site_id", "covariate", "year"], ignore_index=True)
    return narrowed(known, "reference_covariates")


def _each_once(rows: pd.Series, texts: pd.Series, n_rows: int) -> pd.Series:
    """Of each of so many rows its distinct texts, in the order they come, as one; None without any."""
    told: list[dict[str, None]] = [{} for _ in range(n_rows)]
    known = texts.notna()
    for row, text in zip(rows[known], texts[known], strict=True):
        told[row][text] = None
    return pd.Series(["; ".join(each) or None for each in told], dtype=object)
