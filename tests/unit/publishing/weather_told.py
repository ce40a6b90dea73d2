"""A loaded program whose views say what the weather explains, in numbers made up for it."""

from __future__ import annotations

from collections.abc import Iterable

import pandas as pd

from pipeline.contract.vocabulary import (
    BETWEEN_SEASONS,
    EXCESS_WATER,
    EXPLORATORY,
    NITROGEN_RELEASED,
    SOIL_WARMTH,
    TESTED,
    TO_COME,
    WITHIN_SEASONS,
)
from tests.unit.display.weather_rows import (
    check_row,
    covariate_row,
    expected_row,
    line_rows,
    no_slope_row,
    season_day_rows,
    slope_row,
)

FEW = "Too few: a slope needs 10 site-years with a value for nitrogen released, and there are 4."


def with_weather(tables: dict[str, pd.DataFrame]) -> dict[str, pd.DataFrame]:
    """The tables of a run with rows for its first comparison: rain shown, excess water not, release too few, warmth
    explored.
    """
    comparison, gains = tables["reports.comparisons"].iloc[0], tables["reports.site_year_gains"]
    target = comparison["declared_target"]
    mine = gains[gains["comparison_id"] == comparison["comparison_id"]]
    modeled = {"is_modeled": True, "inputs": "daily rain, temperatures, latitude and soil texture"}
    covariates = []
    for k, row in enumerate(mine.itertuples()):
        rain = 1.0 + 0.4 * k % 7
        of = {"site_year_id": row.site_year_id}
        covariates += [
            covariate_row(row.place, row.season, rain, **of),
            covariate_row(row.place, row.season, rain / 2, covariate=EXCESS_WATER, **modeled, **of),
            covariate_row(
                row.place, row.season, 50 + rain, covariate=SOIL_WARMTH, kind=EXPLORATORY, covariate_unit="°F", **of
            ),
            covariate_row(
                row.place,
                row.season,
                None,
                covariate=NITROGEN_RELEASED,
                covariate_unit="%",
                reason="no release test is declared",
                **of,
            ),
        ]
    rows = {
        "weather_covariates": covariates,
        "weather_slopes": [
            slope_row(),
            slope_row(estimate_id="5109e001-cccc", part=WITHIN_SEASONS, is_headline=False, is_shown=False),
            slope_row(
                estimate_id="5109e002-aaaa", covariate=EXCESS_WATER, is_shown=False, conf_low=-0.5,
                carried_by=BETWEEN_SEASONS, p_value_holm=0.3
            ),
            slope_row(
                estimate_id="5109e003-aaaa", covariate=SOIL_WARMTH, kind=EXPLORATORY, is_shown=False,
                covariate_unit="°F",
                slope_unit="bu/ac per °F", n_tests=1,
            ),
            no_slope_row(FEW, estimate_id="5109e004-aaaa", covariate=NITROGEN_RELEASED, covariate_unit="%",
                         slope_unit="bu/ac per 10%"),
        ],
        "weather_slope_checks": [check_row("season", "2093", 0.5, -1.1), check_row("site-year", "elm-2091", 1.1, 0.4)],
        "weather_lines": line_rows(),
        "weather_gains": [expected_row("all", 5.1, 0.07), expected_row("W", 4.4, 0.0), expected_row("Alder", 6.2, 0.2)],
        "weather_sources": [_days_of(row) for row in covariates],
        "season_days": season_day_rows(site_year_id=mine["site_year_id"].iloc[0],
                                       first=f"{mine['season'].iloc[0]}-05-03"),
    }  # fmt: skip
    named = {name: comparison[name] for name in ("comparison_id", "position", "says", "crop")}
    return tables | {
        f"reports.{name}": _like(tables[f"reports.{name}"], found, named, target) for name, found in rows.items()
    }


def _days_of(row: dict) -> dict:
    """The days behind a covariate in the rows of one file."""
    named = {name: row[name] for name in ("comparison_id", "crop", "site_year_id", "covariate")}
    return named | {
        "used_for": "window", "file": f"seasons/{row['season']}/weather_daily.csv", "sheet": None, "first_row": 3,
        "last_row": 32, "n_days": 30,
        "first_date": row["window_from"], "last_date": row["window_to"], "rain_mm": 25.4, "rain_inch": 1.0,
        "display_units": "us", "sha256": "ef" * 32,
    }  # fmt: skip


def _like(view: pd.DataFrame, rows: pd.DataFrame | Iterable[dict], named: dict, target: str) -> pd.DataFrame:
    """The rows as those of the program's comparison and target, with the columns of the view and no others."""
    assert target in (TESTED, TO_COME)
    frame = pd.DataFrame(rows)
    frame = frame.assign(**{name: value for name, value in named.items() if name in view})
    frame = frame.assign(target=target) if "target" in view else frame
    assert set(frame) == set(view), set(frame) ^ set(view)
    return frame[list(view)]
