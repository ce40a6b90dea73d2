"""How much of a coated product's N is out by a day, from its own release test and the warmth of the soil."""

from __future__ import annotations

import numpy as np

TEST_C = 25.0  # EN 13266 and ISO 18644 state release at it (from memory)
KELVIN, GAS_CONSTANT_KJ = 273.15, 8.314462618e-3  # CODATA 2018, kJ per mol and K


def speed(soil_c: np.ndarray, *, q10: float | None = None, activation_energy_kj_mol: float | None = None) -> np.ndarray:
    """Speed of release against that at 25 C, by one of the two factors.

    q10^((T - 25) / 10), or the Arrhenius equation with one activation energy (Hara 2000, Soil Sci. Plant Nutr. 46:693;
    from memory).
    """
    if q10 is not None:
        return q10 ** ((soil_c - TEST_C) / 10)
    return np.exp(activation_energy_kj_mol / GAS_CONSTANT_KJ * (1 / (KELVIN + TEST_C) - 1 / (KELVIN + soil_c)))


def percent_out(days_at_25: np.ndarray, points: tuple[tuple[float, float], ...]) -> np.ndarray:
    """Percent of the N that is out after so many days at 25 C.

    Between the test's points by monotone cubics (Fritsch & Carlson 1980, by SciPy); from 0 at day 0; after the last
    point as at the last point, since nothing was tested there.
    """
    days, percent = np.array([(0.0, 0.0), *points]).T
    from scipy.interpolate import PchipInterpolator  # takes a while to import, and few programs have such a test

    return PchipInterpolator(days, percent)(np.clip(days_at_25, 0, days[-1]))
