"""The conversions of `units` as DuckDB macros of the schema `units`, so that SQL holds no factor of its own.

`units.lb_ac(x)` is x kg/ha in lb/ac, `units.kg_ha_per_lb_ac()` the size of one lb/ac. `units.said_...(x,
display_units)` is a stored value as a reader of a program with these display units ('us' or 'metric') is told it. Views
keep the macros they use: they stay in the warehouse file.
"""

from __future__ import annotations

from pipeline.contract import units

SCHEMA = "units"

SIZES = {
    "kg_per_lb": units.KG_PER_LB,
    "m_per_ft": units.M_PER_FT,
    "m2_per_sq_ft": units.M2_PER_SQ_FT,
    "m2_per_acre": units.M2_PER_ACRE,
    "cm_per_inch": units.CM_PER_INCH,
    "mm_per_inch": units.MM_PER_INCH,
    "kg_ha_per_lb_ac": units.KG_HA_PER_LB_AC,
    "plants_ha_per_plants_ac": units.PLANTS_HA_PER_PLANTS_AC,
    "c_per_f": units.UNITS["f"].factor,
    "f_at_0_c": -units.UNITS["f"].offset / units.UNITS["f"].factor,
}
# US unit -> (stored unit, its size)
VALUES = {
    "lb": ("kg", "kg_per_lb"),
    "ft": ("m", "m_per_ft"),
    "sq_ft": ("m2", "m2_per_sq_ft"),
    "inches": ("mm", "mm_per_inch"),
    "lb_ac": ("kg_ha", "kg_ha_per_lb_ac"),
}
# what is told -> (stored unit, macro of the US unit, said in US units, said in metric ones, decimals)
SAID = {
    "weight": ("kg", "lb", "lb", "kg", 2),
    "width": ("m", "ft", "ft", "m", 2),
    "n_rate": ("kg_ha", "lb_ac", "lb N/ac", "kg N/ha", 1),
}


def unit_macros() -> list[str]:
    """Statements that make the schema and every macro anew."""
    # from text, since DuckDB reads a bare number as a decimal
    sizes = [_macro(f"{name}()", f"cast('{size!r}' as double)") for name, size in SIZES.items()]
    bushel = _macro("kg_ha_per_bu_ac(bushel_lb)", f"bushel_lb * {SCHEMA}.kg_per_lb() / {SCHEMA}.m2_per_acre() * 10000")
    values = [_macro(f"{us}({stored})", f"{stored} / {SCHEMA}.{size}()") for us, (stored, size) in VALUES.items()]
    said = [
        _macro(
            f"said_{what}({stored}, display_units)",
            f"case display_units when 'us' then round({SCHEMA}.{us}({stored}), {digits}) || ' {us_unit}' "
            f"else round({stored}, {digits}) || ' {metric_unit}' end",
        )
        for what, (stored, us, us_unit, metric_unit, digits) in SAID.items()
    ]
    return [f"create schema if not exists {SCHEMA}", *sizes, bushel, *values, *said]


def _macro(signature: str, expression: str) -> str:
    return f"create or replace macro {SCHEMA}.{signature} as ({expression})"
