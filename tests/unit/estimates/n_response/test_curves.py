"""Source and standing of each number: pipeline/contract/published_checks.yml."""

import numpy as np
import pytest

from pipeline.estimates.n_response import curves, intervals, optimum
from pipeline.estimates.n_response.rate_sums import rate_sums

CASES = ["corn: five rates", "corn: four rates", "corn: lost plots", "cotton"]


@pytest.fixture(scope="module", params=CASES)
def ladder(request, answers):
    """(sums, R's answers) of one simulated ladder."""
    plots = answers("n_response_plots").query("case == @request.param")
    sums = rate_sums(plots["rate"].to_numpy(), plots["value"].to_numpy(), plots["block"].to_numpy())
    return sums, answers("n_response_answers").query("case == @request.param").iloc[0]


def test_quadratic_plateau_agrees_with_nls(ladder):
    """Sums of squares to 1e-9; coefficients to 1e-5, where nls() stops. The join of lost plots is ill determined."""
    sums, r = ladder
    curve = curves.fit(curves.QUADRATIC_PLATEAU, sums)
    assert curve.sse == pytest.approx(r["sse"], rel=1e-9)
    assert [curve.b, curve.join] == pytest.approx([r["b"], r["join"]], rel=1e-5)
    assert curve.aicc == pytest.approx(r["aicc"], rel=1e-9)
    assert intervals.std_error(curve, sums, (0, 0, 1)) == pytest.approx(r["join_std_error"], rel=1e-4)


def test_linear_plateau_agrees_with_nls(ladder):
    sums, r = ladder
    curve = curves.fit(curves.LINEAR_PLATEAU, sums)
    assert curve.sse == pytest.approx(r["lp_sse"], rel=1e-9)
    assert [curve.b, curve.join] == pytest.approx([r["lp_b"], r["lp_join"]], rel=1e-5)


def test_quadratic_agrees_with_lm(ladder):
    sums, r = ladder
    curve = curves.fit(curves.QUADRATIC, sums)
    assert [curve.b, curve.c, curve.sse] == pytest.approx([r["q_b"], r["q_c"], r["q_sse"]], rel=1e-9)


def test_profile_of_the_join_agrees_with_refits(ladder):
    sums, r = ladder
    curve = curves.fit(curves.QUADRATIC_PLATEAU, sums)
    low, high = intervals.shape_interval(curve, sums, 0.95)
    assert (low, high) == pytest.approx((r["aonr_low"], r["aonr_high"]), rel=1e-6)


def test_profile_of_the_economic_optimum_agrees_with_refits(ladder):
    """R holds the optimum itself fixed and searches for the best join: another road to the same interval."""
    sums, r = ladder
    found = optimum.optimum(curves.fit(curves.QUADRATIC_PLATEAU, sums), sums, r["ratio"], 0.95)
    assert found.eonr == pytest.approx(r["eonr"], rel=1e-5)
    assert (found.eonr_low, found.eonr_high) == pytest.approx((r["eonr_low"], r["eonr_high"]), rel=1e-5)


def test_fieller_agrees_with_inverting_a_t_test(ladder):
    sums, r = ladder
    found = optimum.optimum(curves.fit(curves.QUADRATIC, sums), sums, r["ratio"], 0.95)
    expected = [r["q_eonr"], r["q_eonr_low"], r["q_eonr_high"]]
    assert [found.eonr, found.eonr_low, found.eonr_high] == pytest.approx(expected, rel=1e-7)


@pytest.mark.parametrize("model", curves.POOLED_MODELS)
def test_blocks_and_units_do_not_matter(ladder, model):
    """A block shift moves only a; yields in another unit scale; rates in another unit scale the rates."""
    sums, _ = ladder
    curve = curves.fit(model, sums)
    rng = np.random.default_rng(0)
    rates = np.tile([0.0, 60, 120, 180, 240], 4)
    blocks = np.repeat(list("abcd"), 5)
    values = 6000 + 50 * np.minimum(rates, 150) ** 0.9 + rng.normal(0, 300, 20)
    plain = curves.fit(model, rate_sums(rates, values, blocks))
    shift = dict(zip("abcd", (0, 400, -900, 100), strict=True))
    moved = curves.fit(model, rate_sums(rates, values + [shift[b] for b in blocks], blocks))
    assert [moved.b, moved.shape, moved.sse] == pytest.approx([plain.b, plain.shape, plain.sse], rel=1e-5)
    assert moved.a - plain.a == pytest.approx(np.mean(list(shift.values())), rel=1e-4)
    scaled = curves.fit(model, rate_sums(rates, 0.016 * values, blocks))
    assert scaled.b == pytest.approx(0.016 * plain.b, rel=1e-5)
    assert curve.n_groups == len(sums.labels)


@pytest.mark.parametrize("join", [75.0, 120.0, 133.3, 200.0])
def test_exact_curves_are_found_exactly(make, join):
    rates = np.tile([0.0, 60, 120, 180, 240], 2)
    blocks = np.repeat(["a", "b"], 5)
    curve = curves.fit(curves.QUADRATIC_PLATEAU, rate_sums(rates, 6000 + 50 * make.bend(rates, join), blocks))
    assert [curve.a, curve.b, curve.join] == pytest.approx([6000, 50, join], rel=1e-5)
    straight = rate_sums(rates, 6000 + 50 * np.minimum(rates, join), blocks)
    curve = curves.fit(curves.LINEAR_PLATEAU, straight)
    assert [curve.a, curve.b, curve.join] == pytest.approx([6000, 50, join], rel=1e-5)


def test_aicc_needs_plots_enough():
    rates = np.array([0.0, 60, 120, 180, 240])
    values = np.array([1.0, 2, 2.5, 2.4, 2.6])
    assert curves.fit(curves.QUADRATIC, rate_sums(rates, values, np.full(5, "all"))).aicc is None


def test_rates_closer_than_3_pct_of_the_highest_are_one():
    assert curves.distinct_rates(np.array([0, 100, 102.9, 200])) == pytest.approx([0, 101.45, 200])
    assert len(curves.distinct_rates(np.array([0, 94.0, 100.0, 200]))) == 4


@pytest.mark.parametrize(
    ("model", "shape"), [("quadratic-plateau", 130.0), ("linear-plateau", 130.0), ("Mitscherlich", 0.01)]
)
def test_a_basis_moves_with_its_shape_as_its_slope_says(model, shape):
    """By differences, at rates below and above the join."""
    parts, rates, step = curves.SHAPES[model], np.array([0.0, 60, 120, 180, 240]), 1e-5 * shape
    low, high = (parts.basis(rates, np.array([shape + side * step])) for side in (-1, 1))
    assert parts.slope(rates, np.array([shape])) == pytest.approx((high - low) / (2 * step), rel=1e-6, abs=1e-9)
