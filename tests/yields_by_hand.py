"""Yields from a weighed plot by the rules of the trade, in SI units: what the warehouse's queries are held against."""

from __future__ import annotations


def at_standard_moisture(weight: float, moisture_pct: float, standard_pct: float) -> float:
    """Weight the same dry matter has at the standard moisture, wet basis (UF/IFAS AG442)."""
    return weight * (100 - moisture_pct) / (100 - standard_pct)


def grain_yield_kg_ha(weight_kg: float, moisture_pct: float, standard_pct: float, area_m2: float) -> float:
    """Grain yield at standard moisture from one harvested plot."""
    return at_standard_moisture(weight_kg, moisture_pct, standard_pct) / area_m2 * 10_000


def lint_yield_kg_ha(seed_cotton_kg: float, turnout_fraction: float, area_m2: float) -> float:
    """Lint yield from one picked plot; lint is not moisture-corrected (common practice, no source)."""
    return seed_cotton_kg * turnout_fraction / area_m2 * 10_000
