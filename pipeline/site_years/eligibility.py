"""Which trials can answer a declared comparison, and which treatments are its two arms. Never sees a yield.

Every trial of the comparison's crop gets one row: used, or left out with the reason, so that the flow from
planned to used adds up.
"""

from __future__ import annotations

import json

import pandas as pd

from pipeline.contract.units import KG_HA_PER_LB_AC
from pipeline.settings import DIFFERABLE, ROLES, Arm, Comparison

# two rates are the same within 3 % or 5 lb/ac (common practice, no source)
SAME_RATE_SHARE = 0.03
SAME_RATE_KG_HA = 5 * KG_HA_PER_LB_AC
SAME_SHARE = 0.005
WITHOUT_BLOCKS = ("unreplicated", "CRD", "strips")
ELIGIBILITY_COLUMNS = (
    "comparison_id", "trial_id", "site_year_id", "season", "place", "is_used", "reason", "n_blocks", "rates_missing", "also_differs",
)  # fmt: skip
ARM_COLUMNS = ("comparison_id", "trial_id", "treatment_code", "arm", "rate_kg_ha", "rate_weight")


def eligible_trials(
    comparisons: tuple[Comparison, ...],
    trials: pd.DataFrame,
    treatments: pd.DataFrame,
    plots_present: pd.DataFrame,
    *,
    fewest_blocks: int,
) -> tuple[pd.DataFrame, pd.DataFrame]:
    """(eligibility, arms): one row per comparison and trial of its crop; one row per treatment in an arm.

    trials: trial_id, site_year_id, season, place, crop, design, status, status_reason.
    treatments: as in trials.treatments. plots_present: trial_id, block, treatment_code of usable plots.
    """
    by_trial = {trial: frame for trial, frame in treatments.groupby("trial_id")}
    present = {trial: frame for trial, frame in plots_present.groupby("trial_id")}
    rows, arms = [], []
    for comparison in comparisons:
        for trial in trials[trials["crop"] == comparison.crop].itertuples():
            trial_arms = pd.DataFrame(columns=ARM_COLUMNS)
            if trial.status == "accepted" and trial.trial_id in by_trial:
                trial_arms = _arms(comparison, trial.trial_id, by_trial[trial.trial_id])
            seen = present.get(trial.trial_id, plots_present.iloc[:0])
            row = _eligibility(comparison, trial, trial_arms, by_trial.get(trial.trial_id), seen, fewest_blocks)
            rows.append(row)
            if row["is_used"]:
                arms.append(trial_arms)
    arm_frame = pd.concat(arms, ignore_index=True) if arms else pd.DataFrame(columns=ARM_COLUMNS)
    return pd.DataFrame(rows, columns=ELIGIBILITY_COLUMNS), arm_frame


def _eligibility(comparison, trial, arms, treatments, seen, fewest_blocks) -> dict:
    row = {
        "comparison_id": comparison.id, "trial_id": trial.trial_id, "site_year_id": trial.site_year_id,
        "season": trial.season, "place": trial.place, "is_used": False, "reason": None, "n_blocks": 0,
        "rates_missing": None, "also_differs": None,
    }  # fmt: skip
    if trial.status != "accepted":
        return row | {"reason": f"{trial.status}: {trial.status_reason}"}
    if trial.design == "not randomised":
        return row | {"reason": "not randomised: shown apart, never averaged"}
    sides = set(arms["arm"])
    if sides != {"treatment", "comparator"}:
        lacking = " and ".join(side for side in ("treatment", "comparator") if side not in sides)
        return row | {"reason": f"the trial has no {lacking} of this comparison"}
    row["rates_missing"] = _rates_missing(comparison, arms)
    row["also_differs"] = _also_differs(comparison, arms, treatments)
    row["n_blocks"] = _blocks_with_both(arms, seen)
    if row["n_blocks"] == 0:
        return row | {"reason": "no harvested plots of both arms"}
    if row["n_blocks"] < fewest_blocks and trial.design not in WITHOUT_BLOCKS:
        return row | {"reason": f"{row['n_blocks']} block with both arms; at least {fewest_blocks} are asked for"}
    return row | {"is_used": True}


def _arms(comparison: Comparison, trial_id: str, treatments: pd.DataFrame) -> pd.DataFrame:
    """The treatments of one trial that form the arms, at rates that both arms have."""
    found = []
    for name, arm in (("treatment", comparison.treatment), ("comparator", comparison.comparator)):
        for treatment in treatments[matches(arm, treatments)].itertuples():
            rate, weight = _named_rate(comparison, treatment.n_rate_kg_ha)
            if weight > 0:
                found.append((comparison.id, trial_id, treatment.treatment_code, name, rate, weight))
    arms = pd.DataFrame(found, columns=ARM_COLUMNS)
    if comparison.rates:
        shared = set(arms.loc[arms["arm"] == "treatment", "rate_kg_ha"]) & set(arms.loc[arms["arm"] == "comparator", "rate_kg_ha"])
        arms = arms[arms["rate_kg_ha"].isin(shared)]
    return arms.reset_index(drop=True)


def _named_rate(comparison: Comparison, rate_kg_ha: float) -> tuple[float, float]:
    """The declared rate a treatment's rate stands for, with its weight; weight 0 where it stands for none."""
    if not comparison.rates:
        return float("nan"), 1.0
    nearest = min(comparison.rates, key=lambda named: abs(named - rate_kg_ha))
    close = abs(nearest - rate_kg_ha) <= max(SAME_RATE_SHARE * nearest, SAME_RATE_KG_HA)
    return (nearest, comparison.rates[nearest]) if close else (float("nan"), 0.0)


def matches(arm: Arm, treatments: pd.DataFrame) -> pd.Series:
    """Which treatments fulfil every condition of an arm; boolean, one per row."""
    fits = pd.Series(True, index=treatments.index)
    if arm.codes:
        fits &= treatments["treatment_code"].isin(arm.codes)
    if arm.role:
        fits &= treatments[ROLES[arm.role]].fillna(False).astype(bool)
    for column, words in arm.columns.items():
        fits &= _column_matches(column, words, treatments)
    return fits


def _column_matches(column: str, words: tuple[str, ...], treatments: pd.DataFrame) -> pd.Series:
    if column.startswith("factor_"):
        values = treatments["factors"].map(lambda text: json.loads(text).get(column) if text else None)
        return values.isin(words)
    if column in ("n_rate_lb_ac", "n_rate_kg_ha"):
        factor = KG_HA_PER_LB_AC if column == "n_rate_lb_ac" else 1.0
        return _near_any(treatments["n_rate_kg_ha"], [float(w) * factor for w in words], SAME_RATE_KG_HA)
    if column in ("coated_n_fraction", "passes"):
        return _near_any(treatments[column].astype(float), [float(w) for w in words], SAME_SHARE)
    return treatments[column].str.lower().isin([w.lower() for w in words])


def _near_any(values: pd.Series, wanted: list[float], tolerance: float) -> pd.Series:
    near = pd.Series(False, index=values.index)
    for value in wanted:
        near |= (values - value).abs() <= tolerance
    return near


def _rates_missing(comparison: Comparison, arms: pd.DataFrame) -> str | None:
    missing = sorted(set(comparison.rates) - set(arms["rate_kg_ha"]))
    return ", ".join(f"{rate / KG_HA_PER_LB_AC:g} lb/ac" for rate in missing) or None


def _also_differs(comparison: Comparison, arms: pd.DataFrame, treatments: pd.DataFrame) -> str | None:
    """What differs between the arms beyond what the comparison says may differ."""
    joined = arms.merge(treatments, on=["trial_id", "treatment_code"])
    watched = [c for c in DIFFERABLE if c not in comparison.may_differ and not (c == "n_rate_kg_ha" and comparison.rates)]
    differing = []
    for column in watched:
        words = {side: set(map(str, frame[column])) for side, frame in joined.groupby("arm")}
        if words["treatment"] != words["comparator"]:
            differing.append(f"{column}: {'/'.join(sorted(words['treatment']))} against {'/'.join(sorted(words['comparator']))}")
    return "; ".join(differing) or None


def _blocks_with_both(arms: pd.DataFrame, seen: pd.DataFrame) -> int:
    """Blocks in which at least one rate (or the whole comparison) has a usable plot of each arm."""
    joined = seen.merge(arms, on=["trial_id", "treatment_code"])
    key = ["block", "rate_kg_ha"] if joined["rate_kg_ha"].notna().any() else ["block"]
    sides = joined.groupby(key)["arm"].nunique()
    return int(sides[sides == 2].index.get_level_values("block").nunique())
