"""The N rates that growers usually apply, as program.yml states them: printed beside the economic optimum, never
computed with.
"""

from __future__ import annotations

from dataclasses import dataclass

from pipeline.contract.units import KG_HA_PER_LB_AC
from pipeline.settings.by_crop import read_by_crop
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
    return read_by_crop(section, known_crops, _rate)


def _rate(section: Section) -> GrowersRate:
    found = GrowersRate(**Reader(section, GrowersRate, without="a rate is printed with its source only").values())
    if (found.rate_lb_ac is None) == (found.rate_kg_ha is None):
        raise section.error(f'"{section.name}" needs one of rate_lb_ac and rate_kg_ha, like rate_lb_ac: 150')
    return found
