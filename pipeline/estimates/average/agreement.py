"""Do the roads to the headline agree? The written rule, and the sentence a reader sees where it is broken.

The mixed model comes from lme4 or, where R is missing, from own_fits; the two-stage average rests on statsmodels and
own code; the third road maximizes the mixed model's restricted likelihood by code that shares nothing with either.
"""

from __future__ import annotations

import pandas as pd

from pipeline.contract.results import frame_of
from pipeline.contract.vocabulary import TO_COME
from pipeline.estimates.average import three_methods
from pipeline.estimates.engines import interval_rules as rules
from pipeline.estimates.engines import restricted_likelihood
from pipeline.estimates.engines.interval_rules import CLUSTERED, MIXED, PLAIN, TWO_STAGE

# In standard errors of the headline. Another question of method may move an estimate by
# half a standard error; the same model by other code may not move it to speak of.
MOST_BETWEEN_METHODS = rules.DISAGREEMENT_IN_STD_ERRORS
LEAST_APART = 1e-9  # of the headline; what lies nearer is rounding
MOST_BETWEEN_CODES = 0.05
MOST_BETWEEN_STD_ERRORS = 0.05  # of the standard error itself

RULE = (
    f"The two-stage averages and the plain mean may be up to {MOST_BETWEEN_METHODS:g} standard errors from the"
    f" headline. The mixed model refitted by other code may differ by {MOST_BETWEEN_CODES:g} standard errors, and its"
    f" standard error by {100 * MOST_BETWEEN_STD_ERRORS:g}%."
)
ALL_AGREE = "The methods agree."
NOTHING = "There is nothing to compare: {rule}"
APART = (
    "The {road} is {distance:.2f} standard errors from the headline, more than the {most:g} within which methods are"
    " said to agree."
)
WITHOUT_ERROR = "The {road} differs from the headline, whose site-year gains are all equal: its standard error is zero."
CALLED = {TWO_STAGE: "two-stage average", CLUSTERED: "two-stage average with seasons as clusters"}
SEASONS_ALIKE = (
    "For future seasons the two-stage average and the plain mean count every season alike, however few its site-years."
)
NOT_COMPARED = (
    "The headline's standard error is not that of the mixed model itself, so it is not compared with the refit's."
)
CODE = (
    "The mixed model refitted by other code does not give the same answer, so the fit itself is in doubt: "
    "do not rely on this figure until that is explained."
)


def agreement(pooled_gains: pd.DataFrame, model_blocks: pd.DataFrame) -> pd.DataFrame:
    """One row per comparison and target, columns of agreement, in the unit of gain.

    pooled_gains: the overall rows; model_blocks as given to them. agrees is None where
    there is no headline.
    """
    rows = []
    overall = pooled_gains[pooled_gains["moderator"] == "all"]
    for (comparison_id, target), found in overall.groupby(["comparison_id", "target"], sort=False):
        by_method = found.set_index("method")
        blocks = model_blocks[model_blocks["comparison_id"] == comparison_id]
        third = None
        if pd.notna(by_method.loc[MIXED, "estimate"]):
            third = restricted_likelihood.fit_gains(blocks, target)
        row = {"comparison_id": comparison_id, "target": target} | _row(by_method, third)
        if target == TO_COME and row["agrees"] is False and row["leads"] == MIXED:
            row["sentence"] = f"{row['sentence']} {SEASONS_ALIKE}"
        rows.append(row)
    return frame_of(rows, "agreement")


def _row(by_method: pd.DataFrame, third: restricted_likelihood.RemlMean | None) -> dict:
    headline = by_method[by_method["is_headline"]].iloc[0]
    estimates = by_method["estimate"]
    row = {
        "leads": headline.name,
        "headline": headline["estimate"],
        "std_error": headline["std_error"],
        "mixed_model": estimates[MIXED],
        "two_stage": estimates[TWO_STAGE],
        "plain_mean": estimates[PLAIN],
        "third_road": third.estimate if third else None,
        "third_road_std_error": third.std_error if third else None,
    }
    if pd.isna(headline["estimate"]):
        return row | {"agrees": None, "sentence": NOTHING.format(rule=headline["rule"])}
    broken = [*_methods_apart(headline, estimates), *_codes_apart(by_method.loc[MIXED], third)]
    sentences = broken or [ALL_AGREE]
    if third and (headline.name != MIXED or headline["df_method"] in three_methods.GUARDS):
        sentences = [*sentences, NOT_COMPARED]
    return row | {"agrees": not broken, "sentence": " ".join(sentences)}


def _methods_apart(headline: pd.Series, estimates: pd.Series) -> list[str]:
    apart = (estimates - headline["estimate"]).abs()
    # equal gains have a standard error of nothing but rounding, of which their means differ too
    rounding = LEAST_APART * abs(headline["estimate"])
    apart = apart[apart > rounding]
    if headline["std_error"] <= rounding:
        return [WITHOUT_ERROR.format(road=CALLED.get(road, road)) for road in apart.index]
    distances = apart / headline["std_error"]
    return [
        APART.format(road=CALLED.get(road, road), distance=distance, most=MOST_BETWEEN_METHODS)
        for road, distance in distances.items()
        if distance > MOST_BETWEEN_METHODS
    ]


def _codes_apart(mixed: pd.Series, third: restricted_likelihood.RemlMean | None) -> list[str]:
    """The mixed model's own standard error may have given way to a guard's; then only estimates are compared."""
    if third is None:
        return []
    apart = abs(third.estimate - mixed["estimate"]) > MOST_BETWEEN_CODES * third.std_error
    if mixed["df_method"] not in three_methods.GUARDS:
        apart |= abs(third.std_error / mixed["std_error"] - 1) > MOST_BETWEEN_STD_ERRORS
    return [CODE] if apart else []
