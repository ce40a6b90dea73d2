"""The N rates that growers usually apply, as program.yml states them: printed beside the economic optimum, never computed with."""

from __future__ import annotations

from dataclasses import dataclass

from pipeline.contract.units import KG_HA_PER_LB_AC
from pipeline.errors import one_of
from pipeline.settings.file import Section, above_zero, filled
from pipeline.settings.keys import Key, Reader, stated


@dataclass(frozen=True)
class GrowersRate:
    """What growers of one crop usually apply, in one of two units."""

    source: str = stated(
        Key("where the rate is from, such as a survey and its year", filled, like="county survey, 2089")
    )
    rate_lb_ac: float | None = stated(Key("pounds of N an acre", above_zero, None))
    rate_kg_ha: float | None = stated(Key("or kilograms of N a hectare", above_zero, None))

    @property
    def n_rate_kg_ha(self) -> float:
        return self.rate_kg_ha or self.rate_lb_ac * KG_HA_PER_LB_AC


def read_growers_rates(section: Section, known_crops: tuple[str, ...]) -> dict[str, GrowersRate]:
    """By crop, the growers_n_rates section; UserError names the line of a mistake."""
    found = {}
    for crop, node in section.take_each():
        if crop not in known_crops:
            raise section.error(f'"{crop}" is no crop known here: {one_of(list(known_crops), crop)}', node)
        found[crop] = _rate(section.take_section(crop))
    return found


def _rate(section: Section) -> GrowersRate:
    found = GrowersRate(**Reader(section, GrowersRate, without="a rate is printed with its source only").values())
    if (found.rate_lb_ac is None) == (found.rate_kg_ha is None):
        raise section.error(f'"{section.name}" needs one of rate_lb_ac and rate_kg_ha, like rate_lb_ac: 150')
    return found
