"""Plants the mistakes people make in spreadsheets, each in a trial of its own, and says which check must find it.

A defect edits the delivered tables and returns the index labels of the rows it touched, from which the answer
key finds file and row once every table has its final order.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
import pandas as pd

from pipeline.contract.tables import HOLDS_TRIAL, NOTED, SETS_ASIDE
from pipeline.contract.units import KG_PER_LB
from pipeline.simulation.scenario import N_PCT

NO_FINDING = "no finding"  # said where plots are counted, or mended before the checks
UNKNOWN_COLUMN = "lodging_pct"
HEADINGS = "headings"  # label of the heading row
GAP_FIRST_DAY, GAP_DAYS = "05-20", 9  # inside the rainfall window of every crop

Tables = dict[str, pd.DataFrame]


@dataclass(frozen=True)
class Defect:
    """One planted mistake. `plant(tables, trial)` edits `tables` in place and returns the labeled rows' index.

    `check_names` are the checks that must find it, separated by "; "; `choose` narrows the trials it may be planted in.
    """

    name: str
    crop: str
    season_index: int
    table: str
    column: str
    severity: str
    check_names: str
    done: str
    expected: str
    plant: Callable[[Tables, pd.Series], list]
    choose: Callable[[Tables, pd.DataFrame], pd.DataFrame] = lambda tables, free: free


def _usual_trial(tables: Tables, free: pd.DataFrame) -> pd.DataFrame:
    """The free trial whose weights are most usual for its crop: in a very high or low one a wrong unit cannot be
    told.
    """
    of_crop = tables["trials"].loc[tables["trials"]["crop"] == free["crop"].iloc[0], "trial_id"]
    plots = tables["plots"][tables["plots"]["trial_id"].isin(of_crop)]
    weights = (plots["harvest_weight_lb"] / plots["harvest_length_ft"]).groupby(plots["trial_id"]).mean()
    nearest = (weights - weights.median()).abs()[list(free["trial_id"])].idxmin()
    return free[free["trial_id"] == nearest]


def _rows(frame: pd.DataFrame, trial: pd.Series, **where) -> pd.Index:
    """Rows of a trial whose columns hold the given values."""
    mask = frame["trial_id"] == trial["trial_id"]
    for column, value in where.items():
        mask &= frame[column] == value
    return frame.index[mask]


def _scale(column: str, factor: float, digits: int, **where) -> Callable[[Tables, pd.Series], list]:
    """A planter that multiplies a plots column, in one block or in the whole trial."""

    def plant(tables: Tables, trial: pd.Series) -> list:
        plots = tables["plots"]
        rows = _rows(plots, trial, **where)
        plots.loc[rows, column] = (plots.loc[rows, column] * factor).round(digits)
        return list(rows)

    return plant


def _too_wide(tables: Tables, trial: pd.Series) -> list:
    rows = _rows(tables["plots"], trial)
    tables["plots"].loc[rows, "harvest_width_ft"] = 6.0
    return list(rows)


def _swap_codes(tables: Tables, trial: pd.Series) -> list:
    plots = tables["plots"]
    rows = [
        _rows(plots, trial, block=1, treatment_code="C50-120")[0],
        _rows(plots, trial, block=2, treatment_code="U1-120")[0],
    ]
    plots.loc[rows, "treatment_code"] = plots.loc[rows[::-1], "treatment_code"].to_numpy()
    return rows


def _repeat_row(tables: Tables, trial: pd.Series) -> list:
    plots = tables["plots"]
    row = _rows(plots, trial, block=2)[3]
    tables["plots"] = pd.concat([plots.loc[:row], plots.loc[[row]].rename({row: row + 0.5}), plots.loc[row + 1 :]])
    return [row + 0.5]


def _drop_plot(tables: Tables, trial: pd.Series) -> list:
    row = _rows(tables["plots"], trial, block=3, treatment_code="C50-40")
    tables["plots"] = tables["plots"].drop(row)
    return []


def _hail(tables: Tables, trial: pd.Series) -> list:
    plots = tables["plots"]
    row = _rows(plots, trial, block=1)[4]
    measured = [
        "harvest_weight_lb",
        "moisture_pct",
        "test_weight_lb_bu",
        "gin_turnout_fraction",
        "harvest_length_ft",
    ]
    plots.loc[row, measured] = np.nan
    plots.loc[row, ["outcome", "cause", "caused_by_treatment"]] = ["damaged", "hail", "no"]
    return [row]


def _drift(tables: Tables, trial: pd.Series) -> list:
    plots = tables["plots"]
    rows = _rows(plots, trial, treatment_code="ZERO")
    best = plots.loc[_rows(plots, trial)].groupby("treatment_code")["harvest_weight_lb"].mean().max()
    factor = 1.1 * best / plots.loc[rows, "harvest_weight_lb"].mean()
    plots.loc[rows, "harvest_weight_lb"] = (plots.loc[rows, "harvest_weight_lb"] * factor).round(1)
    return list(rows)


def _product_weight(tables: Tables, trial: pd.Series) -> list:
    applications = tables["nitrogen_applications"]
    rows = _rows(applications, trial, treatment_code="U1-120")
    applications.loc[rows, "n_rate_lb_ac"] = (applications.loc[rows, "n_rate_lb_ac"] / N_PCT["urea"] * 100).round(1)
    return list(rows)


def _misspell(tables: Tables, trial: pd.Series) -> list:
    rows = _rows(tables["treatments"], trial, treatment_code="C50-40")
    tables["treatments"].loc[rows, "n_source"] = "coatd blend"
    return list(rows)


def _rain_gap(tables: Tables, trial: pd.Series) -> list:
    weather = tables["weather_daily"]
    first = pd.Timestamp(f"{trial['season']}-{GAP_FIRST_DAY}")
    here = weather["place"] == trial["site_id"].split()[0]
    gap = here & weather["date"].between(first, first + pd.Timedelta(days=GAP_DAYS - 1))
    tables["weather_daily"] = weather[~gap]
    return list(weather.index[here & (weather["date"] == first + pd.Timedelta(days=GAP_DAYS))])


def _extra_column(tables: Tables, trial: pd.Series) -> list:
    rows = _rows(tables["plots"], trial)
    tables["plots"].loc[rows, UNKNOWN_COLUMN] = np.arange(len(rows)) % 4 * 5
    return [HEADINGS]


DEFECTS = (
    Defect("moisture as a fraction", "corn", 0, "plots", "moisture_pct", HOLDS_TRIAL,
           "plots.moisture outside its hard range",
           "block 2: moisture typed as a fraction, like 0.182 for 18.2",
           "moisture outside its hard range: percent is wanted, not a fraction",
           _scale("moisture_pct", 0.01, 3, block=2)),
    Defect("turnout in percent", "cotton", 1, "plots", "gin_turnout_fraction", HOLDS_TRIAL,
           "plots.gin_turnout outside its hard range",
           "whole trial: turnout typed in percent, like 39.2, under the fraction heading",
           "turnout outside its hard range: a fraction is wanted, or the heading gin_turnout_pct",
           _scale("gin_turnout_fraction", 100, 1)),
    Defect("kilograms under pounds", "corn", 3, "plots", "harvest_weight_lb", NOTED, "kilograms under pounds",
           "whole trial weighed in kg, typed under the lb heading",
           "yields of the trial lie far below other trials of the crop: weighed in kg?",
           _scale("harvest_weight_lb", KG_PER_LB, 1), _usual_trial),
    Defect("swapped plots", "corn", 1, "plots", "treatment_code", NOTED,
           "treatment twice in block; block lacks treatment",
           "codes of a C50-120 plot in block 1 and a U1-120 plot in block 2 exchanged",
           "block 1 has U1-120 twice and no C50-120, block 2 the other way round", _swap_codes),
    Defect("repeated row", "soybean", 2, "plots", "", SETS_ASIDE, "row repeated",
           "one plot row delivered twice, word for word",
           "the row says the same as the one before it; used once", _repeat_row),
    Defect("harvest width", "corn", 2, "plots", "harvest_width_ft", HOLDS_TRIAL, "width against rows",
           "whole trial: width 6 ft typed for 2 rows at 30 in",
           "width 6 ft does not fit 2 rows x 30 in = 5 ft", _too_wide),
    Defect("missing plot", "soybean", 1, "plots", "", NOTED, "block lacks treatment",
           "the row of C50-40 in block 3 left out",
           "C50-40 has no plot in block 3", _drop_plot),
    Defect("hail", "cotton", 2, "plots", "outcome", NO_FINDING, "",
           "one plot of block 1 destroyed by hail, not weighed",
           "plot counted as damaged by hail and left out; not caused by the treatment", _hail),
    Defect("zero-N above treated", "corn", 0, "plots", "treatment_code", NOTED, "unfertilized plots yield more",
           "zero-N plots raised above the best treatment, as after drift",
           "zero-N yields more than the fertilized treatments: drift or misplaced N?", _drift),
    Defect("product weight as N", "corn", 1, "nitrogen_applications", "n_rate_lb_ac", HOLDS_TRIAL,
           "applications do not add up",
           "U1-120: 260.9 lb of urea typed as lb of N",
           "applications add up to 260.9 lb N/ac, the treatment plans 120", _product_weight),
    Defect("misspelled word", "cotton", 3, "treatments", "n_source", HOLDS_TRIAL,
           "treatments.n_source is not a known word",
           'C50-40: "coated blend" typed as "coatd blend"',
           'unknown word "coatd blend"; nearest known word "coated blend"', _misspell),
    Defect("rain gap", "corn", 3, "weather_daily", "date", NOTED, "season without weather; weather not known",
           f"{GAP_DAYS} days from {GAP_FIRST_DAY} missing at the trial's place",
           f"{GAP_DAYS} days missing in the window: no rainfall class for this place and season", _rain_gap),
    Defect("unknown column", "soybean", 3, "plots", UNKNOWN_COLUMN, NOTED, "unknown column",
           f"a column {UNKNOWN_COLUMN} that no table declares",
           f"heading {UNKNOWN_COLUMN} is not known; its cells stay with the delivered rows and are not used",
           _extra_column),
)  # fmt: skip


def plant_defects(tables: Tables, rng: np.random.Generator) -> tuple[Tables, pd.DataFrame]:
    """The tables with every defect, and the rows it touched: one row per defect with trial_id and `labels` (row
    index).
    """
    tables = {name: frame.copy() for name, frame in tables.items()}
    trials = tables["trials"][tables["trials"]["outcome"] == "harvested"]
    seasons = sorted(trials["season"].unique())
    taken: list[str] = []
    planted = []
    for defect in DEFECTS:
        season = seasons[defect.season_index % len(seasons)]
        free = trials[(trials["crop"] == defect.crop) & (trials["season"] == season) & ~trials["trial_id"].isin(taken)]
        free = defect.choose(tables, free)
        trial = free.iloc[int(rng.integers(len(free)))]
        taken.append(trial["trial_id"])
        labels = defect.plant(tables, trial)
        planted.append({"defect": defect, "trial_id": trial["trial_id"], "season": season, "labels": labels})
    return tables, pd.DataFrame(planted)
