"""True plot yields to what a cooperator writes down: weight, moisture, turnout, length, stand."""

from __future__ import annotations

import numpy as np
import pandas as pd

from pipeline.simulation.scenario import CROPS, CropScenario

SQ_FT_PER_ACRE = 43560
TRIAL_SHARE = 0.9  # INV: moisture and turnout vary mostly between trials: share of the variance


def _by_trial(rng: np.random.Generator, trial_ids: pd.Series, mean_sd: tuple[float, float], digits: int) -> np.ndarray:
    """Values that share most of their variance within a trial, kept between 1.5 SD below and 2 SD above the mean."""
    mean, sd = mean_sd
    codes, trials = pd.factorize(trial_ids)
    z = np.sqrt(TRIAL_SHARE) * rng.standard_normal(len(trials))[codes] + np.sqrt(1 - TRIAL_SHARE) * rng.standard_normal(
        len(codes)
    )
    return (mean + sd * z.clip(-1.5, 2)).round(digits)


def weigh(rng: np.random.Generator, plots: pd.DataFrame, crop: CropScenario) -> pd.DataFrame:
    """The plots table of one crop. The yield computed back from it differs from the true one by the scale's step
    only.
    """
    weighed = plots[plots["crop"] == crop.name].copy()
    n = len(weighed)
    trial_codes, trials = pd.factorize(weighed["trial_id"])
    length = rng.integers(crop.harvest_length_ft[0], crop.harvest_length_ft[1] + 1, len(trials))[trial_codes]
    acres = crop.rows_harvested * crop.row_spacing_in / 12 * length / SQ_FT_PER_ACRE
    weight = weighed["yield_per_ac"] * crop.bushel_lb * acres
    weighed["moisture_pct"] = weighed["test_weight_lb_bu"] = weighed["gin_turnout_fraction"] = np.nan
    if crop.moisture_pct is not None:
        weighed["moisture_pct"] = _by_trial(rng, weighed["trial_id"], crop.moisture_pct, 1)
        mean, sd = crop.test_weight_lb_bu
        weighed["test_weight_lb_bu"] = (mean + sd * rng.standard_normal(n).clip(-3, 3)).round(1)
        weight = weight * (100 - crop.standard_moisture_pct) / (100 - weighed["moisture_pct"])
    if crop.gin_turnout is not None:
        weighed["gin_turnout_fraction"] = _by_trial(rng, weighed["trial_id"], crop.gin_turnout, 3)
        weight = weight / weighed["gin_turnout_fraction"]
    weighed["harvest_weight_lb"] = ((weight / crop.scale_step_lb).round() * crop.scale_step_lb).round(2)
    weighed["harvest_length_ft"], weighed["rows_harvested"] = length, crop.rows_harvested
    weighed["stand_plants_ac"] = (rng.normal(*crop.stand_plants_ac, n) / 100).round().astype(int) * 100
    return weighed


def plots_table(rng: np.random.Generator, plots: pd.DataFrame) -> pd.DataFrame:
    """The plots table of all crops, in the order of `plots`."""
    weighed = pd.concat([weigh(rng, plots, crop) for crop in CROPS.values()]).sort_index()
    weighed["harvest_width_ft"] = np.nan  # left empty: rows x row spacing
    weighed = weighed.assign(outcome="harvested", cause="", caused_by_treatment="", notes="")
    return weighed[[
        "trial_id", "block", "plot", "treatment_code", "harvest_weight_lb", "moisture_pct", "test_weight_lb_bu",
        "gin_turnout_fraction", "harvest_length_ft", "harvest_width_ft", "rows_harvested", "stand_plants_ac",
        "outcome", "cause", "caused_by_treatment", "notes",
    ]]  # fmt: skip
