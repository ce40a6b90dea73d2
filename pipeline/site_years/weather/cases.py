"""What a covariate is worked out from, case by case: a trial in its season, or a site in a year of the reference
period.
"""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass

import numpy as np
import pandas as pd

from pipeline.site_years.weather.windows import first_nitrogen, last_days

DAYS = ("first_day", "last_day", "planted")
OF_A_SITE = ("trial_id", "place", "crop", "drainage_group", "latitude", "texture", "irrigated")


@dataclass(frozen=True)
class Facts:
    """The trials layer and the rules, as the covariates need them.

    trials: those that count, one row each: trial_id, site_id, site_year_id, place, season, crop, drainage_group,
    latitude, texture, irrigated, planted. eligibility and arms as eligible_trials gives them. nitrogen_given: trial_id,
    treatment_code, applied_on, product, n_rate_kg_ha. irrigations: trial_id, date, irrigation_mm.
    """

    trials: pd.DataFrame
    arms: pd.DataFrame
    eligibility: pd.DataFrame
    nitrogen_given: pd.DataFrame
    irrigations: pd.DataFrame


def trial_cases(asked: pd.DataFrame, facts: Facts) -> pd.DataFrame:
    """One row per comparison, trial in use and covariate asked: the facts of the trial, first and last day of the
    window.

    asked: as windows.asked_covariates gives it.
    """
    used = facts.eligibility.loc[facts.eligibility["is_used"], ["comparison_id", "trial_id"]]
    arms = facts.arms.merge(used, on=["comparison_id", "trial_id"])
    cases = first_nitrogen(arms, facts.nitrogen_given).merge(facts.trials, on="trial_id")
    cases = cases.merge(asked.drop(columns="crop"), on="comparison_id")
    first = cases["first_n"].to_numpy("datetime64[D]")
    last = last_days(first, cases["season"], cases["days"], cases["until"])
    cases = cases.assign(first_day=first, last_day=last)
    return cases.sort_values(["comparison_id", "trial_id", "covariate"], kind="stable", ignore_index=True)


def reference_cases(cases: pd.DataFrame, first_year: int, last_year: int) -> pd.DataFrame:
    """The cases of each site had its N gone out in each year of the reference period, on the site's usual days.

    cases: as trial_cases gives them. The usual day is the mean over the site's trials, counted from 1 January of the
    harvest year; so is the day of planting. season is the year of the reference period.
    """
    known = cases[cases["first_day"].notna() & cases["last_day"].notna()]
    if known.empty:
        return known
    usual = known.assign(**{name: _day_of_the_year(known[name], known["season"]) for name in DAYS})
    keys = ["comparison_id", "site_id", "covariate"]
    usual = usual.groupby(keys, as_index=False).agg(dict.fromkeys(OF_A_SITE, "first") | dict.fromkeys(DAYS, "mean"))
    each = usual.merge(pd.DataFrame({"season": range(first_year, last_year + 1)}), how="cross")
    return each.assign(**{name: _date_of(each[name], each["season"]) for name in DAYS}, is_reference=True)


def _day_of_the_year(days: pd.Series, seasons: pd.Series) -> pd.Series:
    """Days since 1 January of the harvest year, below 0 in the year before it; 29 February counts as the 28th."""
    new_year = pd.to_datetime(seasons.astype(str) + "-01-01")
    since = (pd.to_datetime(days) - new_year).dt.days
    return since - (new_year.dt.is_leap_year & since.gt(58)).astype(int)


def _date_of(since: pd.Series, years: pd.Series) -> pd.Series:
    """The date of such a day in these years."""
    new_year, since = pd.to_datetime(years.astype(str) + "-01-01"), since.round()
    return new_year + pd.to_timedelta(since + (new_year.dt.is_leap_year & since.gt(58)), unit="D")


def coated_given(facts: Facts, products: Collection[str]) -> pd.DataFrame:
    """The N of these products in each treatment arm, by day.

    Returns comparison_id, trial_id, product, offset_days (after the first N that counts; missing where a day is not
    known), n_rate_kg_ha.
    """
    arms = facts.arms[facts.arms["arm"] == "treatment"]
    given = arms.merge(facts.nitrogen_given, on=["trial_id", "treatment_code"])
    given = given[given["product"].isin(products)].merge(
        first_nitrogen(facts.arms, facts.nitrogen_given), on=["comparison_id", "trial_id"]
    )
    given = given.assign(offset_days=(pd.to_datetime(given["applied_on"]) - given["first_n"]).dt.days.astype(float))
    keys = ["comparison_id", "trial_id", "product", "offset_days"]
    return given.groupby(keys, as_index=False, dropna=False)["n_rate_kg_ha"].sum()


def days_between(first: np.ndarray, last: np.ndarray) -> np.ndarray:
    """Days from the first to the last, both counted; 0 where one is not known or the last comes first."""
    span = (last.astype("datetime64[D]") - first.astype("datetime64[D]")).astype(float) + 1
    return np.where(np.isnat(first) | np.isnat(last), 0, np.maximum(np.nan_to_num(span), 0)).astype(int)
