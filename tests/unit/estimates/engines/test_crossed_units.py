"""The likelihood, its gradient and both df against plain matrices over all rows, however the terms are solved."""

from __future__ import annotations

import tracemalloc

import numpy as np
import pandas as pd
import pytest

from pipeline.estimates.engines import crossed_units, restricted_likelihood, satterthwaite
from pipeline.estimates.engines.mixed import SINGULAR_RELATIVE_SD

TERMS = {
    "plan for future seasons": ("site_year", "season", "place"),
    "headline of future seasons": ("place", "season", "site_year"),
    "two trials at some": ("place", "season", "site_year", "trial"),
    "seasons tested": ("place", "site_year"),
    "season alone": ("season", "site_year"),
    "one row per site-year": ("season", "place"),
    "places alone": ("place",),
    "nothing crossed": ("site_year", "trial"),
}


def rows_of(rng: np.random.Generator, terms: tuple[str, ...], *, places: int, seasons: int, share: float):
    """Rows of an unbalanced layout: some site-years missing, one to four blocks, two trials at a few."""
    rows = []
    for place in range(places):
        for season in range(seasons):
            if rng.random() > share:
                continue
            n_trials = 1 + (rng.random() < 0.3) if "trial" in terms else 1
            for trial in range(n_trials):
                n_blocks = rng.integers(1, 5) if "site_year" in terms else 1
                rows += [(f"p{place}", season, f"p{place}-{season}", f"p{place}-{season}-{trial}")] * n_blocks
    return pd.DataFrame(rows, columns=["place", "season", "site_year", "trial"]).sample(frac=1, random_state=rng)


def gains_of(rng: np.random.Generator, weights: np.ndarray, groups: dict, variances: np.ndarray) -> np.ndarray:
    """Drawn with these variances, so that they are near the best fit: elsewhere the curvature may have no df."""
    gains = rng.normal(5, np.sqrt(variances[-1] / weights))
    for labels, variance in zip(groups.values(), variances, strict=False):
        codes, levels = pd.factorize(labels)
        gains += rng.normal(0, np.sqrt(variance), len(levels))[codes]
    return gains


def plainly(gains: np.ndarray, weights: np.ndarray, groups: dict, variances: np.ndarray) -> dict:
    """The same by matrices of rows x rows."""
    parts = [np.equal.outer(labels, labels).astype(float) for labels in groups.values()] + [np.diag(1 / weights)]
    covariance = sum(variance * part for variance, part in zip(variances, parts, strict=True))
    inverse = np.linalg.inv(covariance)
    ones = inverse.sum(axis=1)
    variance = 1 / ones.sum()
    projection = inverse - variance * np.outer(ones, ones)
    projected = projection @ gains
    free = [n for n, each in enumerate(variances) if each > SINGULAR_RELATIVE_SD**2 * variances[-1]]
    through = {n: projection @ parts[n] for n in range(len(parts))}
    expected = np.array([[np.sum(through[a] * through[b].T) for b in free] for a in free])
    observed = [[2 * projected @ parts[a] @ projection @ parts[b] @ projected for b in free] for a in free] - expected
    by_variance = variance**2 * np.array([ones @ parts[n] @ ones for n in free])
    spread = {name: by_variance @ np.linalg.solve(by, by_variance) for name, by in (("e", expected), ("o", observed))}
    log_weights = np.sum(np.log(weights)) - np.sum(np.log(of_units(weights, groups)))
    return {
        "estimate": variance * ones @ gains,
        "variance": variance,
        "deviance": np.linalg.slogdet(covariance)[1] - np.log(variance) + gains @ projected + log_weights,
        "gradient": [np.trace(through[n]) - projected @ parts[n] @ projected for n in range(len(parts))],
        "expected df": variance**2 / spread["e"],
        "observed df": variance**2 / spread["o"] if spread["o"] > 0 else np.nan,
    }


def of_units(weights: np.ndarray, groups: dict) -> np.ndarray:
    """The weight of rows alike in every term."""
    return pd.Series(weights).groupby(list(groups.values())).sum().to_numpy()


def by_units(gains: np.ndarray, weights: np.ndarray, groups: dict, variances: np.ndarray) -> dict:
    units = crossed_units.units_of(gains, weights, groups)
    at = crossed_units.solved_at(units, variances)
    deviance, gradient = restricted_likelihood._deviance(units, variances, 1.0)
    return {
        "estimate": at.estimate,
        "variance": at.variance,
        "deviance": deviance,
        "gradient": gradient,
        "expected df": satterthwaite.expected_df(units, variances, at),
        "observed df": satterthwaite.observed_df(units, variances, at),
    }


@pytest.mark.parametrize("most_columns", [0, crossed_units.MOST_COLUMNS], ids=["level by level", "in columns"])
@pytest.mark.parametrize("name", TERMS)
@pytest.mark.parametrize("zero", [None, 0, -2], ids=["all above zero", "first is zero", "last is zero"])
def test_it_is_what_plain_matrices_give(name, zero, most_columns, monkeypatch):
    monkeypatch.setattr(crossed_units, "MOST_COLUMNS", most_columns)
    rng = np.random.default_rng([list(TERMS).index(name), 3])
    n_with_df = 0
    for places, seasons, share in ((12, 4, 0.8), (20, 2, 0.6), (6, 9, 0.9), (24, 6, 0.8), (25, 1, 1.0)):
        rows = rows_of(rng, TERMS[name], places=places, seasons=seasons, share=share)
        groups = {term: rows[term].to_numpy() for term in TERMS[name]}
        variances = rng.uniform(0.5, 4, len(groups) + 1)
        if zero is not None:
            variances[zero] = 0.0
        weights = rng.uniform(0.5, 2, len(rows))
        gains = gains_of(rng, weights, groups, variances)
        if seasons == 1 and ("season" in groups or (zero is None and {"place", "site_year"} <= set(groups))):
            continue  # a season for all is no term of any model, nor are places other than their only site-years
        found, expected = by_units(gains, weights, groups, variances), plainly(gains, weights, groups, variances)
        assert found.keys() == expected.keys()
        for quantity, value in expected.items():
            assert found[quantity] == pytest.approx(value, rel=1e-9, abs=1e-9, nan_ok=True), (quantity, places)
        n_with_df += np.isfinite(found["observed df"])
    assert n_with_df


@pytest.mark.parametrize(("of_the_line", "counts"), [(0.9, False), (1.1, True)])
def test_a_variance_counts_from_a_thousandth_of_the_residual_deviation_on(of_the_line, counts):
    """Of the season, beside a residual of 4. Below the line df are those of the model without seasons."""
    rng = np.random.default_rng(8)
    rows = rows_of(rng, ("season", "site_year"), places=10, seasons=5, share=0.8)
    groups = {term: rows[term].to_numpy() for term in ("season", "site_year")}
    weights, variances = rng.uniform(0.5, 2, len(rows)), np.array([of_the_line * 1e-6 * 4.0, 0.5, 4.0])
    gains = gains_of(rng, weights, groups, variances)
    found, expected = by_units(gains, weights, groups, variances), plainly(gains, weights, groups, variances)
    assert found["expected df"] == pytest.approx(expected["expected df"], rel=1e-9)
    without = by_units(gains, weights, {"site_year": groups["site_year"]}, variances[1:])["expected df"]
    assert (found["expected df"] == pytest.approx(without, rel=1e-3)) is not counts


def test_places_are_solved_level_by_level_where_they_are_many():
    rng = np.random.default_rng(4)
    rows = rows_of(rng, TERMS["two trials at some"], places=90, seasons=3, share=0.8)
    groups = {term: rows[term].to_numpy() for term in ("place", "season", "site_year", "trial")}
    weights, variances = rng.uniform(0.5, 2, len(rows)), np.array([2, 3, 1, 1.5, 4])
    gains = gains_of(rng, weights, groups, variances)
    units = crossed_units.units_of(gains, weights, groups)
    assert (units.own, units.nested, units.shared) == ("trial", ("site_year", "place"), ("season",))
    found, expected = by_units(gains, weights, groups, variances), plainly(gains, weights, groups, variances)
    for quantity, value in expected.items():
        assert found[quantity] == pytest.approx(value, rel=1e-10, abs=1e-9), quantity


def test_terms_that_cross_are_not_taken_for_nested(monkeypatch):
    monkeypatch.setattr(crossed_units, "MOST_COLUMNS", 2)
    place, season = np.repeat(np.arange(6), 4), np.tile(np.arange(4), 6)
    units = crossed_units.units_of(np.zeros(24), np.ones(24), {"season": season, "place": place})
    assert (units.nested, units.shared) == (("place",), ("season",))


@pytest.mark.parametrize("terms", [("site_year", "season", "place"), ("season", "place"), ("site_year", "season")])
def test_memory_grows_in_a_straight_line_with_the_places(terms):
    """A matrix of places x places would hold 288 MB, one of site-years x places 1,152 MB, of site-years 4,608 MB."""
    place, season = np.repeat(np.arange(6_000), 4), np.tile(np.arange(4), 6_000)
    groups = {"site_year": np.arange(24_000), "season": season, "place": place}
    variances = {"site_year": 2.0, "season": 1.0, "place": 3.0, "residual": 4.0}
    tracemalloc.start()
    found = restricted_likelihood.expected(
        {term: variances[term] for term in (*terms, "residual")},
        {term: groups[term] for term in terms},
        np.ones(24_000, int),
    )
    most = tracemalloc.get_traced_memory()[1]
    tracemalloc.stop()
    levels = {"site_year": 24_000, "season": 4, "place": 6_000, "residual": 24_000}
    of_mean = sum(variances[term] / levels[term] for term in (*terms, "residual"))
    assert found.std_error**2 == pytest.approx(of_mean, rel=1e-9)
    assert most < 60 * 2**20
