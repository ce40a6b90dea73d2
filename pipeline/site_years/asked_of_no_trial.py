"""What comparisons ask for that no trial has: an arm, or a named N rate in both arms. Never sees a yield."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

import pandas as pd

from pipeline.contract.units import rate_unit
from pipeline.settings.comparisons import UNIT_OF_RATES, Comparison
from pipeline.site_years.eligibility import candidate_arms, matches

COLUMNS = ("line", "asked", "there")


def asked_of_no_trial(comparisons: Iterable[Comparison], treatments: pd.DataFrame, display_units: str) -> pd.DataFrame:
    """One row per arm or named rate that no trial has, columns COLUMNS: its line, what it is, and the rates there are.

    Args:
        treatments: of accepted trials, with their crop.
        display_units: of the program; a rate that program.yml names is told in the unit of its line.
    """
    rows = []
    for comparison in comparisons:
        of_crop = treatments[treatments["crop"] == comparison.crop]
        if len(of_crop):  # no trial yet: nothing can be missed
            rows += [*_arms(comparison, of_crop, rate_unit(display_units))] or [*_rates(comparison, of_crop)]
    return pd.DataFrame(rows, columns=list(COLUMNS))


def _arms(comparison: Comparison, treatments: pd.DataFrame, unit: tuple[str, float]) -> Iterator[tuple]:
    for name, arm in (("treatment", comparison.treatment), ("comparator", comparison.comparator)):
        if not matches(arm, treatments).any():
            yield comparison.lines[name], f"the {name} of {comparison.id}", _there(treatments, *unit)


def _rates(comparison: Comparison, treatments: pd.DataFrame) -> Iterator[tuple]:
    sides = candidate_arms(comparison, treatments).groupby(["trial_id", "rate_kg_ha"])["arm"].nunique()
    tested = set(sides[sides == 2].index.get_level_values("rate_kg_ha"))
    key = next((key for key in UNIT_OF_RATES if key in comparison.lines), "rates_lb_ac")
    unit, size = UNIT_OF_RATES[key]
    for rate in sorted(set(comparison.rates) - tested):
        asked = f"{rate / size:g} {unit} in both arms of {comparison.id}"
        yield comparison.lines[key], asked, _there(treatments, unit, size)


def _there(treatments: pd.DataFrame, unit: str, size: float) -> str:
    rates = sorted({round(rate / size) for rate in treatments["n_rate_kg_ha"].dropna().unique()})
    return f"{', '.join(map(str, rates))} {unit}"
