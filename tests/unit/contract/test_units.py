"""Unit factors against published or exact ones.

Exact: pound 0.45359237 kg, foot 0.3048 m, inch 25.4 mm, US bushel 2150.42 cubic inches (NIST Handbook 44, Appendix C;
from memory). Bushels of corn in the field by moisture: Ohio State Extension AGF-502.

Source and standing of each number: pipeline/contract/published_checks.yml.
"""

from __future__ import annotations

import pytest

from pipeline.contract.units import UNITS, bushel_kg_ha
from tests.yields_by_hand import at_standard_moisture


@pytest.mark.parametrize(
    ("delivered", "unit", "stored", "tolerance"),
    [
        (1, "lb", 0.45359237, 0),
        (1, "ft", 0.3048, 0),
        (1, "in", 2.54, 0),
        (1, "rain_in", 25.4, 0),
        (100, "lb_ac", 112.0851156, 5e-8),
        (1, "t_ha", 1000, 0),
        (39.2, "pct_to_fraction", 0.392, 1e-15),
        (32, "f", 0, 1e-13),
        (212, "f", 100, 1e-13),
        (-40, "f", -40, 1e-13),
        (1, "plants_ac", 2.471054, 5e-7),
        # 56 lb/bu is 72.08 kg/hl: 56 x 453.59237 g in 35.239 liters
        (56, "lb_bu", 72.08, 0.005),
    ],
)
def test_a_delivered_unit_becomes_the_stored_one(delivered, unit, stored, tolerance):
    assert delivered * UNITS[unit].factor + UNITS[unit].offset == pytest.approx(stored, abs=tolerance or 1e-15)


@pytest.mark.parametrize(("bushel_lb", "kg_ha"), [(56, 62.767665), (60, 67.251069)])
def test_a_bushel_per_acre_in_kg_per_hectare(bushel_lb, kg_ha):
    assert bushel_kg_ha(bushel_lb) == pytest.approx(kg_ha, abs=5e-7)


@pytest.mark.parametrize(("moisture_pct", "wet_lb"), [(10, 52.58), (15.5, 56.00), (25, 63.09), (28, 65.72)])
def test_wet_pounds_of_shelled_corn_in_a_standard_bushel(moisture_pct, wet_lb):
    """Ohio State Extension AGF-502, weight of shelled corn by moisture."""
    assert at_standard_moisture(wet_lb, moisture_pct, 15.5) == pytest.approx(56, abs=0.005 * 56 / wet_lb)
