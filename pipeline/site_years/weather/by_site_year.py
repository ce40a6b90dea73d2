"""From trials to site-years, and from sites to reference years: the rows that estimates and pages read."""

from __future__ import annotations

import pandas as pd

from pipeline.contract.results import frame_of, narrowed


def by_site_year(cases: pd.DataFrame) -> pd.DataFrame:
    """One row per comparison, site-year and covariate, columns of weather_covariates: the mean over its trials of known value.

    cases: of trials, as covariates.worked_out gives them.
    """
    rows = []
    for key, group in cases.groupby(["comparison_id", "site_year_id", "covariate"], sort=True):
        first, known = group.iloc[0], group["value"].notna()
        reasons = list(dict.fromkeys(group["reason"].dropna()))
        if known.any() and not known.all():
            reasons.append(f"the mean of {known.sum()} of {len(group)} trials")
        groups = group["drainage_group"].dropna().unique()
        rows.append(
            dict(zip(("comparison_id", "site_year_id", "covariate"), key, strict=True))
            | {
                "place": first["place"],
                "season": first["season"],
                "drainage_group": groups[0] if len(groups) == 1 else None,
                "kind": first["kind"],
                "value": group["value"].mean(),
                "unit": first["unit"],
                "window_from": _day(group["first_day"].min()),
                "window_to": _day(group["last_day"].max()),
                "n_days": group["n_days"].max(),
                "n_days_missing": group["n_days_missing"].max(),
                "is_modeled": bool(group["is_modeled"].any()),
                "inputs": "; ".join(dict.fromkeys(group["inputs"].dropna())) or None,
                "reason": "; ".join(reasons) or None,
                "n_trials": len(group),
            }
        )
    return frame_of(rows, "weather_covariates")


def by_reference_year(cases: pd.DataFrame) -> pd.DataFrame:
    """One row per comparison, site, covariate and year that is known, columns of reference_covariates.

    cases: of reference years, as covariates.worked_out gives them.
    """
    known = cases[cases["value"].notna()].rename(columns={"season": "year"})
    known = known.sort_values(["comparison_id", "site_id", "covariate", "year"], ignore_index=True)
    return narrowed(known, "reference_covariates")


def _day(moment: pd.Timestamp):
    return None if pd.isna(moment) else moment.date()
