"""What an analysis of the simulated program should recover, for both targets."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd

from pipeline.contract.vocabulary import RAINFALL_CLASSES
from pipeline.simulation.scenario import (
    BLEND_GAIN_FACTOR,
    CELL_GAINS,
    CROPS,
    SEASON_KINDS,
    SITES,
    SOYBEAN,
    CropScenario,
)

SAYS = (
    "seasons_tested is the mean of the cell gains over the harvested site-years. seasons_to_come is the mean when "
    "seasons are drawn again, each kind of season_process with equal chance and its dry or wet places at random, "
    "and places are drawn from the crop's sites with equal chance. Per acre in the unit named; kg_ha beside it."
)


@dataclass(frozen=True)
class TrueContrast:
    """A comparison's true gain = `factor` x gain of C50 over `over` + `added`, in the crop's yield unit."""

    crop: str
    over: str
    factor: float = 1.0
    added: float = 0.0


CONTRASTS = {
    "corn-c50-once-vs-urea-once": TrueContrast("corn", "urea once"),
    "corn-c50-once-vs-urea-split": TrueContrast("corn", "urea split"),
    "corn-c25-once-vs-urea-once": TrueContrast("corn", "urea once", factor=BLEND_GAIN_FACTOR["C25"]),
    "corn-c75-once-vs-urea-once": TrueContrast("corn", "urea once", factor=BLEND_GAIN_FACTOR["C75"]),
    "cotton-c50-once-vs-urea-once": TrueContrast("cotton", "urea once"),
    "cotton-c50-once-vs-urea-split": TrueContrast("cotton", "urea split"),
    "soybean-c50-once-vs-urea-once": TrueContrast("soybean", "urea once"),
    "soybean-c50-once-vs-zero-n": TrueContrast("soybean", "urea once", added=SOYBEAN.flat_n_response),
}


def class_shares() -> dict[str, float]:
    """Long-run share of dry, normal and wet among site-years under the season process."""
    shares = dict.fromkeys(RAINFALL_CLASSES, 0.0)
    for kind in SEASON_KINDS:
        share = kind.class_places / len(SITES)
        shares[kind.rainfall_class] += share / len(SEASON_KINDS)
        shares["normal"] += (1 - share) / len(SEASON_KINDS)
    return shares


def group_shares(crop: str) -> dict[str, float]:
    """Share of each drainage group among the sites of a crop."""
    groups = pd.Series([site.drainage_group for site in SITES if crop in site.crops])
    return groups.value_counts(normalize=True).to_dict()


def weighted_mean(cells: dict[str, tuple[float, ...]], groups: dict[str, float], classes: dict[str, float]) -> float:
    """Mean of a drainage x rainfall table of gains under given shares."""
    return sum(groups[g] * classes[c] * cells[g][i] for g in groups for i, c in enumerate(RAINFALL_CLASSES))


def _both_units(value: float, crop: CropScenario) -> dict[str, float]:
    return {"per_acre": round(float(value), 6), "kg_ha": round(float(value) * crop.kg_ha_per_unit, 6)}


def _comparison_truth(contrast: TrueContrast, site_years: pd.DataFrame) -> dict:
    crop = CROPS[contrast.crop]
    column = "gain_over_" + contrast.over.replace(" ", "_")
    own = site_years[site_years["crop"] == contrast.crop]
    cell = contrast.factor * own[f"cell_{column}"] + contrast.added
    gain = contrast.factor * own[column] + contrast.added
    table = CELL_GAINS[contrast.over][contrast.crop]
    to_come = contrast.factor * weighted_mean(table, group_shares(crop.name), class_shares()) + contrast.added
    tau = contrast.factor * crop.tau
    return {
        "crop": crop.name,
        "unit": crop.yield_unit,
        "seasons_tested": {**_both_units(cell.mean(), crop), "n_site_years": len(own)},
        "seasons_to_come": _both_units(to_come, crop),
        "tau_within_cells": _both_units(tau, crop),
        "sd_between_site_years": _both_units(float(np.sqrt(tau**2 + cell.var(ddof=0))), crop),
        "cells": {
            f"{group} x {rainfall}": _both_units(contrast.factor * value + contrast.added, crop)
            for group, values in table.items()
            for rainfall, value in zip(RAINFALL_CLASSES, values, strict=True)
        },
        "site_years": [
            {
                "trial_id": row.trial_id,
                "site_id": row.site_id,
                "season": int(row.season),
                "drainage_group": row.drainage_group,
                "rainfall_class": row.rainfall_class,
                "cell_gain": _both_units(c, crop),
                "true_gain": _both_units(g, crop),
            }
            for row, c, g in zip(own.itertuples(), cell, gain, strict=True)
        ],
    }


def truth_of(site_years: pd.DataFrame, *, random_seed: int, seasons: tuple[int, ...]) -> dict:
    """The truth as plain lists and numbers, ready for JSON."""
    sds = ("sd_site", "sd_season", "sd_site_season", "sd_block", "sd_plot", "tau")
    return {
        "random_seed": random_seed,
        "seasons": list(seasons),
        "says": SAYS,
        "season_process": {
            "kinds": [
                {"kind": k.name, "rainfall_class": k.rainfall_class, "of_12_places": k.class_places}
                for k in SEASON_KINDS
            ],
            "class_shares_to_come": {name: round(share, 6) for name, share in class_shares().items()},
        },
        "variances_kg_ha": {
            c.name: {sd.replace("sd_", ""): round((getattr(c, sd) * c.kg_ha_per_unit) ** 2, 3) for sd in sds}
            for c in CROPS.values()
        },
        "comparisons": {name: _comparison_truth(contrast, site_years) for name, contrast in CONTRASTS.items()},
    }
