"""Rows of the reports views of what the weather explains, as a program in US units has them."""

from __future__ import annotations

import pandas as pd

from pipeline.contract.vocabulary import ALL_DIFFERENCES, DECLARED, RAIN_AFTER, TESTED, WITHIN_SEASONS
from tests.unit.display.rows import NONE

BLEND = {"comparison_id": "blend", "position": 0, "says": "half-coated blend against urea", "crop": "corn"}
YIELD = {"unit": "bu/ac", "digits": 1}
ASKED = {"target": TESTED, "is_declared": True, "covariate": RAIN_AFTER}


def slope_row(**changed) -> dict:
    """A headline of reports.weather_slopes that is shown: 0.9 bu/ac more gain for each extra inch, 33 site-years in 4
    seasons.
    """
    row = BLEND | YIELD | ASKED | {
        "estimate_id": "5109e001-aaaa", "kg_ha_per_unit": 62.77, "kind": DECLARED, "part": ALL_DIFFERENCES,
        "method": "mixed model",
        "estimate": 0.93, "std_error": 0.4, "df": 21.4, "df_method": "Satterthwaite", "conf_level": 0.95,
        "conf_low": 0.1, "conf_high": 1.72,
        "slope_unit": "bu/ac per in.", "slope_digits": 1, "step": 1.0, "covariate_unit": "in.", "covariate_digits": 1,
        "p_value": 0.012, "p_value_holm": 0.024, "n_tests": 2, "is_headline": True, "is_shown": True,
        "carried_by": WITHIN_SEASONS,
        "center": 4.1, "gain_at_center": 5.8, "lowest": 1.2, "highest": 8.4, "within_share": 0.4, "n_site_years": 33,
        "n_places": 12,
        "n_seasons": 4, "n_distinct": 31, "n_unknown": 0, "tau_before": 6.1, "tau_after": 5.0, "p_permutation": 0.031,
        "n_permutations": 999,
        "aicc_line": 210.3, "aicc_curve": 212.1, "reason": "",
        "rule": "The covariate differs within and between seasons.",
        "formula": "gain ~ 1 + x", "warnings": "", "estimate_kg_ha": 2.3,
    }  # fmt: skip
    assert not set(changed) - set(row), set(changed) - set(row)
    return row | changed


def no_slope_row(reason: str, **changed) -> dict:
    """One for which the rules allow no slope."""
    told = (
        "estimate",
        "std_error",
        "df",
        "conf_low",
        "conf_high",
        "p_value",
        "p_value_holm",
        "tau_before",
        "tau_after",
        "p_permutation",
        "aicc_line",
        "aicc_curve",
    )
    return slope_row(**dict.fromkeys(told, NONE), is_shown=False, carried_by=None, reason=reason, **changed)


def covariate_row(place: str, season: int, value: float, **changed) -> dict:
    """A row of reports.weather_covariates: rain in the 30 days after application."""
    row = BLEND | {
        "site_year_id": f"{place.lower()}-{season}", "place": place, "season": season, "drainage_group": "P",
        "covariate": RAIN_AFTER,
        "kind": DECLARED, "value": value, "covariate_unit": "in.", "covariate_digits": 1,
        "window_from": pd.Timestamp(season, 5, 3),
        "window_to": pd.Timestamp(season, 6, 1), "n_days": 30, "n_days_missing": 0, "is_modeled": False,
        "inputs": "daily rain",
        "reason": None, "n_trials": 1,
    }  # fmt: skip
    assert not set(changed) - set(row), set(changed) - set(row)
    return row | changed


def line_rows() -> list[dict]:
    """Rows of reports.weather_lines from 1.2 to 8.4 inches."""
    named = {name: BLEND[name] for name in ("comparison_id", "position", "crop")}
    of_line = named | YIELD | ASKED | {"covariate_unit": "in.", "covariate_digits": 1}
    return [
        of_line | {"at": at, "estimate": 2 + 0.93 * at, "conf_low": at, "conf_high": 4 + at} for at in (1.2, 4.8, 8.4)
    ]


def expected_row(level: str, estimate: float, share_outside: float, **changed) -> dict:
    """A row of reports.weather_gains."""
    row = BLEND | YIELD | ASKED | {
        "estimate_id": f"9a1{level.lower()}-bbbb", "kg_ha_per_unit": 62.77, "level": level, "estimate": estimate,
        "std_error": 1.2, "df": 20.0, "df_method": "Satterthwaite", "conf_level": 0.95, "conf_low": estimate - 2,
        "conf_high": estimate + 2,
        "n_years": 30, "share_outside": share_outside, "reason": None, "warnings": "",
        "estimate_kg_ha": estimate * 62.77,
    }  # fmt: skip
    assert not set(changed) - set(row), set(changed) - set(row)
    return row | changed


def check_row(kind: str, left_out: str, estimate: float, change: float) -> dict:
    """A row of reports.weather_slope_checks."""
    named = {name: BLEND[name] for name in ("comparison_id", "position", "crop")}
    return named | ASKED | {
        "kind": kind, "left_out": left_out, "estimate": estimate, "conf_low": estimate - 1, "conf_high": estimate + 1,
        "slope_unit": "bu/ac per in.", "slope_digits": 1, "change_in_std_errors": change,
    }  # fmt: skip


def season_day_rows(
    n_days: int = 60, *, site_year_id: str = "alder-2092", first: str = "2092-05-03", **changed
) -> pd.DataFrame:
    """Rows of reports.season_days from May 3 on: an inch on each tenth day, of which the soil cannot hold half."""
    dates = pd.date_range(first, periods=n_days)
    rain = [25.4 if k % 10 == 4 else 0.0 for k in range(n_days)]
    rows = pd.DataFrame(
        {
            "date": dates,
            "rain_mm": rain,
            "irrigation_mm": NONE,
            "released_pct": [min(100.0, 2.0 * k) for k in range(n_days)],
        }
    )
    rows = rows.assign(
        comparison_id="blend", position=0, crop="corn", site_year_id=site_year_id, excess_mm=rows["rain_mm"] / 2,
        soil_temp_c=15.0,
        soil_temp_f=59.0, is_soil_temp_modeled=True,
    )  # fmt: skip
    rows = rows.assign(**changed)
    return rows.assign(**{f"{name}_inch": rows[f"{name}_mm"] / 25.4 for name in ("rain", "irrigation", "excess")})
