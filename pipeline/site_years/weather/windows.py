"""Which days count for a covariate in which trial: from the comparator's first N on, over so many days or to a
month-day.
"""

from __future__ import annotations

import numpy as np
import pandas as pd

from pipeline.contract.vocabulary import COVARIATES, DECLARED, EXCESS_WATER, EXPLORATORY, NITROGEN_RELEASED

USUAL_DAYS = dict.fromkeys(COVARIATES, 30) | {EXCESS_WATER: 60, NITROGEN_RELEASED: 60}  # where none are declared
NO_DATE = "the day of the first N is not delivered"
ENDS_BEFORE = "the window ends before the first N"


def asked_covariates(comparisons, first_harvests: pd.DataFrame) -> pd.DataFrame:
    """Every covariate of every comparison: comparison_id, crop, covariate, days, until, kind.

    Declared where program.yml names it before the first harvest it uses; all else is exploratory, over the usual days
    where none are named. first_harvests: comparison_id, first_harvest.
    """
    first = dict(zip(first_harvests["comparison_id"], first_harvests["first_harvest"], strict=True))
    rows = []
    for comparison in comparisons:
        named = {each.covariate: each for each in comparison.explained_by}
        for covariate in COVARIATES:
            each = named.get(covariate)
            harvest = first.get(comparison.id)
            in_time = each is not None and (harvest is None or pd.Timestamp(each.declared) <= pd.Timestamp(harvest))
            rows.append(
                {
                    "comparison_id": comparison.id,
                    "crop": comparison.crop,
                    "covariate": covariate,
                    "days": each.days if each else USUAL_DAYS[covariate],
                    "until": each.until if each else None,
                    "kind": DECLARED if in_time else EXPLORATORY,
                }
            )
    return pd.DataFrame(rows, columns=["comparison_id", "crop", "covariate", "days", "until", "kind"])


def first_nitrogen(arms: pd.DataFrame, nitrogen_given: pd.DataFrame) -> pd.DataFrame:
    """The day on which the comparator first got N; the treatment's, where the comparator gets none.

    arms: comparison_id, trial_id, treatment_code, arm. nitrogen_given: trial_id, treatment_code, applied_on.
    Returns comparison_id, trial_id, first_n (missing where the day of an application is not known).
    """
    keys = ["comparison_id", "trial_id"]
    given = arms.merge(nitrogen_given, on=["trial_id", "treatment_code"])
    days = given.groupby([*keys, "arm"])["applied_on"].agg(["min", "count", "size"]).reset_index()
    days["first_n"] = pd.to_datetime(days["min"]).where(days["count"] == days["size"])
    leading = days.sort_values("arm").drop_duplicates(keys)  # the comparator's before the treatment's
    return arms[keys].drop_duplicates(ignore_index=True).merge(leading[[*keys, "first_n"]], on=keys, how="left")


def last_days(first_days: np.ndarray, seasons: pd.Series, days: pd.Series, until: pd.Series) -> np.ndarray:
    """The last day that counts, by case: `days` long with the first day in it, or the month-day `until` of the harvest
    year.
    """
    by_length = first_days.astype("datetime64[D]") + (days.fillna(1).to_numpy(int) - 1).astype("timedelta64[D]")
    named = [
        np.datetime64(f"{season:04d}-{day}" if isinstance(day, str) else "NaT")
        for season, day in zip(seasons, until, strict=True)
    ]
    return np.where(until.notna(), np.array(named, dtype="datetime64[D]"), by_length)
