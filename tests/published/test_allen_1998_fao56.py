"""FAO Irrigation and drainage paper 56: what its examples print, its equations written out, and another library.

Source, place and standing of the numbers: pipeline/contract/published_checks.yml.
"""

from __future__ import annotations

import numpy as np
import pytest
from refet import calcs

from pipeline.site_years.weather import soil_water

DRY_BEANS = soil_water.CropWaterUse(0.15, 1.19, 0.35, 25, 25, 30, 20, 0.45)


def test_example_8_radiation_above_the_air_on_3_september_at_20_south():
    assert calcs.ra_daily(lat=np.radians(-20.0), doy=246, method="asce") == pytest.approx(32.2, abs=0.05)


@pytest.mark.parametrize("latitude", [-34.0, 0.0, 35.3, 52.0])
def test_radiation_is_that_of_equations_21_to_25(latitude):
    day = np.arange(1, 366)
    distance = 1 + 0.033 * np.cos(2 * np.pi / 365 * day)
    tilt = 0.409 * np.sin(2 * np.pi / 365 * day - 1.39)
    phi = np.radians(latitude)
    sunset = np.arccos(-np.tan(phi) * np.tan(tilt))
    light = sunset * np.sin(phi) * np.sin(tilt) + np.cos(phi) * np.cos(tilt) * np.sin(sunset)
    by_hand = 24 * 60 / np.pi * 0.0820 * distance * light
    np.testing.assert_allclose(calcs.ra_daily(lat=phi, doy=day, method="asce"), by_hand, rtol=1e-3)


def test_example_20_lyon_in_july():
    """45 43' N, highest 26.6 and lowest 14.8 C: 5.0 mm/day by Hargreaves."""
    found = soil_water.reference_et(np.array(26.6), np.array(14.8), np.array(45 + 43 / 60), np.array(196))
    assert found == pytest.approx(5.0, abs=0.05)


@pytest.mark.parametrize(
    ("latitude", "day", "highest", "lowest", "of_pyet"),
    [
        (45.72, 196, 26.6, 14.8, 5.0307),
        (35.3, 135, 27.0, 13.0, 5.2998),
        (35.3, 10, 8.0, -4.0, 1.0988),
        (-20.0, 246, 30.0, 16.0, 4.6201),
        (60.0, 172, 20.0, 9.0, 4.1283),
        (35.3, 10, -18.0, -25.0, 0.0),
    ],
)
def test_hargreaves_is_that_of_another_library(latitude, day, highest, lowest, of_pyet):
    found = soil_water.reference_et(np.array(highest), np.array(lowest), np.array(latitude), np.array(day))
    assert found == pytest.approx(of_pyet, rel=0.02)


@pytest.mark.parametrize(("day", "kc"), [(20, 0.15), (40, 0.77), (70, 1.19), (95, 0.56)])
def test_crop_coefficient_of_dry_beans_by_day(day, kc):
    assert soil_water.crop_coefficient(DRY_BEANS, np.array([day])) == pytest.approx(kc, abs=0.005)


def test_soil_before_planting_uses_as_bare_soil_and_after_the_last_stage_as_at_its_end():
    assert soil_water.crop_coefficient(DRY_BEANS, np.array([-10, 200])).tolist() == [0.15, 0.35]


def test_balance_of_six_days_by_hand():
    """40 mm available, a share of 0.5 taken unhindered; equations 84, 85 and 88.

    Day 1: 10 in, 4 used, full before: 6 too much. Day 2: 4 used. Days 3 and 4: 12 and 12 used, depleted 28.
    Day 5: hindered by (40 - 28) / 20 = 0.6, of 10 used 6, depleted 34. Day 6: 50 in, hindered 0.3, 3 used: 13 too much.
    """
    water = np.array([[10.0, 0, 0, 0, 0, 50]])
    use = np.array([[4.0, 4, 12, 12, 10, 10]])
    found = soil_water.excess_water(water, use, np.array([40.0]), np.array([0.5]))
    np.testing.assert_allclose(found, [[6, 0, 0, 0, 0, 13]])


def test_a_day_that_is_not_known_leaves_the_rest_unknown():
    water = np.array([[10.0, np.nan, 90, 90]])
    found = soil_water.excess_water(water, np.ones_like(water), np.array([40.0]), np.array([0.5]))
    assert found[0, 0] == 9 and np.isnan(found[0, 1:]).all()
