"""One gain per block: treatment minus comparator, averaged over the named rates.

Pairs that share a plot or a main plot are not independent, so they are averaged
within their block before anything else is done with them.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np
import pandas as pd

from pipeline.contract.results import frame_of
from pipeline.estimates.frames import joined
from pipeline.estimates.trials import contrasts, designs

# what site_year_gains.with_variances adds
VARIANCES = ("variance", "own_variance", "variance_df", "own_variance_df")
NO_RATE = -1.0  # stands for the one rate of a comparison that matches none
WHOLE_TRIAL = "all"
NOT_ADJUSTED = "named rates missing and no block has them all: not adjusted"


@dataclass(frozen=True)
class Compared:
    """Plots that are compared with each other: those of one block, or of a trial as a whole."""

    trial_id: str
    block: str
    plots: pd.DataFrame
    main_plots: pd.Series | None

    @cached_property
    def value(self) -> np.ndarray:
        return self.plots["value"].to_numpy(float)

    @cached_property
    def codes(self) -> list[str]:
        return self.plots["treatment_code"].to_list()


@dataclass(frozen=True)
class RateGains:
    """The gains of one block (or of one trial, where it has no blocks), rate by rate.

    gains: rate -> treatment minus comparator. weights: rate -> weights on the plots.
    sides: rate -> which plots are of the treatment arm, which of the comparator.
    """

    of: Compared
    gains: dict[float, float]
    weights: dict[float, np.ndarray]
    sides: dict[float, tuple[np.ndarray, np.ndarray]]
    warning: str = ""


class Trial:
    """One trial's plots, taken apart once for all comparisons."""

    def __init__(self, trial_id: str, plots: pd.DataFrame, design: str) -> None:
        self.trial_id, self.design = trial_id, design
        self._plots = designs.strip_means(plots) if design == "strips" else plots

    @cached_property
    def whole(self) -> Compared:
        return self._compared(WHOLE_TRIAL, self._plots)

    @cached_property
    def blocks(self) -> list[Compared]:
        if self.design == "CRD":
            return [self.whole]
        return [self._compared(str(block), plots) for block, plots in self._plots.groupby("block", dropna=False)]

    @cached_property
    def adjusted(self) -> contrasts.AdjustedForBlocks:
        return contrasts.AdjustedForBlocks(self._plots, blocked=designs.is_blocked(self.design))

    def _compared(self, block: str, plots: pd.DataFrame) -> Compared:
        main_plots = designs.main_plot_units(plots) if self.design == "split-plot" else None
        return Compared(self.trial_id, block, plots, main_plots)


def block_gains(plots: pd.DataFrame, arms: pd.DataFrame, trials: pd.DataFrame) -> pd.DataFrame:
    """Block gains of every comparison, without VARIANCES; see gains_and_rate_terms."""
    return gains_and_rate_terms(plots, arms, trials)[0]


def gains_and_rate_terms(
    plots: pd.DataFrame, arms: pd.DataFrame, trials: pd.DataFrame
) -> tuple[pd.DataFrame, dict[str, dict[float, float] | None]]:
    """Block gains of every comparison, without VARIANCES, and its rate terms: comparison_id -> rate_terms.

    variance_factor c and main_plot_factor m: the variance of a gain within its
    block is c x plot error variance + m x main-plot variance (m is 0 but for arms in
    different main plots). zero_n_in_error: zero-N stands in an arm (arms.is_zero_n, where
    given), so its plots belong to the gain's error. A block that lacks a named rate is averaged over the rates
    it has after each is freed from its rate term; rates_missing lists them (kg/ha).
    """
    design_of = trials.set_index("trial_id")["design"]
    site_year_of = trials.set_index("trial_id")["site_year_id"]
    taken_apart = {
        trial_id: Trial(trial_id, in_trial, design_of[trial_id])
        for trial_id, in_trial in plots.groupby("trial_id", sort=False)
        if trial_id in design_of.index
    }
    uses_zero_n = _using_zero_n(arms)
    rows: list[dict] = []
    terms_of: dict[str, dict[float, float] | None] = {}
    for comparison_id, of_comparison in arms.groupby("comparison_id"):
        rate_weights = _rate_weights(of_comparison)
        found: list[RateGains] = []
        for trial_id, of_trial in of_comparison.groupby("trial_id"):
            if trial_id in taken_apart:
                found += _trial_gains(taken_apart[trial_id], of_trial)
        terms = terms_of[comparison_id] = rate_terms(found, rate_weights, site_year_of)
        rows += [
            {"comparison_id": comparison_id, "zero_n_in_error": (comparison_id, block.of.trial_id) in uses_zero_n}
            | _row(block, rate_weights, terms)
            for block in found
        ]
    return frame_of(rows, "block_gains", without=VARIANCES), terms_of


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


def _trial_gains(trial: Trial, arms: pd.DataFrame) -> list[RateGains]:
    codes = _codes(arms)
    if trial.design == "incomplete block":
        return _adjusted_gains(trial, codes, "incomplete blocks: block-adjusted difference of the whole trial")
    found = [_plain_gains(block, codes) for block in trial.blocks]
    found = [block for block in found if block.gains]
    if not found and codes:
        return _adjusted_gains(trial, codes, "arms share no block: block-adjusted difference of the whole trial")
    return found


def _sides(compared: Compared, codes: dict) -> dict[float, tuple[np.ndarray, np.ndarray]]:
    """Which plots stand on either side, at each rate that has plots of both arms here."""
    sides = {
        rate: tuple(np.array([code in arm for code in compared.codes]) for arm in arms) for rate, arms in codes.items()
    }
    return {rate: arms for rate, arms in sides.items() if all(arm.any() for arm in arms)}


def _plain_gains(block: Compared, codes: dict) -> RateGains:
    """Differences of arm means within the block, rate by rate."""
    sides = _sides(block, codes)
    weights = {rate: t / t.sum() - c / c.sum() for rate, (t, c) in sides.items()}
    gains = {rate: float(weights[rate] @ block.value) for rate in weights}
    return RateGains(block, gains, weights, sides)


def _adjusted_gains(trial: Trial, codes: dict, warning: str) -> list[RateGains]:
    """The block-adjusted difference over the whole trial, joined through the other treatments, if connected."""
    whole = trial.whole
    sides, weights = _sides(whole, codes), {}
    for rate, (treatment, comparator) in sides.items():
        wanted = _equal_shares(whole, treatment, +1) | _equal_shares(whole, comparator, -1)
        found = trial.adjusted.weights(wanted)
        if found is not None:
            weights[rate] = found
    if not weights:
        return []
    gains = {rate: float(weights[rate] @ whole.value) for rate in weights}
    return [RateGains(whole, gains, weights, sides, warning)]


def _equal_shares(compared: Compared, of_arm: np.ndarray, sign: int) -> dict[str, float]:
    codes = compared.plots.loc[of_arm, "treatment_code"].astype(str).unique()
    return {code: sign / len(codes) for code in codes}


def rate_terms(
    blocks: list[RateGains], rate_weights: dict[float, float], site_year_of: pd.Series
) -> dict[float, float] | None:
    """How far the gain at each named rate lies from the weighted gain over all named rates.

    From blocks that have all named rates, site-years counting alike; None if there is none.
    """
    offsets = [
        {"site_year_id": site_year_of[block.of.trial_id]} | _offsets(block, rate_weights)
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
    factor, main_factor = contrasts.variance_factors(plot_weights, block.of.main_plots)
    unadjusted = NOT_ADJUSTED if missing and terms is None else ""
    return {
        "trial_id": block.of.trial_id,
        "block": block.of.block,
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
    return float(sum(share[rate] * block.of.value[block.sides[rate][1]].mean() for rate in share))
