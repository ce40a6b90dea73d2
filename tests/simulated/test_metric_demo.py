"""The demo's tables in metric units beside those in US units: every number is the same quantity, in the unit that the
data dictionary names for its column.

Factors: 1 lb is 0.45359237 kg, 1 ft is 0.3048 m, an acre is 43,560 square feet (NIST Special Publication 811, from
memory); a bushel is 56 lb of corn or 60 lb of soybeans.
"""

from __future__ import annotations

import re
import shutil

import duckdb
import numpy as np
import pandas as pd
import pytest

from pipeline.publishing.view_columns import told_of
from pipeline.sql_steps import in_order, steps_of

LB, ACRE = 0.45359237, 43560 * 0.3048**2 / 10_000
BUSHEL = {"corn": 56 * LB, "soybean": 60 * LB}
IN_METRIC = {
    ("lb/ac", "kg/ha"): LB / ACRE,
    ("plants/ac", "plants/ha"): 1 / ACRE,
    ("in", "cm"): 2.54,
    ("in.", "mm"): 25.4,
    ("in.", "10 mm"): 2.54,
    ("°F", "°C"): 1 / 1.8,
}
# what a run stores in the units of its program
OF_THE_RUN = ("findings",)
# how many decimals are printed, for how many units a slope is told, and the size of a unit
HOW_PRINTED = (
    "digits",
    "covariate_digits",
    "slope_digits",
    "economic_digits",
    "step",
    "kg_ha_per_unit",
    "kg_ha_per_n_unit",
)
UNITS_NAMED = (
    "covariate_unit",
    "display_unit",
    "the row's economic_unit",
    "the row's n_unit",
    "the row's slope_unit",
    "the row's unit",
    "the row's unit and n_unit",
)
NAMED = re.compile(r"see (?:the row's )?(\w+)(?: and (\w+))?")


@pytest.fixture(scope="module")
def both(demo_run, tmp_path_factory) -> tuple[dict[str, pd.DataFrame], dict[str, pd.DataFrame]]:
    """Every view of the demo in US units, and over the same estimates in metric ones."""
    file = tmp_path_factory.mktemp("metric") / "warehouse.duckdb"
    shutil.copyfile(demo_run / "warehouse.duckdb", file)
    reports = steps_of(("reports",))
    stored = {name: step for name, step in steps_of(("reference",)).items() if "reference.program" in step.needs}
    stored["reports.comparisons"] = reports["reports.comparisons"]
    views = [name for name in reports if name.removeprefix("reports.") not in OF_THE_RUN]
    with duckdb.connect(str(file)) as warehouse:
        us = {name: warehouse.table(name).df() for name in views}
        warehouse.execute("update reference.program set display_units = 'metric'")
        for name in in_order(stored):
            warehouse.execute(f"drop table {name}; {stored[name].query}")
        return us, {name: warehouse.table(name).df() for name in views}


def factor(us: str, metric: str, crop: str) -> float:
    """What a number in the first unit is multiplied by to be one in the second; nan where nothing is known of them."""
    if us == metric:
        return 1.0
    if " per " in us:
        (above, below), (metric_above, metric_below) = us.split(" per "), metric.split(" per ")
        return factor(above, metric_above, crop) / factor(below, metric_below, crop)
    if (us, metric) == ("bu/ac", "kg/ha"):
        return BUSHEL[crop] / ACRE
    return IN_METRIC.get((us, metric), np.nan)


def crops_of(frame: pd.DataFrame, comparisons: pd.DataFrame) -> list[str]:
    if "crop" in frame or "comparison_id" not in frame:
        return list(frame.get("crop", [""] * len(frame)))
    return list(frame["comparison_id"].map(comparisons.set_index("comparison_id")["crop"]))


def units_said(frame: pd.DataFrame, unit: str) -> list[str]:
    """The unit of each row, where the dictionary leads to columns that name it."""
    columns = [name for name in NAMED.fullmatch(unit).groups() if name]
    if not set(columns) <= set(frame):
        return ["not there"] * len(frame)
    return [" per ".join(each) for each in zip(*(frame[name].fillna("") for name in columns), strict=True)]


def in_metric(column: str, unit: str, us: pd.DataFrame, metric: pd.DataFrame, crops: list[str]) -> np.ndarray:
    """The numbers of a column in US units, carried over to the units that the rows in metric units name."""
    numbers = us[column].to_numpy(float, na_value=np.nan)
    if not unit.startswith("see "):
        return numbers
    units = list(zip(units_said(us, unit), units_said(metric, unit), crops, strict=True))
    zeros = [32.0 if unit == "see covariate_unit" and said == "°F" else 0.0 for said, *_ in units]
    return (numbers - zeros) * [np.nan if said == "not there" else factor(said, *more) for said, *more in units]


def test_every_number_is_the_same_in_the_unit_that_the_dictionary_names(both):
    us, metric = both
    wrong, moved = [], set()
    for view, frame in us.items():
        other, crops = metric[view], crops_of(frame, us["reports.comparisons"])
        assert list(frame) == list(other) and len(frame) == len(other), view
        for column in frame.select_dtypes("number").columns.difference(HOW_PRINTED):
            unit = told_of(view.removeprefix("reports."), column, frame.columns).unit
            expected = in_metric(column, unit, frame, other, crops)
            found = other[column].to_numpy(float, na_value=np.nan)
            if not np.allclose(expected, found, rtol=1e-9, equal_nan=True):
                wrong.append(f"{view}.{column}: {unit or 'no unit'}")
            if not np.allclose(found, frame[column].to_numpy(float, na_value=np.nan), equal_nan=True):
                moved.add(unit)
    assert wrong == []
    assert moved == {f"see {name}" for name in UNITS_NAMED}
