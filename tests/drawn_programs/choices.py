"""What one seed chooses for its program: how large, which designs, what was delivered and what was not.

Every choice is drawn from its own stream of the seed, so that a new kind of choice leaves the older programs as they
were.
"""

from __future__ import annotations

import zlib
from dataclasses import dataclass, fields
from functools import partial

import numpy as np

DESIGNS = ("RCBD", "split-plot", "CRD", "strips", "Latin square", "incomplete block", "unreplicated", "not randomized")
FIRST_SEASON = 2091
COOPERATORS, CORRECTOR = ("Runa Tolvix", "", "Odd Fennary"), "Corra Wexmoor"


@dataclass(frozen=True)
class Crop:
    """level: usual yield in its display unit. own: its entry under `crops:` in program.yml where it is not known."""

    word: str
    unit: str
    level: float
    rates: tuple[int, ...]
    moisture: tuple[float, float] | None  # at weighing, and standard
    bushel_lb: float | None = None
    own: dict | None = None


CROPS = {
    "corn": Crop("corn", "bu/ac", 170.0, (60, 120, 160, 200), (18.2, 15.5), 56),
    "soybean": Crop("soybean", "bu/ac", 55.0, (40, 80), (12.1, 13.0), 60),
    "cotton": Crop("cotton", "lb/ac", 1100.0, (40, 70, 100), None),
    "barley": Crop(
        "barley", "bu/ac", 70.0, (40, 80, 120), (13.0, 14.5), 48,
        {"bushel_lb": 48, "standard_moisture_pct": 14.5, "typical": [30, 120], "hard": [0, 200]},
    ),
    "forage sorghum": Crop(
        "forage sorghum", "lb/ac", 9000.0, (60, 120), (14.0, 12.0), 50,
        {"bushel_lb": 50, "standard_moisture_pct": 12, "display_unit": "lb/ac", "display_digits": 0,
         "typical": [4000, 15000], "hard": [0, 30000]},
    ),
}  # fmt: skip


@dataclass(frozen=True)
class Choices:
    """One line of words that says what kind of program it is."""

    crops: tuple[str, ...]
    n_seasons: int
    n_places: int
    n_trials: int
    designs: tuple[str, ...]
    n_blocks: int
    families: tuple[str, ...]
    n_rates: int
    zero_n: bool
    rain: str
    drainage: str
    yields: str
    printed: str
    lost: str
    noise: float
    gain: float
    spread: float
    prices: str
    n_claims: int
    n_comparisons: int
    display_units: str
    same_plots: bool
    corrections: str
    applications: bool
    traits: bool
    declared_late: bool
    also_divided: bool
    refused: str
    adds_season: bool
    calibrated: bool
    weather: str
    may_be_named: str

    def __str__(self) -> str:
        return " ".join(f"{field.name}={getattr(self, field.name)!r}".replace(" ", "_") for field in fields(self))


def stream(seed: int, name: str) -> np.random.Generator:
    """The random numbers of one choice or one table of a seed."""
    return np.random.default_rng([seed, zlib.crc32(name.encode())])


def choose(seed: int) -> Choices:
    """The choices of a seed; small and odd programs come up more often than they do in life."""
    pick = partial(_pick, seed)
    main = pick("crop", {"corn": 5, "cotton": 2, "soybean": 1, "barley": 2, "forage sorghum": 1})
    second = pick("second crop", {None: 8, "corn": 1, "cotton": 1})
    n_trials = int(stream(seed, "trials").integers(1, 21))
    families = ["U1", "C50"] + (["U2"] if pick("split", {True: 5, False: 5}) else [])
    families += ["CU"] if pick("coated urea", {True: 1, False: 4}) else []
    design = pick("design", {**dict.fromkeys(DESIGNS, 1), "RCBD": 5, "mixed": 4})
    mixed = tuple(map(str, stream(seed, "designs").choice(DESIGNS, size=3)))
    return Choices(
        crops=tuple(dict.fromkeys(filter(None, (main, second)))),
        n_seasons=pick("seasons", {1: 3, 2: 3, 3: 3, 4: 3, 5: 1, 6: 2}),
        n_places=pick("places", {1: 2, 2: 2, 3: 3, 4: 3, 6: 3, 8: 2}),
        n_trials=n_trials,
        designs=mixed if design == "mixed" else (design,),
        n_blocks=pick("blocks", {1: 1, 2: 2, 3: 3, 4: 5, 6: 1}),
        families=tuple(families),
        n_rates=pick("rates", {1: 4, 2: 2, 3: 3, 4: 1}),
        zero_n=pick("zero-N", {True: 3, False: 1}),
        rain=pick("rain", {"whole": 6, "gaps": 2, "no history": 1, "none": 3}),
        drainage=pick("drainage", {"varied": 5, "one": 2, "one odd": 2, "blank": 1}),
        yields=pick("yields", {"weighed": 5, "delivered": 3, "metric": 2}),
        printed=pick("printed", {"none": 7, "some": 2, "all": 1}),
        lost=pick("lost", {"none": 5, "some": 3, "a season": 2, "all": 1}),
        noise=pick("noise", {0.04: 8, 0.0: 1, 0.2: 1}),
        gain=pick("gain", {0.0: 3, 0.03: 4, 0.08: 2, -0.05: 1}),
        spread=pick("spread", {0.0: 2, 0.02: 5, 0.08: 1}),
        prices=pick("prices", {"whole": 5, "thin": 2, "no crop": 1, "none": 4}),
        n_claims=pick("claims", {0: 4, 1: 2, 3: 3, 6: 1}),
        n_comparisons=pick("comparisons", {1: 4, 2: 3, 3: 2, 4: 1}),
        display_units=pick("units", {"us": 3, "metric": 1}),
        same_plots=pick("same plots", {True: 1, False: 5}),
        corrections=pick("corrections", {"none": 5, "one": 1, "stale": 1}),
        applications=pick("applications", {True: 3, False: 1}),
        traits=pick("traits", {True: 1, False: 3}),
        declared_late=pick("declared late", {True: 1, False: 6}),
        also_divided=pick("also divided", {True: 1, False: 4}),
        refused=pick("refused", {"": 30, "no trials table": 1, "unknown key": 1}),
        adds_season=pick("adds season", {True: 1, False: 3}),
        calibrated=pick("calibrated", {True: 1, False: 40}),
        weather=pick("weather", {"none": 4, "in part": 2, "whole": 3}),
        may_be_named=pick("may be named", {"place only": 2, "nobody": 2, "cooperator": 1}),
    )


def _pick(seed: int, name: str, weights: dict):
    shares = np.array(list(weights.values()), float)
    return list(weights)[stream(seed, name).choice(len(shares), p=shares / shares.sum())]
