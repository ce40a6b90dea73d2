"""What each trial tests: treatment codes, what they stand for, and the applications that make them up.

A code reads source, passes, rate: U1-120 is urea once at 120 lb N/ac, U2-120 the same split in two,
C50-120 a blend with half of its N coated, ZERO no nitrogen.
"""

from __future__ import annotations

import pandas as pd

from pipeline.simulation.scenario import (
    CROPS,
    HIGH_RATE_SITES,
    HIGH_RATES,
    N_PCT,
    STARTER_N_LB_AC,
    CropScenario,
)

COATED_FRACTION = {"C25": 0.25, "C50": 0.50, "C75": 0.75}


def _treatment(crop: CropScenario, family: str, rate: int) -> dict:
    """One treatment of a crop; `family` is ZERO, U1, U2 or a blend."""
    is_zero, is_split = family == "ZERO", family == "U2"
    fraction = COATED_FRACTION.get(family, 0.0)
    return {
        "treatment_code": family if is_zero else f"{family}-{rate}",
        "n_source": "none" if is_zero else "coated blend" if fraction else "urea",
        "coated_n_fraction": fraction,
        "n_rate_lb_ac": rate,
        "timing": "none" if is_zero else "split" if is_split else "at planting",
        "passes": 0 if is_zero else 2 if is_split else 1,
        "placement": "none" if is_zero else "broadcast",
        "additive": "none",
        "is_zero_n": "yes" if is_zero else "no",
        "is_grower_standard": "yes" if is_split or (is_zero and crop.first_pass_share is None) else "no",
    }


def treatments_of(crop: CropScenario, *, high_rates: bool = False) -> list[dict]:
    """The treatments of one trial, zero-N first."""
    rates = crop.rates + (HIGH_RATES if high_rates else ())
    split = crop.first_pass_share is not None
    families = ["U1", "C50"] + (["U2"] if split else [])
    treatments = [_treatment(crop, "ZERO", 0)] + [
        _treatment(crop, family, rate) for family in families for rate in rates
    ]
    return treatments + ([_treatment(crop, family, crop.middle_rate) for family in ("C25", "C75")] if split else [])


def treatments_table(trials: pd.DataFrame) -> pd.DataFrame:
    """The treatments of every trial, lost ones included: they were planned."""
    rows = []
    for trial in trials.itertuples():
        high_rates = trial.crop == "corn" and trial.site_id in HIGH_RATE_SITES
        rows += [{"trial_id": trial.trial_id, **t} for t in treatments_of(CROPS[trial.crop], high_rates=high_rates)]
    return pd.DataFrame(rows)


def _portions(treatment, crop: CropScenario) -> list[tuple[int, str, float]]:
    """(days after planting, product, N rate in lb/ac) of each application of a treatment."""
    rate = treatment.n_rate_lb_ac
    if treatment.passes == 0:
        return []
    if treatment.passes == 2:
        first = round(crop.first_pass_share * rate, 1)
        return [(0, "urea", first), (crop.second_pass_days, "urea", rate - first)]
    coated = treatment.coated_n_fraction * rate
    return [(0, product, n) for product, n in (("coated urea", coated), ("urea", rate - coated)) if n > 0]


def _application(trial, code: str, days: int, product: str, n_rate: float, *, counts_toward: str = "treatment") -> dict:
    date = (trial.planted + pd.Timedelta(days=days)).date().isoformat()
    return {
        "trial_id": trial.trial_id,
        "treatment_code": code,
        "application": f"{date} {product}",
        "product": product,
        "product_n_pct": N_PCT[product],
        "n_rate_lb_ac": n_rate,
        "placement": "banded" if product == "starter" else "broadcast",
        "counts_toward": counts_toward,
    }


def applications_table(trials: pd.DataFrame, treatments: pd.DataFrame) -> pd.DataFrame:
    """Every application of every treatment, and the starter that all plots of some trials received.

    `trials` needs a yes/no column `starter` beside the delivered ones.
    """
    treatments_in = dict(list(treatments.groupby("trial_id")))
    rows = []
    for trial in trials.itertuples():
        if trial.starter:
            rows.append(_application(trial, "ALL", 0, "starter", STARTER_N_LB_AC, counts_toward="background"))
        for treatment in treatments_in[trial.trial_id].itertuples():
            portions = _portions(treatment, CROPS[trial.crop])
            rows += [_application(trial, treatment.treatment_code, *portion) for portion in portions]
    return pd.DataFrame(rows)
