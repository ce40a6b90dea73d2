"""The program's own fits against lme4 and lmerTest: drawn programs, near-zero variances, and formulas as R reads
them.
"""

from __future__ import annotations

from functools import partial

import numpy as np
import pandas as pd
import pytest

from pipeline.estimates.engines import lme4_fits, mixed, own_fits
from pipeline.steps.checking_fits import differences
from tests.fits_alike import apart

CROSSED = "gain ~ 1 + (1 | place) + (1 | season) + (1 | site_year_id)"


def assert_alike(one, other):
    assert apart(differences(one, other)) == []
    assert list(other.coefficients["term"]) == list(one.coefficients["term"])
    assert list(other.variances["group"]) == list(one.variances["group"])


def drawn(seed: int) -> pd.DataFrame:
    """Blocks of site-years; spreads from none to large, some cells missing, uneven weights."""
    rng = np.random.default_rng(seed)
    sds = rng.choice([0.0, 0.02, 0.3, 1.0, 4.0], 3)
    cells = [
        (p, s, b)
        for p in range(rng.integers(3, 9))
        for s in range(rng.integers(3, 6))
        for b in range(rng.integers(2, 5))
    ]
    frame = pd.DataFrame(cells, columns=["place", "season", "block"]).sample(
        frac=rng.uniform(0.6, 1), random_state=seed
    )
    frame["site_year_id"] = frame["place"].astype(str) + "-" + frame["season"].astype(str)
    frame["level"] = [("dry", "normal", "wet")[(p + s) % 3] for p, s in zip(frame["place"], frame["season"])]
    frame["weight"] = rng.uniform(0.3, 3, len(frame))
    frame["gain"] = 5 + rng.normal(size=len(frame)) / np.sqrt(frame["weight"])
    for sd, term in zip(sds, ("place", "season", "site_year_id"), strict=True):
        frame["gain"] += sd * frame[term].map({level: rng.normal() for level in sorted(frame[term].unique())})
    return frame.astype({"place": str, "season": str}).drop(columns="block")


@pytest.mark.parametrize("seed", [*range(1, 9), *(pytest.param(n, marks=pytest.mark.thorough) for n in range(9, 26))])
def test_drawn_programs_are_fitted_as_lme4_does(seed):
    frame = drawn(seed)
    fit = partial(mixed.fit, frame=frame, weights="weight")
    classes = CROSSED.replace("~ 1", "~ 0 + level")
    for formula, contrasts in ((CROSSED, None), (classes, np.array([[1, -1, 0], [1, 0, -1]]))):
        with mixed.by(mixed.LME4):
            one = fit(formula, contrasts=contrasts)
        with mixed.by(mixed.OWN):
            assert_alike(one, fit(formula, contrasts=contrasts))


@pytest.mark.parametrize("seed", [11, 15, 30])
def test_what_the_df_of_a_total_needs_is_that_of_lmertest(seed):
    one, other = (by.fit(CROSSED, drawn(seed), weights="weight") for by in (lme4_fits, own_fits))
    assert other.theta == pytest.approx(one.theta, abs=1e-4)
    inside = one.theta > mixed.SINGULAR_RELATIVE_SD
    kept = np.append(inside, True)
    assert kept.sum() > 2
    assert other.parameter_covariance[np.ix_(kept, kept)] == pytest.approx(
        one.parameter_covariance[np.ix_(kept, kept)], rel=1e-3, abs=1e-5
    )
    assert other.covariance_gradients == pytest.approx(one.covariance_gradients, rel=1e-3, abs=1e-4)


@pytest.mark.parametrize(
    "fixed",
    ["1", "a", "0 + a", "a + x", "a * b", "a * x + b", "x", "0 + x + z", "0 + a + b"],
)
def test_fixed_effects_are_coded_and_named_as_r_does(fixed):
    rng = np.random.default_rng(2)
    n = 80
    frame = pd.DataFrame(
        {
            "a": ["p", "q [late]", "r", "s: 2"] * 20,
            "b": rng.choice(["u", "v"], n),
            "x": rng.normal(size=n),
            "z": 1.0,
            "g": rng.integers(0, 9, n),
            "h": rng.integers(0, 5, n),
        }
    )
    frame["y"] = rng.normal(size=n) + rng.normal(size=9)[frame["g"]] + frame["x"]
    formula = f"y ~ {fixed} + (1 | g) + (1 | h:b)"
    assert_alike(lme4_fits.fit(formula, frame), own_fits.fit(formula, frame))


def test_columns_that_say_the_same_twice_are_left_out_as_r_does():
    frame = drawn(4).assign(x=1.0, one=2.0)
    formula = "gain ~ 0 + x + one + level + (1 | site_year_id)"
    one, other = lme4_fits.fit(formula, frame), own_fits.fit(formula, frame)
    assert_alike(one, other)
    assert len(other.coefficients) == 3 and any("2 left out" in message for message in other.messages)


@pytest.mark.parametrize(
    ("change", "says"),
    [
        ({"site_year_id": "one"}, "site_year_id has one level only"),
        ({"site_year_id": range(len(drawn(1)))}, "levels of site_year_id must be less than the number of rows"),
        ({"gain": np.nan}, "gain and weights must be known numbers"),
        ({"weight": 0.0}, "weights above zero"),
        ({"gain": 4.0}, "the rows leave no residual"),
    ],
)
def test_rows_that_do_not_allow_the_model(change, says):
    with pytest.raises(mixed.NotFitted, match=says):
        own_fits.fit(CROSSED, drawn(1).assign(**change), weights="weight")


def test_one_pair_of_rows_of_one_level_is_enough():
    """Five rows in four levels are fitted, as lme4 does."""
    frame = pd.DataFrame({"gain": [9.0, 11.0, 2.0, 18.0, 30.0], "g": list("aabcd")})
    found = own_fits.fit("gain ~ 1 + (1 | g)", frame)
    with mixed.by(mixed.LME4):
        assert_alike(mixed.fit("gain ~ 1 + (1 | g)", frame), found)


def test_random_slopes_are_left_to_lme4():
    with pytest.raises(ValueError, match="random slopes"):
        own_fits.fit("gain ~ 1 + (weight | site_year_id)", drawn(1))


# gain, place, season, level, weight; REML of a model with place and site-year has two minima here
TWO_MINIMA = (
    (107.6, "Birch", 2091, "tiled", 0.8736), (103.0, "Birch", 2093, "tiled", 1.0678),
    (385.8, "Birch", 2093, "tiled", 1.0678), (4.8, "Cedar", 2093, "untiled", 1.0678),
    (243.8, "Cedar", 2093, "untiled", 1.0678), (53.4, "Dogwood", 2091, "untiled", 0.8736),
    (288.7, "Dogwood", 2092, "tiled", 0.8736), (324.15, "Dogwood", 2093, "untiled", 1.0988),
    (457.7, "Fir", 2093, "untiled", 1.0678), (460.3, "Fir", 2093, "untiled", 1.0678),
    (42.4, "Ginkgo", 2093, "untiled", 0.8736),
)  # fmt: skip


def test_of_two_minima_both_take_the_lower_one():
    frame = pd.DataFrame(TWO_MINIMA, columns=["gain", "place", "season", "level", "weight"])
    frame["site_year_id"] = frame["place"] + frame.pop("season").astype(str)
    formula = "gain ~ 0 + level + (1 | place) + (1 | site_year_id)"
    lme4, own = (by.fit(formula, frame, weights="weight") for by in (lme4_fits, own_fits))
    r = lme4_fits.start_r()
    alone = lme4_fits._fitted(r, formula, frame, "weight")
    assert alone["reml"][0] > own.reml + 0.01 and alone["theta"].all()  # lme4 from its one start finds the other
    assert_alike(lme4, own)
    assert lme4.is_singular and lme4.variance("place") == pytest.approx(0, abs=1e-3)
