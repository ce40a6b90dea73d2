"""One gain per block: treatment minus comparator, averaged over the named rates.

Pairs that share a plot or a main plot are not independent, so they are averaged
within their block before anything else is done with them.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd

from pipeline.contract.results import frame_of
from pipeline.estimates.frames import joined
from pipeline.estimates.trials import contrasts, designs

# what site_year_gains.with_variances adds
VARIANCES = ("variance", "own_variance", "variance_df", "own_variance_df")
NO_RATE = -1.0  # stands for the one rate of a comparison that matches none
WHOLE_TRIAL = "all"


@dataclass(frozen=True)
class RateGains:
    """The gains of one block (or of one trial, where it has no blocks), rate by rate.

    gains: rate -> treatment minus comparator. weights: rate -> weights on the plots.
    sides: rate -> which plots are of the treatment arm, which of the comparator.
    """

    block: str
    plots: pd.DataFrame
    gains: dict[float, float]
    weights: dict[float, np.ndarray]
    sides: dict[float, tuple[np.ndarray, np.ndarray]]
    main_plots: pd.Series | None
    warning: str = ""

    @property
    def trial_id(self) -> str:
        return self.plots["trial_id"].iloc[0]


def block_gains(plots: pd.DataFrame, arms: pd.DataFrame, trials: pd.DataFrame) -> pd.DataFrame:
    """Block gains of every comparison, without VARIANCES.

    variance_factor c and main_plot_factor m: the variance of a gain within its
    block is c x plot error variance + m x main-plot variance (m is 0 but for arms in
    different main plots). zero_n_in_error: zero-N stands in an arm (arms.is_zero_n, where
    given), so its plots belong to the gain's error. A block that lacks a named rate is averaged over the rates
    it has after each is freed from its rate term; rates_missing lists them (kg/ha).
    """
    design_of = trials.set_index("trial_id")["design"]
    site_year_of = trials.set_index("trial_id")["site_year_id"]
    in_trial = dict(tuple(plots.groupby("trial_id", sort=False)))
    uses_zero_n = _using_zero_n(arms)
    rows: list[dict] = []
    for comparison_id, of_comparison in arms.groupby("comparison_id"):
        rate_weights = _rate_weights(of_comparison)
        found: list[RateGains] = []
        for trial_id, of_trial in of_comparison.groupby("trial_id"):
            if trial_id in in_trial and trial_id in design_of.index:
                found += _trial_gains(in_trial[trial_id], of_trial, design_of[trial_id])
        terms = rate_terms(found, rate_weights, site_year_of)
        rows += [
            {"comparison_id": comparison_id, "zero_n_in_error": (comparison_id, block.trial_id) in uses_zero_n}
            | _row(block, rate_weights, terms)
            for block in found
        ]
    return frame_of(rows, "block_gains", without=VARIANCES)


def with_zero_n(arms: pd.DataFrame, treatments: pd.DataFrame) -> pd.DataFrame:
    """The arms with is_zero_n, whether each of their treatments is zero-N."""
    zero_n = designs.zero_n_codes(treatments)
    pairs = zip(arms["trial_id"], arms["treatment_code"], strict=True)
    return arms.assign(is_zero_n=[code in zero_n.get(trial_id, ()) for trial_id, code in pairs])


def _using_zero_n(arms: pd.DataFrame) -> set[tuple[str, str]]:
    """(comparison_id, trial_id) of those with zero-N in an arm."""
    if "is_zero_n" not in arms:
        return set()
    found = arms[arms["is_zero_n"].eq(True)]
    return set(zip(found["comparison_id"], found["trial_id"], strict=True))


def _rate_weights(arms: pd.DataFrame) -> dict[float, float]:
    """The named rates of a comparison with their fixed weights, adding to 1."""
    weights = dict(zip(arms["rate_kg_ha"].fillna(NO_RATE), arms["rate_weight"], strict=True))
    total = sum(weights.values())
    return {rate: weights[rate] / total for rate in sorted(weights)}


def _codes(arms: pd.DataFrame) -> dict[float, tuple[set, set]]:
    """rate -> (treatment codes, comparator codes), for the rates that this trial has in both arms."""
    codes: dict[float, dict[str, set]] = {}
    for rate, arm, code in zip(arms["rate_kg_ha"].fillna(NO_RATE), arms["arm"], arms["treatment_code"], strict=True):
        codes.setdefault(float(rate), {"treatment": set(), "comparator": set()})[arm].add(code)
    return {rate: tuple(codes[rate].values()) for rate in sorted(codes) if all(codes[rate].values())}


def _trial_gains(plots: pd.DataFrame, arms: pd.DataFrame, design: str) -> list[RateGains]:
    codes = _codes(arms)
    if design == "strips":
        plots = designs.strip_means(plots)
    if design == "incomplete block":
        return _adjusted_gains(plots, codes, design, "incomplete blocks: block-adjusted difference of the whole trial")
    if design != "CRD":
        groups = plots.groupby("block", sort=True, dropna=False)
    else:
        groups = [(WHOLE_TRIAL, plots)]
    found = [_plain_gains(str(block), group, codes, design) for block, group in groups]
    found = [block for block in found if block.gains]
    if not found and codes:
        warning = "arms share no block: block-adjusted difference of the whole trial"
        found = _adjusted_gains(plots, codes, design, warning)
    return found


def _sides(plots: pd.DataFrame, codes: dict) -> dict[float, tuple[np.ndarray, np.ndarray]]:
    """Which plots stand on either side, at each rate that has plots of both arms here."""
    sides = {rate: tuple(plots["treatment_code"].isin(arm).to_numpy() for arm in arms) for rate, arms in codes.items()}
    return {rate: arms for rate, arms in sides.items() if all(arm.any() for arm in arms)}


def _plain_gains(block: str, plots: pd.DataFrame, codes: dict, design: str) -> RateGains:
    """Differences of arm means within the block, rate by rate."""
    value = plots["value"].to_numpy(float)
    sides = _sides(plots, codes)
    weights = {rate: t / t.sum() - c / c.sum() for rate, (t, c) in sides.items()}
    gains = {rate: float(weights[rate] @ value) for rate in weights}
    return RateGains(block, plots, gains, weights, sides, _main_plots(plots, design))


def _adjusted_gains(plots: pd.DataFrame, codes: dict, design: str, warning: str) -> list[RateGains]:
    """The block-adjusted difference over the whole trial, joined through the other treatments, if connected."""
    value = plots["value"].to_numpy(float)
    sides, weights = _sides(plots, codes), {}
    adjusted = contrasts.AdjustedForBlocks(plots, blocked=designs.is_blocked(design))
    for rate, (treatment, comparator) in sides.items():
        wanted = _equal_shares(plots, treatment, +1) | _equal_shares(plots, comparator, -1)
        found = adjusted.weights(wanted)
        if found is not None:
            weights[rate] = found
    if not weights:
        return []
    gains = {rate: float(weights[rate] @ value) for rate in weights}
    main_plots = _main_plots(plots, design)
    return [RateGains(WHOLE_TRIAL, plots, gains, weights, sides, main_plots, warning)]


def _equal_shares(plots: pd.DataFrame, of_arm: np.ndarray, sign: int) -> dict[str, float]:
    codes = plots.loc[of_arm, "treatment_code"].astype(str).unique()
    return {code: sign / len(codes) for code in codes}


def _main_plots(plots: pd.DataFrame, design: str) -> pd.Series | None:
    return designs.main_plot_units(plots) if design == "split-plot" else None


def rate_terms(
    blocks: list[RateGains], rate_weights: dict[float, float], site_year_of: pd.Series
) -> dict[float, float] | None:
    """How far the gain at each named rate lies from the weighted gain over all named rates.

    From blocks that have all named rates, site-years counting alike; None if there is none.
    """
    offsets = [
        {"site_year_id": site_year_of[block.trial_id]} | _offsets(block, rate_weights)
        for block in blocks
        if set(block.gains) == set(rate_weights)
    ]
    if not offsets:
        return None
    by_site_year = pd.DataFrame(offsets).groupby("site_year_id").mean()
    return by_site_year.mean().to_dict()


def _offsets(block: RateGains, rate_weights: dict[float, float]) -> dict[float, float]:
    overall = sum(rate_weights[rate] * gain for rate, gain in block.gains.items())
    return {rate: gain - overall for rate, gain in block.gains.items()}


def _row(block: RateGains, rate_weights: dict[float, float], terms: dict[float, float] | None) -> dict:
    missing = [rate for rate in rate_weights if rate not in block.gains]
    share = {rate: rate_weights[rate] for rate in block.gains}
    share = {rate: weight / sum(share.values()) for rate, weight in share.items()}
    offset = {rate: (terms or {}).get(rate, 0.0) if missing else 0.0 for rate in share}
    plot_weights = sum(share[rate] * block.weights[rate] for rate in share)
    factor, main_factor = contrasts.variance_factors(plot_weights, block.main_plots)
    unadjusted = "named rates missing and no block has them all: not adjusted" if missing and terms is None else ""
    return {
        "trial_id": block.trial_id,
        "block": block.block,
        "gain": sum(share[rate] * (block.gains[rate] - offset[rate]) for rate in share),
        "comparator_mean": _comparator_mean(block, share),
        "n_treatment_plots": _n_plots(block, 0),
        "n_comparator_plots": _n_plots(block, 1),
        "n_rates": len(share),
        "rates_missing": missing,
        "variance_factor": factor,
        "main_plot_factor": main_factor,
        "warnings": joined([block.warning, unadjusted]),
    }


def _n_plots(block: RateGains, side: int) -> int:
    return int(np.any([block.sides[rate][side] for rate in block.gains], axis=0).sum())


def _comparator_mean(block: RateGains, share: dict[float, float]) -> float:
    value = block.plots["value"].to_numpy(float)
    return float(sum(share[rate] * value[block.sides[rate][1]].mean() for rate in share))
