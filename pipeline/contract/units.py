"""Exact conversions. Pure numbers; the warehouse uses the same by `unit_macros`.

Sources: the international pound (0.45359237 kg) and foot (0.3048 m) are exact by definition
(NIST Handbook 44, Appendix C; from memory). Corn is traded at 56 lb per bushel and 15.5%
moisture (Ohio State AGF-502; UF/IFAS AG442), soybean at 60 lb (Iowa State test-weight sheet,
its author, title and year not known) and 13% (universal trade base), both from memory.
"""

from __future__ import annotations

from dataclasses import dataclass

KG_PER_LB = 0.45359237
M_PER_FT = 0.3048
CM_PER_INCH = 2.54
MM_PER_INCH = 25.4
M2_PER_SQ_FT = M_PER_FT**2
SQ_FT_PER_ACRE, M2_PER_HA = 43_560, 10_000
M2_PER_ACRE = SQ_FT_PER_ACRE * M2_PER_SQ_FT
KG_HA_PER_LB_AC = KG_PER_LB / M2_PER_ACRE * M2_PER_HA
PLANTS_HA_PER_PLANTS_AC = M2_PER_HA / M2_PER_ACRE
LITERS_PER_BUSHEL = 35.23907016688  # US level bushel, 2150.42 cubic inches


@dataclass(frozen=True)
class Unit:
    """How a delivered unit becomes the stored one: stored = delivered * factor + offset."""

    stored: str
    factor: float
    offset: float = 0.0


UNITS: dict[str, Unit] = {
    "lb": Unit("kg", KG_PER_LB),
    "kg": Unit("kg", 1.0),
    "ft": Unit("m", M_PER_FT),
    "m": Unit("m", 1.0),
    "in": Unit("cm", CM_PER_INCH),
    "cm": Unit("cm", 1.0),
    "lb_ac": Unit("kg_ha", KG_HA_PER_LB_AC),
    "kg_ha": Unit("kg_ha", 1.0),
    "t_ha": Unit("kg_ha", 1000.0),
    "rain_in": Unit("mm", MM_PER_INCH),
    "mm": Unit("mm", 1.0),
    "pct": Unit("pct", 1.0),
    "pct_to_fraction": Unit("fraction", 0.01),
    "fraction": Unit("fraction", 1.0),
    "f": Unit("c", 5 / 9, -160 / 9),
    "c": Unit("c", 1.0),
    "lb_bu": Unit("kg_hl", KG_PER_LB / LITERS_PER_BUSHEL * 100),
    "kg_hl": Unit("kg_hl", 1.0),
    "plants_ac": Unit("plants_ha", PLANTS_HA_PER_PLANTS_AC),
    "plants_ha": Unit("plants_ha", 1.0),
}


_US = ("lb", "ft", "in", "lb_ac", "rain_in", "f", "lb_bu", "plants_ac")
US, METRIC = "us", "metric"
_SAID = {"rain_in": "in", "pct": "%", "pct_to_fraction": "%", "fraction": "", "f": "\u00b0F", "c": "\u00b0C"}


def said_unit(unit: str | None) -> str:
    """A unit of UNITS as people read it: 'lb/ac' for lb_ac; '' for a fraction, or for none."""
    return _SAID.get(unit or "", (unit or "").replace("_", "/"))


def display_unit(unit: str, display_units: str) -> str:
    """The unit of UNITS that readers of a program with these display units are told instead of this one."""
    return UNITS[unit].stored if display_units == METRIC and unit in _US else unit


def rate_unit(display_units: str) -> tuple[str, float]:
    """The unit in which readers are told N rates, and its size in kg/ha: ('lb/ac', 1.12...) or ('kg/ha', 1.0)."""
    return ("lb/ac", KG_HA_PER_LB_AC) if display_units == US else ("kg/ha", 1.0)


def bushel_kg_ha(bushel_lb: float) -> float:
    """kg/ha in one bushel per acre, for a crop whose bushel weighs `bushel_lb` pounds."""
    return bushel_lb * KG_PER_LB / M2_PER_ACRE * M2_PER_HA
