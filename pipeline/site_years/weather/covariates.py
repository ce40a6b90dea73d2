"""The covariates of site-years: each window's days brought to one number, or why there is none. Never sees a yield."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cached_property

import numpy as np
import pandas as pd

from pipeline.contract.vocabulary import (
    COVARIATE_UNITS,
    EXCESS_WATER,
    HEAVY_RAIN_DAYS,
    NITROGEN_RELEASED,
    RAIN_AFTER,
    SOIL_WARMTH,
    WET_DAYS,
    WETTEST_5_DAYS,
)
from pipeline.site_years.weather import daily
from pipeline.site_years.weather.cases import days_between
from pipeline.site_years.weather.days import COOLEST, RAIN, SOIL, WARMEST, DailyWeather
from pipeline.site_years.weather.windows import ENDS_BEFORE, NO_DATE

OF_RAIN = (RAIN_AFTER, WETTEST_5_DAYS, HEAVY_RAIN_DAYS, WET_DAYS)
# ETCCDI (Expert Team on Climate Change Detection and Indices) R20mm and R10mm: days of at least so much rain; from
# memory
LEAST_MM = {HEAVY_RAIN_DAYS: 20.0, WET_DAYS: 10.0}
CASES_AT_ONCE = 20_000  # some 20 MB for each quantity by day
SPELL_DAYS = 5  # ETCCDI RX5day: the largest total of 5 days in a row
SOME_DAYS_MISSING = "{missing} of {days} days without {what}"


@dataclass(frozen=True)
class Known:
    """All that covariates are worked out from beside the cases."""

    weather: DailyWeather
    soils: daily.Soils
    irrigations: pd.DataFrame
    coated: pd.DataFrame
    tests: Mapping[str, object]
    most_missing_days: int

    @cached_property
    def watered(self) -> frozenset[str]:
        """The trials whose irrigation was delivered."""
        return frozenset(self.irrigations["trial_id"])

    @cached_property
    def lead(self) -> int:
        """Days to cut out before a window, so that coated N given before the comparator's first N is followed too."""
        offsets = self.coated["offset_days"].dropna()
        return int(daily.LEAD_DAYS - min(offsets.min(), 0)) if len(offsets) else daily.LEAD_DAYS


def worked_out(cases: pd.DataFrame, known: Known) -> pd.DataFrame:
    """The cases with value, unit, n_days, n_days_missing, is_modeled, inputs and reason.

    cases: as trial_cases or reference_cases gives them. value: mm, days, C or % as COVARIATE_UNITS says. reason: why
    there is none, or with what reserve it stands; None for neither.
    """
    cases = cases.reset_index(drop=True)
    first, last = (cases[name].to_numpy("datetime64[D]") for name in ("first_day", "last_day"))
    n_days = days_between(first, last)
    why = np.select([np.isnat(first), n_days == 0], [NO_DATE, ENDS_BEFORE], default="")
    found = pd.DataFrame(
        {"value": np.nan, "n_days": n_days, "n_days_missing": 0, "is_modeled": False, "inputs": None, "reason": why},
        index=cases.index,
    ).astype({"inputs": object, "reason": object})
    for covariate, group in cases[n_days > 0].groupby("covariate"):
        for start in range(0, len(group), CASES_AT_ONCE):
            batch = group.iloc[start : start + CASES_AT_ONCE]
            of = _OF[covariate](covariate, batch, known).set_axis(batch.index)
            found.loc[batch.index, of.columns] = of
    reason = found["reason"].where(found["reason"].ne(""), None)
    return pd.concat([cases, found.assign(unit=cases["covariate"].map(COVARIATE_UNITS), reason=reason)], axis=1)


def _rain(covariate: str, cases: pd.DataFrame, known: Known) -> pd.DataFrame:
    windows = daily.cut_windows(cases, known.weather, known.irrigations, lead=0)
    rain = windows.measured[RAIN]
    missing = (np.isnan(rain) & windows.inside).sum(axis=1)
    counted = np.where(windows.inside, np.nan_to_num(rain), 0.0)
    if covariate in LEAST_MM:
        values = (counted >= LEAST_MM[covariate]).sum(axis=1).astype(float)
    elif covariate == WETTEST_5_DAYS:
        values = _wettest(counted)
    else:
        values = counted.sum(axis=1)
    return _result(values, windows, missing, known.most_missing_days, "daily rain", "rain")


def _wettest(rain: np.ndarray) -> np.ndarray:
    if rain.shape[1] < SPELL_DAYS:
        return rain.sum(axis=1)
    return np.lib.stride_tricks.sliding_window_view(rain, SPELL_DAYS, axis=1).sum(axis=2).max(axis=1)


def _excess(covariate: str, cases: pd.DataFrame, known: Known) -> pd.DataFrame:
    windows = daily.cut_windows(cases, known.weather, known.irrigations)
    measured = windows.measured
    unknown = np.isnan(measured[RAIN]) | np.isnan(measured[WARMEST]) | np.isnan(measured[COOLEST])
    missing = (unknown & windows.up_to_its_end).sum(axis=1)
    values = np.where(windows.inside, daily.excess(windows, known.soils), 0.0).sum(axis=1)
    inputs = [
        f"daily rain, {'irrigation, ' if row.irrigated is True else ''}air temperatures, latitude, texture"
        f" ({row.texture})"
        for row in cases.itertuples()
    ]
    found = _result(values, windows, missing, 0, inputs, "rain or air temperature", is_modeled=True)
    lacks = [lacks_for_balance(row, known) for row in cases.itertuples()]
    return _without(found, lacks)


def lacks_for_balance(case, known: Known) -> str:
    """What the water balance lacks of one case, or ''."""
    if np.isnan(case.latitude):
        return "no latitude of the site"
    if case.texture not in known.soils.available_mm_per_m:
        return "no surface texture of the site" if not case.texture else f'no known texture: "{case.texture}"'
    if case.crop not in known.soils.water_use:
        return f"no crop coefficients for {case.crop}"
    if pd.isna(case.planted):
        return "no planting date"
    # a year of the reference period has no irrigation on record
    if case.irrigated is True and (case.trial_id not in known.watered or getattr(case, "is_reference", False)):
        return "irrigated, and the amounts are not known"
    return ""


def _warmth(covariate: str, cases: pd.DataFrame, known: Known) -> pd.DataFrame:
    windows = daily.cut_windows(cases, known.weather, known.irrigations)
    soil, estimated = _soil(windows, known.most_missing_days)
    missing = (np.isnan(soil) & windows.inside).sum(axis=1)
    known_days = windows.inside & ~np.isnan(soil)
    with np.errstate(invalid="ignore"):
        values = np.where(known_days, soil, 0.0).sum(axis=1) / known_days.sum(axis=1)
    inputs = np.where(estimated, *_SOIL_INPUTS)
    return _result(
        values, windows, missing, known.most_missing_days, inputs, "soil or air temperature", is_modeled=estimated
    )


def _soil(windows: daily.Windows, most_missing: int) -> tuple[np.ndarray, np.ndarray]:
    """Soil temperature by day and by case whether it is estimated: measured, where no more days lack it than may."""
    measured = windows.measured[SOIL]
    soil, _ = daily.soil_temperature(windows)
    enough = (np.isnan(measured) & windows.inside).sum(axis=1) <= most_missing
    enough &= ~(np.isnan(measured) | ~windows.inside).all(axis=1)
    return np.where(enough[:, None], measured, soil), ~enough


_SOIL_INPUTS = ("soil temperature estimated from the air: mean of 7 days", "measured soil temperature")


def _released(covariate: str, cases: pd.DataFrame, known: Known) -> pd.DataFrame:
    windows = daily.cut_windows(cases, known.weather, known.irrigations, lead=known.lead)
    soil, estimated = daily.soil_temperature(windows)
    out = daily.released(windows, soil, known.coated, known.tests)
    last = windows.lead + windows.inside.sum(axis=1) - 1
    values = out[np.arange(len(out)), last]
    missing = (np.isnan(soil) & windows.inside).sum(axis=1)
    products = known.coated.groupby(["comparison_id", "trial_id"])["product"].agg(lambda p: ", ".join(sorted(set(p))))
    keys = list(cases[["comparison_id", "trial_id"]].itertuples(index=False, name=None))
    named = [products.get(key) for key in keys]
    inputs = [
        f"release test of {product}; {_SOIL_INPUTS[0] if from_air else _SOIL_INPUTS[1]}"
        for product, from_air in zip(named, estimated, strict=True)
    ]
    found = _result(values, windows, missing, 0, inputs, "soil or air temperature", is_modeled=True)
    lacks = ["" if product else "no product of the treatment has a release test in program.yml" for product in named]
    found = _without(found, lacks)
    no_day = found["value"].isna() & found["reason"].eq("")
    return found.assign(
        reason=found["reason"].mask(no_day, "the days on which the coated product was given are not all known")
    )


def _result(values, windows, missing, most_missing, inputs, what, *, is_modeled=False) -> pd.DataFrame:
    """Values where no more days are missing than may; the reserve or the reason, by case."""
    days = windows.inside.sum(axis=1)
    usable = missing <= most_missing
    reasons = [
        SOME_DAYS_MISSING.format(missing=n_missing, days=max(n_days, n_missing), what=what) if n_missing else ""
        for n_missing, n_days in zip(missing, days, strict=True)
    ]
    return pd.DataFrame(
        {
            "value": np.where(usable & (days > missing), values, np.nan),
            "n_days_missing": missing,
            "is_modeled": is_modeled,
            "inputs": inputs,
            "reason": reasons,
        }
    )


def _without(found: pd.DataFrame, lacks: list[str]) -> pd.DataFrame:
    """No value and no inputs, and this reason, where something is lacking."""
    lacking = pd.Series(lacks, index=found.index, dtype=object)
    is_lacking = lacking.ne("")
    found = found.assign(inputs=found["inputs"].astype(object).mask(is_lacking, None))
    return found.assign(value=found["value"].mask(is_lacking), reason=found["reason"].mask(is_lacking, lacking))


_OF = dict.fromkeys(OF_RAIN, _rain) | {EXCESS_WATER: _excess, SOIL_WARMTH: _warmth, NITROGEN_RELEASED: _released}
