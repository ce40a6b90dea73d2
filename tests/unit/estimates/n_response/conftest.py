"""Invented ladders of known response, built without any code of the pipeline."""

from types import SimpleNamespace

import numpy as np
import pandas as pd
import pytest

UREA, BLEND, SPLIT = (
    "urea, at planting, 1 pass",
    "coated blend (50% coated), at planting, 1 pass",
    "urea, split, 2 passes",
)
APPLIED = {
    "none": {"n_source": "none", "coated_n_fraction": 0.0, "timing": "none", "passes": 0},
    UREA: {"n_source": "urea", "coated_n_fraction": 0.0, "timing": "at planting", "passes": 1},
    BLEND: {"n_source": "coated blend", "coated_n_fraction": 0.5, "timing": "at planting", "passes": 1},
    SPLIT: {"n_source": "urea", "coated_n_fraction": 0.0, "timing": "split", "passes": 2},
}
PLAIN = {"placement": "broadcast", "additive": "none", "factors": None, "is_grower_standard": False}


def bend(rates, join):
    """Rise of a quadratic-plateau of slope 1 at zero-N."""
    reached = np.minimum(np.asarray(rates, float), join)
    return reached - reached**2 / (2 * join)


def treatment(trial_id: str, code: str, family: str, rate: float, **other) -> dict:
    """One treatment row; family is one of APPLIED."""
    row = {"trial_id": trial_id, "treatment_code": code, "n_rate_kg_ha": float(rate), "is_zero_n": rate == 0}
    return PLAIN | APPLIED[family] | row | other


def trial_frames(
    yields: dict[str, dict[float, list[float]]],
    *,
    trial_id: str = "t",
    crop: str = "corn",
    design: str = "RCBD",
):
    """(trials, treatments, plots) of one trial from family -> rate -> yields, one for each block."""
    trials = [
        {
            "trial_id": trial_id,
            "site_year_id": f"sy-{trial_id}",
            "place": trial_id,
            "season": 2091,
            "crop": crop,
            "design": design,
        }
    ]
    treatments, plots = [], []
    for family, by_rate in yields.items():
        for rate, values in by_rate.items():
            code = f"{family}-{rate:g}"
            treatments.append(treatment(trial_id, code, "none" if rate == 0 else family, rate))
            plots += [
                {
                    "trial_id": trial_id,
                    "block": str(block),
                    "main_plot": None,
                    "treatment_code": code,
                    "value": value,
                }
                for block, value in enumerate(values, start=1)
            ]
    plots = pd.DataFrame(plots)
    return (
        pd.DataFrame(trials),
        pd.DataFrame(treatments),
        plots.assign(plot=[str(i) for i in range(len(plots))]),
    )


def program(
    seed: int,
    *,
    n_site_years: int = 8,
    rates=(60, 120, 180, 240),
    joins=None,
    slope: float = 55.0,
    slope_sd: float = 8.0,
    plot_sd: float = 300.0,
    n_blocks: int = 4,
    crop: str = "corn",
):
    """(trials, treatments, plots, arms): one trial per site-year, a zero-N and each family of `joins` (family ->
    join).
    """
    rng = np.random.default_rng(seed)
    joins = joins or {UREA: 160.0}
    found, arms = [], []
    for number in range(n_site_years):
        own_slope, level = rng.normal(slope, slope_sd), rng.normal(6000, 800) + rng.normal(0, 350, n_blocks)
        yields = {"none": {0.0: level + rng.normal(0, plot_sd, n_blocks)}}
        for family, join in joins.items():
            yields[family] = {
                float(rate): level + own_slope * bend(rate, join) + rng.normal(0, plot_sd, n_blocks) for rate in rates
            }
        trial_id = f"t{number:02d}"
        found.append(trial_frames(yields, trial_id=trial_id, crop=crop))
        arms += [
            {"comparison_id": "c", "trial_id": trial_id, "treatment_code": f"{family}-{rate:g}", "arm": arm,
             "rate_kg_ha": float(rate), "rate_weight": 1.0}
            for family, arm in ((BLEND, "treatment"), (UREA, "comparator"))
            for rate in rates
            if family in joins
        ]  # fmt: skip
    trials, treatments, plots = (pd.concat(frames, ignore_index=True) for frames in zip(*found, strict=True))
    return trials, treatments, plots, pd.DataFrame(arms)


def source_rows(*families: str, ratio: float = 6.0, crop: str = "corn"):
    """Price ratios as source_prices gives them; without families, for all of APPLIED."""
    rows = {"crop": crop, "family": list(families) or list(APPLIED), "price_ratio": ratio, "worth_1_per_ac_kg_ha": 13.9}
    return pd.DataFrame(rows)


@pytest.fixture(scope="session")
def make():
    """The builders above, for tests to call."""
    return SimpleNamespace(
        trial=trial_frames,
        program=program,
        treatment=treatment,
        bend=bend,
        sources=source_rows,
        UREA=UREA,
        BLEND=BLEND,
        SPLIT=SPLIT,
    )
