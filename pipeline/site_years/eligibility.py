"""Which trials can answer a declared comparison, and which treatments are its two arms. Never sees a yield.

Every trial of the comparison's crop gets one row: used, or left out with the reason, so that the flow from
planned to used adds up.
"""

from __future__ import annotations

import json
from collections.abc import Callable

import pandas as pd

from pipeline.contract.results import declared_results, frame_of, narrowed
from pipeline.contract.units import KG_HA_PER_LB_AC
from pipeline.settings.comparisons import DIFFERABLE, ROLES, Arm, Comparison

# two rates are the same within 3% or 5 lb/ac (common practice, no source)
SAME_RATE_SHARE = 0.03
SAME_RATE_KG_HA = 5 * KG_HA_PER_LB_AC
SAME_SHARE = 0.005
# keeps a difference of exactly the tolerance inside after its unit was converted
ROUNDING_KG_HA = 1e-6
ARM_COLUMNS = tuple(declared_results()["arms"].names())
WITHOUT_BLOCKS = ("unreplicated", "CRD", "strips")


def eligible_trials(
    comparisons: tuple[Comparison, ...],
    trials: pd.DataFrame,
    treatments: pd.DataFrame,
    usable_blocks: Callable[[pd.DataFrame], pd.DataFrame],
    *,
    fewest_blocks: int,
) -> tuple[pd.DataFrame, pd.DataFrame]:
    """(eligibility, arms): one row per comparison and trial of its crop; one row per treatment in an arm.

    trials: trial_id, site_year_id, season, place, crop, design, status, status_reason.
    treatments: as in trials.treatments. usable_blocks: from trial_id and treatment_code of the treatments that may
    stand in an arm, trial_id, block and treatment_code of their usable plots.
    """
    able = trials[(trials["status"] == "accepted") & (trials["design"] != "not randomized")]
    crops = {comparison.crop for comparison in comparisons}
    ids = {crop: able.loc[able["crop"] == crop, "trial_id"] for crop in crops}
    treatments_of = {crop: treatments[treatments["trial_id"].isin(ids[crop])] for crop in crops}
    candidates = [candidate_arms(comparison, treatments_of[comparison.crop]) for comparison in comparisons]
    with_both = _stacked([_of_both_sides(arms) for arms in candidates], "arms")
    blocks = usable_blocks(with_both[["trial_id", "treatment_code"]].drop_duplicates())
    rows, arms = [], []
    for comparison, of_comparison in zip(comparisons, candidates, strict=True):
        of_crop = trials[trials["crop"] == comparison.crop]
        told = _eligibility(comparison, of_crop, of_comparison, treatments, blocks, fewest_blocks)
        used = {row["trial_id"] for row in told if row["is_used"]}
        rows += told
        arms.append(of_comparison[of_comparison["trial_id"].isin(used)])
    return frame_of(rows, "eligibility"), _stacked(arms, "arms")


def _stacked(frames: list[pd.DataFrame], table: str) -> pd.DataFrame:
    return frame_of(pd.concat([frame for frame in frames if len(frame)] or [pd.DataFrame()]), table)


def _of_both_sides(arms: pd.DataFrame) -> pd.DataFrame:
    """The arms of trials that have both."""
    return arms[arms.groupby("trial_id")["arm"].transform("nunique") == 2]


def _eligibility(comparison, trials, arms, treatments, blocks, fewest_blocks) -> list[dict]:
    both = _of_both_sides(arms)
    known = {
        "sides": _sets_by_trial(arms, "arm"),
        "rates": _sets_by_trial(both, "rate_kg_ha"),
        "on_both_sides": _on_both_sides(both),
        "blocks": _blocks_with_both(both, blocks),
        "differs": _also_differs(comparison, arms, treatments),
    }
    asked = trials[["trial_id", "site_year_id", "season", "place", "design", "status", "status_reason"]]
    return [_row(comparison, trial, known, fewest_blocks) for trial in asked.itertuples()]


def _sets_by_trial(arms: pd.DataFrame, column: str) -> dict[str, set]:
    """What a column holds in each trial; a loop, since one call per trial is slow for many thousands of them."""
    found: dict[str, set] = {}
    for trial_id, value in zip(arms["trial_id"], arms[column], strict=True):
        found.setdefault(trial_id, set()).add(value)
    return found


def _row(comparison: Comparison, trial, known: dict[str, dict], fewest_blocks: int) -> dict:
    row = {
        "comparison_id": comparison.id,
        "trial_id": trial.trial_id,
        "site_year_id": trial.site_year_id,
        "season": trial.season,
        "place": trial.place,
        "is_used": False,
        "reason": None,
        "n_blocks": 0,
        "rates_missing": None,
        "also_differs": None,
    }
    if trial.status != "accepted":
        return row | {"reason": f"{trial.status}: {trial.status_reason}"}
    if trial.design == "not randomized":
        return row | {"reason": "not randomized: in no average, and no gain of it is shown"}
    sides = known["sides"].get(trial.trial_id, set())
    if len(sides) < 2:
        lacking = " and no ".join(side for side in ("treatment", "comparator") if side not in sides)
        at_rate = "at an N rate " if comparison.rates else ""
        return row | {"reason": f"the trial has no {lacking} {at_rate}of this comparison"}
    if trial.trial_id in known["on_both_sides"]:
        return row | {"reason": f"{known['on_both_sides'][trial.trial_id]} is on both sides of this comparison"}
    row["rates_missing"] = _rates_missing(comparison, known["rates"][trial.trial_id])
    row["also_differs"] = known["differs"].get(trial.trial_id)
    row["n_blocks"] = known["blocks"].get(trial.trial_id, 0)
    if row["n_blocks"] == 0:
        return row | {"reason": "no harvested plots of both arms"}
    if row["n_blocks"] < fewest_blocks and trial.design not in WITHOUT_BLOCKS:
        blocks = "1 block" if row["n_blocks"] == 1 else f"{row['n_blocks']} blocks"
        return row | {"reason": f"{blocks} with both arms; at least {fewest_blocks} are required"}
    return row | {"is_used": True}


def candidate_arms(comparison: Comparison, treatments: pd.DataFrame) -> pd.DataFrame:
    """The treatments that form the arms, at rates that both arms of their trial have."""
    sides = []
    for name, arm in (("treatment", comparison.treatment), ("comparator", comparison.comparator)):
        side = treatments.loc[matches(arm, treatments), ["trial_id", "treatment_code", "n_rate_kg_ha"]]
        # many treatments have few rates
        named = {rate: _named_rate(comparison, rate) for rate in side["n_rate_kg_ha"].unique()}
        rates = side["n_rate_kg_ha"].map({rate: of for rate, (of, _) in named.items()})
        weights = side["n_rate_kg_ha"].map({rate: weight for rate, (_, weight) in named.items()})
        sides.append(side.assign(comparison_id=comparison.id, arm=name, rate_kg_ha=rates, rate_weight=weights))
    arms = pd.concat(sides, ignore_index=True)
    arms = arms[arms["rate_weight"] > 0]
    if comparison.rates:
        n_sides = arms.groupby(["trial_id", "rate_kg_ha"])["arm"].transform("nunique")
        # a trial with one arm only keeps it, so that the reason can name the arm it lacks
        only_one = arms.groupby("trial_id")["arm"].transform("nunique") == 1
        arms = arms[(n_sides == 2) | only_one]
    return narrowed(arms, "arms")


def _named_rate(comparison: Comparison, rate_kg_ha: float) -> tuple[float, float]:
    """The declared rate a treatment's rate stands for, with its weight; weight 0 where it stands for none."""
    if not comparison.rates:
        return float("nan"), 1.0
    nearest = min(comparison.rates, key=lambda named: abs(named - rate_kg_ha))
    close = abs(nearest - rate_kg_ha) <= max(SAME_RATE_SHARE * nearest, SAME_RATE_KG_HA) + ROUNDING_KG_HA
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
        return _near_any(
            treatments["n_rate_kg_ha"], [float(w) * factor for w in words], SAME_RATE_KG_HA + ROUNDING_KG_HA
        )
    if column in ("coated_n_fraction", "passes"):
        return _near_any(treatments[column].astype(float), [float(w) for w in words], SAME_SHARE)
    wanted = {word.lower() for word in words}
    return treatments[column].isin([w for w in treatments[column].dropna().unique() if w.lower() in wanted])


def _near_any(values: pd.Series, wanted: list[float], tolerance: float) -> pd.Series:
    near = pd.Series(False, index=values.index)
    for value in wanted:
        near |= (values - value).abs() <= tolerance
    return near


def _rates_missing(comparison: Comparison, present: set[float]) -> list[float] | None:
    """Named rates (kg/ha) that the trial does not have in both arms; None where it has all."""
    return sorted(set(comparison.rates) - present) or None


def _also_differs(comparison: Comparison, arms: pd.DataFrame, treatments: pd.DataFrame) -> dict[str, str]:
    """By trial, what differs between its arms beyond what the comparison says may differ."""
    treatments = treatments[treatments["trial_id"].isin(arms["trial_id"])]
    factors = _factor_columns(treatments)
    watched = [c for c in (*DIFFERABLE, *factors) if c not in comparison.may_differ]
    watched = [c for c in watched if not (c == "n_rate_kg_ha" and comparison.rates)]
    described = pd.concat([treatments, factors], axis=1)
    joined = _of_both_sides(arms).merge(
        described[["trial_id", "treatment_code", *watched]], on=["trial_id", "treatment_code"]
    )
    found: dict[str, list[str]] = {}
    as_words = joined[watched].astype(str)
    for column in as_words.columns[as_words.nunique() > 1]:
        words = joined.assign(word=as_words[column]).groupby(["trial_id", "arm"])["word"]
        sets = words.agg(lambda texts: "/".join(sorted(set(texts)))).unstack("arm")
        if not {"treatment", "comparator"} <= set(sets.columns):
            continue
        for trial_id, row in sets[sets["treatment"] != sets["comparator"]].dropna().iterrows():
            found.setdefault(trial_id, []).append(f"{column}: {row['treatment']} against {row['comparator']}")
    return {trial_id: "; ".join(texts) for trial_id, texts in found.items()}


def _factor_columns(treatments: pd.DataFrame) -> pd.DataFrame:
    """The free factors, one column each."""
    texts = treatments["factors"]
    told = texts[texts.notna() & ~texts.isin(["", "{}"])]  # most treatments have none
    return pd.DataFrame([json.loads(text) for text in told], index=told.index).reindex(treatments.index)


def _on_both_sides(arms: pd.DataFrame) -> dict[str, str]:
    """By trial, the first treatment that both arms would take: the conditions of the arms overlap."""
    sides = arms.groupby(["trial_id", "treatment_code"])["arm"].nunique()
    return sides[sides == 2].reset_index().groupby("trial_id")["treatment_code"].first().to_dict()


def _blocks_with_both(arms: pd.DataFrame, blocks: pd.DataFrame) -> dict[str, int]:
    """By trial, the blocks in which a rate (or the whole comparison) has a usable plot of each arm."""
    joined = blocks.merge(arms, on=["trial_id", "treatment_code"])
    joined = joined.assign(rate_kg_ha=joined["rate_kg_ha"].fillna(-1.0))
    sides = joined.groupby(["trial_id", "block", "rate_kg_ha"])["arm"].nunique()
    both = sides[sides == 2].reset_index()
    return both.groupby("trial_id")["block"].nunique().to_dict()
