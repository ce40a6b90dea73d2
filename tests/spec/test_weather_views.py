"""The views of what the weather explains carry stored units into the reader's: an inch is 25.4 mm, 10 C are 50 F, and a
slope per mm is 25.4 times as large per inch."""

from __future__ import annotations

from datetime import date

import pandas as pd
import pytest

from pipeline.contract.results import declared_results
from pipeline.contract.vocabulary import (
    ALL_DIFFERENCES,
    COVARIATE_UNITS,
    DECLARED,
    EXCESS_WATER,
    HEAVY_RAIN_DAYS,
    NITROGEN_RELEASED,
    SOIL_WARMTH,
    TESTED,
)
from pipeline.warehouse import open_warehouse
from tests.declared_shapes import whole
from tests.tiny_program import write_tiny_program

LB_AC = 0.45359237 / (43560 * 0.3048**2) * 10_000
BU = 56 * LB_AC
ONE = {"comparison_id": "corn-blend-vs-urea", "target": TESTED}
# covariate -> stored value, as it is told in US and in metric units
VALUES = {
    EXCESS_WATER: (50.8, (2.0, "in."), (50.8, "mm")),
    SOIL_WARMTH: (10.0, (50.0, "°F"), (10.0, "°C")),
    HEAVY_RAIN_DAYS: (3.0, (3.0, "days"), (3.0, "days")),
    NITROGEN_RELEASED: (40.0, (40.0, "%"), (40.0, "%")),
}
# covariate -> a stored slope of 2 bushels per US step, as it is told in US and in metric units
SLOPES = {
    EXCESS_WATER: (2 * BU / 25.4, (2.0, "bu/ac per in."), (20 * BU / 25.4, "kg/ha per 10 mm")),
    SOIL_WARMTH: (2 * BU * 9 / 5, (2.0, "bu/ac per °F"), (2 * BU * 9 / 5, "kg/ha per °C")),
    HEAVY_RAIN_DAYS: (2 * BU, (2.0, "bu/ac per day"), (2 * BU, "kg/ha per day")),
    NITROGEN_RELEASED: (0.2 * BU, (2.0, "bu/ac per 10%"), (2 * BU, "kg/ha per 10%")),
}
DAY = {"date": date(2091, 5, 2), "rain_mm": 12.7, "irrigation_mm": 25.4, "excess_mm": 2.54, "soil_temp_c": 15.0}


def _rows() -> dict[str, pd.DataFrame]:
    covariates = [
        ONE
        | {
            "covariate": name,
            "site_year_id": "alder-2091",
            "place": "Alder",
            "season": 2091,
            "window_from": date(2091, 5, 2),
            "window_to": date(2091, 5, 4),
            "kind": DECLARED,
            "value": stored,
            "unit": COVARIATE_UNITS[name],
        }
        for name, (stored, *_) in VALUES.items()
    ]
    slopes = [
        ONE
        | {
            "estimate_id": name,
            "covariate": name,
            "covariate_unit": COVARIATE_UNITS[name],
            "kind": DECLARED,
            "part": ALL_DIFFERENCES,
            "method": "mixed model",
            "estimate": stored,
            "std_error": stored,
            "conf_low": -stored,
            "conf_high": 3 * stored,
            "center": VALUES[name][0],
            "lowest": VALUES[name][0],
            "highest": VALUES[name][0],
            "gain_at_center": 3 * BU,
            "tau2_before": (5 * BU) ** 2,
            "tau2_after": (4 * BU) ** 2,
        }
        for name, (stored, *_) in SLOPES.items()
    ]
    checks = [row | {"kind": "season left out", "left_out": "2091"} for row in slopes]
    lines = [row | {"at": row["center"], "estimate": 3 * BU, "conf_low": BU, "conf_high": 5 * BU} for row in slopes]
    gains = [
        ONE
        | {
            "covariate": EXCESS_WATER,
            "level": "all",
            "estimate_id": "g",
            "estimate": 3 * BU,
            "std_error": BU,
            "conf_low": BU,
            "conf_high": 5 * BU,
        }
    ]
    days = [ONE | DAY | {"site_year_id": "alder-2091"}]
    named = {
        "weather_covariates": covariates,
        "weather_slopes": slopes,
        "weather_slope_checks": checks,
        "weather_lines": lines,
        "weather_gains": gains,
        "season_days": days,
    }
    return {name: _narrowed(name, pd.DataFrame(rows)) for name, rows in named.items()}


def _narrowed(table: str, rows: pd.DataFrame) -> pd.DataFrame:
    columns = [column.name for column in declared_results()[table].columns]
    return whole(table, rows[[name for name in columns if name in rows]])


@pytest.fixture(scope="module", params=["us", "metric"])
def told(request, tmp_path_factory):
    """(position of the program's units in VALUES and SLOPES, its views by name)"""
    tiny = write_tiny_program(tmp_path_factory.mktemp(request.param) / "program")
    tiny.settings("program: Tiny trials\n", f"program: Tiny trials\ndisplay_units: {request.param}\n")
    comparison = {
        "position": 0,
        "says": "blend against urea",
        "crop": "corn",
        "rates": "{}",
        "declared": date(2090, 11, 15),
    }
    comparisons = {"estimates.comparisons": whole("comparisons", pd.DataFrame([ONE | comparison]))}
    tiny.load(lambda warehouse, program, card, tell: (comparisons, card))
    with open_warehouse(tiny.folder / "warehouse.duckdb") as warehouse:
        views = {}
        for name, rows in _rows().items():
            schema = "trials" if name in ("weather_covariates", "season_days") else "estimates"
            warehouse.execute(f"delete from {schema}.{name}")  # what the run found by itself
            warehouse.insert(f"{schema}.{name}", rows)
            views[name] = warehouse.table(f"reports.{name}")
        views["weather_sources"] = warehouse.table("reports.weather_sources")
    return ("us", "metric").index(request.param) + 1, views


@pytest.mark.parametrize("covariate", VALUES)
def test_values_of_covariates(told, covariate):
    at, views = told
    value, unit = VALUES[covariate][at]
    (row,) = views["weather_covariates"].query("covariate == @covariate").to_dict("records")
    assert (row["value"], row["covariate_unit"]) == (pytest.approx(value), unit)
    (slope,) = views["weather_slopes"].query("covariate == @covariate").to_dict("records")
    assert [slope["center"], slope["lowest"], slope["highest"]] == pytest.approx([value] * 3)
    (line,) = views["weather_lines"].query("covariate == @covariate").to_dict("records")
    gain = (3, 1, 5) if at == 1 else (3 * BU, BU, 5 * BU)
    assert (line["at"], line["estimate"], line["conf_low"], line["conf_high"]) == pytest.approx((value, *gain))


@pytest.mark.parametrize("covariate", SLOPES)
def test_slopes(told, covariate):
    at, views = told
    size, unit = SLOPES[covariate][at]
    for view in ("weather_slopes", "weather_slope_checks"):
        (row,) = views[view].query("covariate == @covariate").to_dict("records")
        assert (row["estimate"], row["conf_low"], row["conf_high"]) == pytest.approx((size, -size, 3 * size))
        assert (row["slope_unit"], row["slope_digits"]) == (unit, 1)
    spread = views["weather_slopes"].iloc[0]
    assert (spread["tau_before"], spread["tau_after"]) == pytest.approx((5, 4) if at == 1 else (5 * BU, 4 * BU))


def test_gains_and_days(told):
    at, views = told
    gain = views["weather_gains"].iloc[0]
    assert gain["estimate"] == pytest.approx(3 if at == 1 else 3 * BU) and gain["estimate_kg_ha"] == pytest.approx(
        3 * BU
    )
    day = views["season_days"].iloc[0]
    assert (day["rain_inch"], day["irrigation_inch"], day["excess_inch"], day["soil_temp_f"]) == pytest.approx(
        (0.5, 1, 0.1, 59)
    )
    assert (day["rain_mm"], day["soil_temp_c"]) == (12.7, 15.0) and pd.isna(day["released_pct"])


def test_the_days_of_a_window_with_the_rows_they_were_delivered_in(told):
    """Rain of 0.5, 0.6 and 0.7 inches on May 2 to 4, in the second to fourth row of the season's file."""
    rows = told[1]["weather_sources"]
    assert sorted(rows["covariate"]) == sorted(VALUES)
    row = rows.iloc[0]
    assert (row["site_year_id"], row["file"], row["first_row"], row["last_row"], row["n_days"]) == (
        "alder-2091",
        "seasons/2091/weather_daily.csv",
        3,
        5,
        3,
    )
    assert (row["rain_inch"], row["rain_mm"]) == pytest.approx((1.8, 1.8 * 25.4)) and len(row["sha256"]) == 64
