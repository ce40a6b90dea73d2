"""An invented trial as a cooperator would deliver it, to be shown beside empty sheets.

The examples of the declared columns fill the first row of each table; what makes more rows of it stands here.
"""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np
import pandas as pd

from pipeline.contract.tables import Column, declared_tables
from pipeline.contract.units import SQ_FT_PER_ACRE, UNITS
from pipeline.contract.words import reference_column
from pipeline.planning.layout import plan_of_plots
from pipeline.planning.workbook_fields import Field

SHOWN = ("sites", "trials", "treatments", "nitrogen_applications", "plots", "irrigations", "weather_daily")
N_BLOCKS, RANDOM_SEED = 4, 1
WEATHER_DAYS = 10
FULL_RATE, FIRST_PASS = 120, 36  # lb N/ac, as the examples of the declared columns have it
# by treatment code: what it is, and its yield as a share of the middle of the crop's usual range (all invented)
TREATMENTS: dict[str, dict[str, object]] = {
    "ZERO": {"n_source": "none", "coated_n": None, "n_rate": 0, "timing": "none", "passes": 0, "placement": "none",
             "is_zero_n": "yes"},
    "U-120": {"n_source": "urea", "coated_n": None, "n_rate": FULL_RATE},
    "U2-120": {"n_source": "urea", "coated_n": None, "n_rate": FULL_RATE, "timing": "split", "passes": 2,
               "is_grower_standard": "yes"},
    "C50-120": {"n_rate": FULL_RATE},
}  # fmt: skip
SHARES = {"ZERO": 0.62, "U-120": 0.98, "U2-120": 1.03, "C50-120": 1.04}
# one row per pass and product: treatment, application, product, N rate, what it counts toward
APPLICATIONS = (
    ("ALL", "2093-05-02 starter", "starter", 10, 20, "background"),
    ("U-120", "2093-05-02 urea", "urea", 46, FULL_RATE, "treatment"),
    ("U2-120", "2093-05-02 urea", "urea", 46, FIRST_PASS, "treatment"),
    ("U2-120", "2093-06-08 urea", "urea", 46, FULL_RATE - FIRST_PASS, "treatment"),
    ("C50-120", "2093-05-02 urea", "urea", 46, FULL_RATE / 2, "treatment"),
    ("C50-120", "2093-05-02 coated urea", "coated urea", 44, FULL_RATE / 2, "treatment"),
)
NOT_SO_HERE = dict.fromkeys(("main_plot", "cause", "caused_by_treatment"))  # plots of no split-plot, all harvested
SD_OF_BLOCKS, SD_OF_PLOTS = 0.03, 0.02


def example_crop(crops: Mapping[str, str]) -> str:
    """The crop that is shown: the first of these that has ranges of its own, else corn."""
    return next((crop for crop in crops if crop in reference_column("crops", "product")), "corn")


def worked_example(fields: Mapping[str, list[Field]], crop: str) -> dict[str, pd.DataFrame]:
    """By table, rows under the headings of these fields and in their units; a column without an example is left out."""
    trial_id = f"2093-QF-{crop}"
    own = {"trials": [{"trial_id": trial_id, "crop": crop, "due": None}], "sites": [{}]}
    own["treatments"] = [{"trial_id": trial_id, "treatment_code": code} | cells for code, cells in TREATMENTS.items()]
    own["nitrogen_applications"] = [
        {
            "trial_id": trial_id,
            "treatment_code": code,
            "application": when,
            "applied_on": when[:10],
            "product": product,
            "product_n": n_pct,
            "n_rate": rate,
            "counts_toward": toward,
        }
        for code, when, product, n_pct, rate, toward in APPLICATIONS
    ]
    own["plots"] = [{"trial_id": trial_id} | NOT_SO_HERE | cells for cells in _plots(crop)]
    own |= {"irrigations": [], "weather_daily": _weather()}  # the trial that is shown is not irrigated
    return {table: _rows(table, own[table], fields[table], crop) for table in SHOWN}


def _plots(crop: str) -> list[dict]:
    """Every plot with the weight that brings about its invented yield."""
    declared = {column.name: column for column in declared_tables()["plots"].plain_columns}
    typical = [float(reference_column("crops", f"typical_{end}")[crop]) for end in ("low", "high")]
    acres = float(declared["harvest_length"].example) * float(declared["harvest_width"].example) / SQ_FT_PER_ACRE
    full = sum(typical) / 2 * acres * _weight_per_unit(declared, crop)
    rng = np.random.default_rng(RANDOM_SEED)
    blocks = 1 + rng.normal(0, SD_OF_BLOCKS, N_BLOCKS)
    codes = pd.DataFrame({"treatment_code": list(TREATMENTS)})
    plan = plan_of_plots(codes, design="RCBD", n_blocks=N_BLOCKS, random_seed=RANDOM_SEED)
    return [
        {"block": plot.block, "plot": plot.plot, "treatment_code": plot.treatment_code,
         "harvest_weight": round(full * blocks[plot.block - 1] *
         (SHARES[plot.treatment_code] + rng.normal(0, SD_OF_PLOTS)), 1)}
        for plot in plan.itertuples()
    ]  # fmt: skip


def _weight_per_unit(declared: Mapping[str, Column], crop: str) -> float:
    """Pounds weighed per bushel at standard moisture, or per pound of lint."""
    if reference_column("crops", "product")[crop] == "lint":
        return 1 / float(_example(declared["gin_turnout"], crop))
    bushel, standard = (float(reference_column("crops", name)[crop]) for name in ("bushel_lb", "standard_moisture_pct"))
    return bushel * (100 - standard) / (100 - float(_example(declared["moisture"], crop)))


def _weather() -> list[dict]:
    """A wet first days of May; every day has a row, a day without rain a zero."""
    rain = [0.35, 0, 0, 0.12, 0, 0, 0, 1.1, 0.05, 0]
    return [
        {"date": f"2093-05-{day:02d}", "rain": fall, "temp_max": 70 + day, "temp_min": 48 + day}
        for day, fall in enumerate(rain[:WEATHER_DAYS], start=2)
    ]


def _rows(table: str, own: list[dict], fields: list[Field], crop: str) -> pd.DataFrame:
    """Declared examples with what is each row's own, in the units of the fields."""
    declared = {column.name: column for column in declared_tables()[table].plain_columns}
    cells = {
        field.heading: [
            _in_unit(declared[field.column], field, row.get(field.column, _example(declared[field.column], crop)))
            for row in own
        ]
        for field in fields
        if declared[field.column].example and field.column != "yield"
    }
    return pd.DataFrame(cells)


def _example(column: Column, crop: str) -> str:
    """The declared example; the middle of the crop's usual range where the example lies outside it."""
    limits = column.by_crop.get(crop, {}).get("typical")
    if not limits or limits[0] <= float(column.example) <= limits[1]:
        return column.example
    return f"{sum(limits) / 2:.4g}"


def _in_unit(column: Column, field: Field, value: object) -> object:
    """A value in the column's first unit, in that of the heading; numbers as numbers."""
    if value is None or column.type not in ("integer", "number"):
        return value if value is None else str(value)
    number = float(value)
    unit = column.unit_of_heading[field.heading]
    if unit and unit != column.units[0]:
        to = UNITS[unit]
        number = float(f"{(column.in_stored_unit(number) - to.offset) / to.factor:.4g}")
    return int(number) if number.is_integer() else number
