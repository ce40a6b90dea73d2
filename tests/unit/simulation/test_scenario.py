"""The invented scenario against the reference words and against hand arithmetic."""

from __future__ import annotations

import csv
from pathlib import Path

import pytest

from pipeline.simulation.scenario import CROPS, SITES, SPI_RANGE, cell_gain

REFERENCE = Path(__file__).parents[3] / "sql" / "reference"


def reference(name: str) -> dict[str, dict]:
    with (REFERENCE / f"{name}.csv").open(encoding="utf-8", newline="") as file:
        return {row["word"]: row for row in csv.DictReader(file)}


def test_each_site_is_in_the_drainage_group_of_its_class():
    classes = reference("drainage_classes")
    assert {s.name: s.drainage_group for s in SITES} == {
        s.name: classes[s.drainage_class]["drainage_group"] for s in SITES
    }


def test_each_site_is_a_place_of_its_own_with_its_own_initials():
    assert len(SITES) == len({s.place for s in SITES}) == len({s.initials for s in SITES}) == 12


def test_crops_are_traded_as_the_reference_says():
    crops = reference("crops")
    for crop in CROPS.values():
        assert crop.yield_unit == crops[crop.name]["display_unit"]
        if crop.name != "cotton":
            assert crop.bushel_lb == float(crops[crop.name]["bushel_lb"])
            assert crop.standard_moisture_pct == float(crops[crop.name]["standard_moisture_pct"])


def test_bushels_in_kg_ha():
    # 56 and 60 lb of 0.45359237 kg on 4046.8564224 m2
    assert CROPS["corn"].kg_ha_per_unit == pytest.approx(62.767665, abs=1e-6)
    assert CROPS["soybean"].kg_ha_per_unit == pytest.approx(67.251069, abs=1e-6)


@pytest.mark.parametrize(
    ("contrast", "crop", "group", "rainfall", "gain"),
    [
        ("urea once", "corn", "P", "wet", 16),
        ("urea once", "corn", "W", "dry", -1),
        ("urea once", "cotton", "R", "normal", 25),
        ("urea once", "soybean", "P", "dry", -0.2),
        ("urea split", "corn", "R", "wet", -3),
        ("urea split", "cotton", "P", "wet", 15),
    ],
)
def test_cell_gains_are_looked_up_by_contrast_crop_group_and_class(contrast, crop, group, rainfall, gain):
    assert cell_gain(contrast, crop, group, rainfall) == gain


def test_target_rainfall_stays_clear_of_the_cut_points():
    assert SPI_RANGE["dry"][1] < -1 < SPI_RANGE["normal"][0]
    assert SPI_RANGE["normal"][1] < 1 < SPI_RANGE["wet"][0]
