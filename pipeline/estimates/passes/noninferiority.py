"""As good with fewer passes: the average gain against a margin declared beforehand.

First non-inferiority (one-sided 2.5%), then superiority, which costs no further error
because it is asked only after the first holds. Two one-sided tests (Schuirmann 1987,
Journal of Pharmacokinetics and Biopharmaceutics 15:657-680) stand beside it. "Not
different" is never read as "as good". A poor trial makes everything look alike, so the
comparator must also stand clearly above zero-N in the same site-years.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping
from dataclasses import dataclass
from datetime import date

import numpy as np
import pandas as pd
from scipy import stats

from pipeline.contract.results import narrowed
from pipeline.contract.vocabulary import TARGETS, TESTED, TO_COME, TOO_FEW
from pipeline.errors import UserError
from pipeline.estimates.average import robustness, three_methods
from pipeline.estimates.engines import interval_rules as rules
from pipeline.estimates.passes.assay_sensitivity import NOT_ASKED, ONE_SIDED_ALPHA, log_ratios

TOST_ALPHA = 0.05
KG_HA, RATIO = "kg/ha", "ratio"
BETTER, WITHIN_MARGIN, NOT_SHOWN_AS_GOOD, WORSE = (
    "better",
    "as good within the margin",
    "not shown to be as good",
    "worse",
)
REASONS = {
    BETTER: "Even the lower limit is a gain.",
    WITHIN_MARGIN: "Even the lower limit loses less than the margin.",
    NOT_SHOWN_AS_GOOD: "The lower limit loses the margin or more: a loss that large is neither shown nor ruled out.",
    WORSE: "The lower limit loses the margin or more, and even the upper limit is a loss.",
}
LATE = (
    "The margin was fixed after the first harvest it is held against, when yields could be seen: it can show nothing as"
    " good."
)
# What a row leaves empty where there is too little to test, or no budget.
NOT_TESTED = dict.fromkeys(
    ("method", "estimate", "std_error", "df", "n_site_years", "n_seasons", "n_without_ratio", "lower_limit",
     "upper_limit", "p_noninferior", "p_superior", "tost_low", "tost_high", "p_tost", "is_equivalent",
     "economic_margin_kg_ha")
)  # fmt: skip
ONLY_DIFFERENCES = "Only differences are printed, so there is no ratio to average."
LOWER_YET_WITHIN = "On average it yields less, though by less than the margin."


@dataclass(frozen=True)
class Margin:
    """The largest loss still called as good, fixed before the yields were looked at.

    size is positive. With unit 'kg/ha' the gain may fall to -size; with unit 'ratio'
    the treatment's mean may fall to (1 - size) times the comparator's. Raises
    UserError when a part is missing or out of range.
    """

    size: float
    unit: str
    basis: str
    fixed_on: date

    def __post_init__(self) -> None:
        mend = "The report leaves out whether the treatment is as good until this is fixed."
        if self.unit not in (KG_HA, RATIO):
            found = f'"{self.unit}"' if self.unit else "missing"
            raise UserError(f"non-inferiority margin: its unit is {found}; write kg/ha or ratio. {mend}")
        most = 1.0 if self.unit == RATIO else np.inf
        if not 0 < self.size < most:
            expected = "between 0 and 1, such as 0.05" if self.unit == RATIO else "above 0"
            raise UserError(f"non-inferiority margin: its size is {self.size:g}; it must be {expected}. {mend}")
        if not self.basis.strip():
            raise UserError(f"non-inferiority margin: say on what basis it was chosen. {mend}")
        if not isinstance(self.fixed_on, date):
            raise UserError(f"non-inferiority margin: the date on which it was fixed is missing. {mend}")

    @property
    def limit(self) -> float:
        """The margin where the test is made: kg/ha, or the logarithm of the ratio."""
        return -np.log1p(-self.size) if self.unit == RATIO else self.size


def noninferiority(
    pooled_gains: pd.DataFrame,
    site_year_gains: pd.DataFrame,
    margins: dict[str, Margin],
    assays: pd.DataFrame,
    *,
    budgets: pd.DataFrame | None = None,
    first_harvests: Mapping[str, date] | None = None,
) -> pd.DataFrame:
    """One row per comparison with a margin and target, columns of noninferiority.

    pooled_gains: all pooled rows (kg/ha); the headline of all site-years is tested.
    site_year_gains: the pooled ones, from which a ratio is made. assays: as
    assay_sensitivity.assay_sensitivity gives them. budgets: as partial_budget.budget gives them; the
    loss that just uses up the net saving is the break-even gain with its sign turned.
    first_harvests: by comparison the first harvest it uses; a margin fixed after it shows nothing as good. On
    the ratio scale estimate and limits are ratios and std_error is that of the log ratio.
    """
    rows = []
    for comparison_id, margin in margins.items():
        site_years = site_year_gains[site_year_gains["comparison_id"] == comparison_id]
        of_comparison = assays[assays["comparison_id"] == comparison_id]
        is_late = margin.fixed_on > (first_harvests or {}).get(comparison_id, date.max)
        shared = NOT_TESTED | NOT_ASKED | _declared(comparison_id, margin) | {"margin_is_late": is_late}
        shared |= of_comparison.iloc[0].to_dict() if len(of_comparison) else {}
        shared |= _economic(budgets, comparison_id)
        for target in TARGETS:
            average = (
                _ratio(site_years, target) if margin.unit == RATIO else _headline(pooled_gains, comparison_id, target)
            )
            rows.append(shared | {"target": target} | average | _tested(average, margin, is_late=is_late))
    return narrowed(rows, "noninferiority")


def with_ratio_limits(
    robust: pd.DataFrame, site_year_gains: pd.DataFrame, margins: Mapping[str, Margin], noted: Collection[str]
) -> pd.DataFrame:
    """The rows of robustness, with ratio_low where a margin is a ratio: the lower limit of the ratio, as the test has
    it, from the site-years that are left.

    site_year_gains: the pooled ones. noted: site_year_ids with findings.
    """
    lows = {}
    for comparison_id in (name for name, margin in margins.items() if margin.unit == RATIO):
        site_years = site_year_gains[site_year_gains["comparison_id"] == comparison_id]
        for kind, left_out, is_kept in robustness.changed(site_years, noted):
            kept = site_years[is_kept]
            lows |= {(comparison_id, target, kind, left_out): _ratio_low(kept, target) for target in TARGETS}
    keys = zip(*(robust[name] for name in ("comparison_id", "target", "kind", "left_out")), strict=True)
    return robust.assign(ratio_low=[lows.get(key, np.nan) for key in keys])


def _ratio_low(site_years: pd.DataFrame, target: str) -> float:
    mean = _ratio(site_years, target)
    if "estimate" not in mean:
        return np.nan
    half = mean["std_error"] * stats.t.ppf(1 - ONE_SIDED_ALPHA, mean["df"])
    return float(np.exp(mean["estimate"] - half))


def one_sided_tests(estimate: float, std_error: float, df: float, limit: float) -> dict[str, float]:
    """Limits and p values of a t-distributed estimate against -limit, 0 and +limit (limit > 0).

    p_tost, the larger of two one-sided p values, is below TOST_ALPHA exactly when the
    two-sided 90% interval lies inside (-limit, limit).
    """
    half, tost_half = (std_error * stats.t.ppf(1 - alpha, df) for alpha in (ONE_SIDED_ALPHA, TOST_ALPHA))
    p_noninferior = _p_above(estimate + limit, std_error, df)
    return {
        "lower_limit": estimate - half,
        "upper_limit": estimate + half,
        "p_noninferior": p_noninferior,
        "p_superior": _p_above(estimate, std_error, df),
        "tost_low": estimate - tost_half,
        "tost_high": estimate + tost_half,
        "p_tost": max(p_noninferior, _p_above(limit - estimate, std_error, df)),
    }


def verdict(lower_limit: float, upper_limit: float, limit: float) -> str:
    """The words for a two-sided 95% interval against the margin; all on the scale of the test."""
    if lower_limit > 0:
        return BETTER
    if lower_limit > -limit:
        return WITHIN_MARGIN
    return WORSE if upper_limit < 0 else NOT_SHOWN_AS_GOOD


def _p_above(distance: float, std_error: float, df: float) -> float:
    """One-sided p value of a distance above zero; without any spread it is 0 or 1."""
    if std_error == 0:
        return 0.0 if distance > 0 else 1.0
    return float(stats.t.sf(distance / std_error, df))


def _declared(comparison_id: str, margin: Margin) -> dict:
    return {
        "comparison_id": comparison_id,
        "scale": margin.unit,
        "margin": margin.size,
        "margin_limit": 1 - margin.size if margin.unit == RATIO else -margin.size,
        "margin_basis": margin.basis,
        "margin_fixed_on": margin.fixed_on,
        "alpha": ONE_SIDED_ALPHA,
        "tost_alpha": TOST_ALPHA,
    }


def _economic(budgets: pd.DataFrame | None, comparison_id: str) -> dict:
    """The loss that uses up the net saving (kg/ha); negative where a gain is needed to pay."""
    found = pd.DataFrame() if budgets is None else budgets[budgets["comparison_id"] == comparison_id]
    if found.empty:
        return {"economic_says": "not computed, since there is no budget"}
    budget = found.iloc[0]
    if pd.isna(budget["break_even_gain_kg_ha"]):
        return {"economic_says": f"not computed, since there is no budget ({budget['reason'].rstrip('.')})"}
    margin = -float(budget["break_even_gain_kg_ha"])
    says = "must gain at least this to pay" if margin < 0 else "may lose up to this and still pay"
    return {"economic_margin_kg_ha": margin, "economic_says": says}


def _headline(pooled_gains: pd.DataFrame, comparison_id: str, target: str) -> dict:
    """The leading pooled row of a comparison and target, with the rule that made it lead."""
    found = pooled_gains[
        (pooled_gains["comparison_id"] == comparison_id)
        & (pooled_gains["target"] == target)
        & (pooled_gains["moderator"] == "all")
        & pooled_gains["is_headline"]
    ]
    if found.empty:
        return {"rule": "No site-year has this comparison."}
    columns = ["method", "estimate", "std_error", "df", "n_site_years", "n_seasons", "rule"]
    return found.iloc[0][columns].to_dict()


def _ratio(site_years: pd.DataFrame, target: str) -> dict:
    """Plain mean of the log ratios of site-year means; season means for seasons to come, no narrower than it.

    Site-years of which only a difference is printed are left out, as percentages leave them out.
    """
    n_without = int(site_years["comparator_mean"].isna().sum())
    are_all_unknown = 0 < n_without == len(site_years)
    site_years = site_years[site_years["comparator_mean"].notna()]
    counts = three_methods.counts(site_years)
    row = {name: counts[name] for name in ("n_site_years", "n_seasons")}
    row |= {"n_without_ratio": n_without, "method": rules.PLAIN}
    rule = rules.rule_for(target, counts["n_site_years"], counts["n_seasons"])
    logs = log_ratios(site_years)
    if not rule.has_estimate:
        return row | {"rule": ONLY_DIFFERENCES if are_all_unknown else rule.sentence}
    if logs["gain"].isna().any():
        return row | {"rule": "A site-year mean is not above zero, so there is no ratio to average."}
    conf_level = 1 - 2 * ONE_SIDED_ALPHA
    mean = three_methods.plain_mean(logs, target, conf_level).columns
    if target == TO_COME:
        tested = three_methods.plain_mean(logs, TESTED, conf_level).columns
        mean = three_methods.no_narrower(mean, tested, conf_level)
    return row | {name: mean[name] for name in ("estimate", "std_error", "df")}


def _tested(average: dict, margin: Margin, *, is_late: bool) -> dict:
    """Tests and verdict of one average; ratios are carried back from logarithms."""
    numbers = [average.get(name, np.nan) for name in ("estimate", "std_error", "df")]
    if pd.isna(numbers).any():
        return {"verdict": TOO_FEW, "reason": average["rule"]}
    found = one_sided_tests(*(float(number) for number in numbers), margin.limit)
    word = verdict(found["lower_limit"], found["upper_limit"], margin.limit)
    reason = REASONS[word]
    if word == WITHIN_MARGIN and is_late:
        word, reason = NOT_SHOWN_AS_GOOD, LATE
    if word == WITHIN_MARGIN and found["upper_limit"] < 0:
        reason = f"{reason} {LOWER_YET_WITHIN}"
    found |= {"is_equivalent": found["p_tost"] < TOST_ALPHA, "verdict": word, "reason": reason}
    if margin.unit == RATIO:
        found["estimate"] = numbers[0]
        logs = ("estimate", "lower_limit", "upper_limit", "tost_low", "tost_high")
        found |= {name: float(np.exp(found[name])) for name in logs}
    return found
