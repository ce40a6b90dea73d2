"""Which days of a site-year can be drawn, what they were worked out from, and why there are none, in sentences.

Rows are rows of reports.season_days and reports.weather_covariates of one site-year. Sentences are plain text; the page
escapes them.
"""

from __future__ import annotations

import pandas as pd

from pipeline.contract.vocabulary import COVARIATES, DECLARED, EXCESS_WATER, NITROGEN_RELEASED
from pipeline.display.words.numbers import text

NOT_DRAWN = "We cannot draw your season day by day: {}."
NO_DAYS = "its daily rain is not known"
MODELED = {
    EXCESS_WATER: (
        "What the soil could not hold is worked out by a daily water balance, not measured. It is not nitrogen lost."
    ),
    NITROGEN_RELEASED: "How much was released is worked out from the product's own test, not measured in the field.",
}
INPUTS = "Inputs: {}."


def most_known(days: pd.DataFrame) -> pd.DataFrame:
    """The days of the comparison of which most is known: its coated N where that of any is; none where no rain is
    known.
    """
    with_rain = days[days.groupby("comparison_id")["rain_mm"].transform("count") > 0]
    if with_rain.empty:
        return with_rain
    known = with_rain.groupby(["position", "comparison_id"])["released_pct"].count().gt(0).reset_index()
    first = known.sort_values(["released_pct", "position"], ascending=[False, True])["comparison_id"].iloc[0]
    return with_rain[with_rain["comparison_id"] == first]


def why_not(covariates: pd.DataFrame) -> str:
    """Why no day is known, in a sentence, what is said of rain first; empty where no covariate is declared for this
    site-year.
    """
    declared = covariates[covariates["kind"] == DECLARED]
    if declared.empty:
        return ""
    lacking = declared[declared["value"].isna()].sort_values("covariate", key=lambda names: names.map(COVARIATES.index))
    reasons = [reason for reason in map(text, lacking["reason"]) if reason]
    return NOT_DRAWN.format(reasons[0].rstrip(".") if reasons else NO_DAYS)


def worked_out_from(covariates: pd.DataFrame, days: pd.DataFrame) -> list[str]:
    """What each modeled line or band of the picture is, and what it was worked out from where that is known.

    Args:
        covariates: the rows of the comparison that is drawn.
        days: what is drawn of it.
    """
    drawn = {EXCESS_WATER: days["excess_mm"].gt(0).any(), NITROGEN_RELEASED: days["released_pct"].notna().any()}
    inputs = dict(zip(covariates["covariate"], map(text, covariates["inputs"]), strict=True))
    told = []
    for name in (name for name, is_drawn in drawn.items() if is_drawn):
        told += [MODELED[name], *([INPUTS.format(inputs[name])] if inputs.get(name) else [])]
    return told
