"""What is said of a ladder, by drawn tables: yields by rate in t/ha, four blocks that differ by plus or minus noise."""

from dataclasses import replace

import numpy as np
import pytest

from pipeline.estimates.n_response import curves, intervals, optimum
from pipeline.estimates.n_response.ladders import ladder_plots, ladders
from pipeline.estimates.n_response.rate_sums import rate_sums
from pipeline.estimates.n_response.trial_curves import fitted_ladders, rows_of

NOISE = 200 * np.array([[1, -1, -1, 1], [-1, 1, 1, -1], [1, 1, -1, -1], [-1, -1, 1, 1], [1, -1, 1, -1]])
RATIO = 6.0  # kg of yield that pay for 1 kg of N

# name, yields by rate (t/ha), flag, AONR and EONR found?
TABLE = [
    ("rises to a plateau", {0: 5, 60: 8, 120: 9.5, 180: 10, 240: 10}, optimum.FOUND, True, True),
    ("still rising at the top", {0: 5, 60: 7, 120: 9, 180: 11, 240: 13}, optimum.BEYOND, False, False),
    ("bends, top beyond", {0: 5, 60: 6.9, 120: 8.4, 180: 9.4, 240: 9.9}, optimum.BEYOND, False, True),
    ("first rate is enough", {0: 5, 60: 9, 120: 9, 180: 9, 240: 9}, optimum.BELOW, False, False),
    ("flat", {0: 9, 60: 9, 120: 9, 180: 9, 240: 9}, optimum.NO_RESPONSE, False, False),
    ("N does harm", {0: 10, 60: 9, 120: 8.5, 180: 8, 240: 7.9}, optimum.NEGATIVE, False, False),
    ("no zero-N", {60: 8, 120: 9.5, 180: 10, 240: 10}, optimum.NO_ZERO_N, False, False),
    ("three rates", {0: 5, 80: 8, 160: 9}, optimum.FEW_RATES, False, False),
    ("two of four rates alike", {0: 5, 80: 8, 82: 8, 160: 9}, optimum.FEW_RATES, False, False),
    ("one rate", {0: 5, 120: 8}, optimum.FEW_RATES, False, False),
]


def frames(make, by_rate, n_blocks=4, **trial):
    yields = {
        rate: list(1000 * mean + NOISE[i % 5, :n_blocks] + 300 * np.arange(n_blocks))
        for i, (rate, mean) in enumerate(by_rate.items())
    }
    zero = {"none": {0.0: yields.pop(0)}} if 0 in yields else {}
    return make.trial(zero | {make.UREA: yields}, **trial)


def primary_row(trials, treatments, plots, price_ratio=RATIO):
    (ladder,) = fitted_ladders(ladders(ladder_plots(plots, treatments, trials)), conf_level=0.95)
    rows = rows_of(ladder, price_ratio, conf_level=0.95)
    assert [row["is_primary"] for row in rows] == [True, False, False]
    return rows[0]


@pytest.mark.parametrize("name, by_rate, flag, has_aonr, has_eonr", TABLE, ids=[row[0] for row in TABLE])
def test_flags(make, name, by_rate, flag, has_aonr, has_eonr):
    row = primary_row(*frames(make, by_rate))
    assert row["flag"] == flag
    assert (row.get("aonr") is not None) == has_aonr
    assert (row.get("join") is not None) == has_aonr  # no optimum through the back door
    assert (row.get("eonr") is not None) == has_eonr
    for rate in ("aonr", "eonr", "aonr_low", "aonr_high", "eonr_low", "eonr_high"):
        assert row.get(rate) is None or 0 <= row[rate] <= max(by_rate)
    assert row["highest_rate"] == max(by_rate)
    assert row["n_rates"] == (3 if "alike" in name else len(by_rate))


def test_intervals_are_open_where_the_data_do_not_close_them(make):
    """Beyond the highest rate: a lower bound only. Below two rates: an upper bound only. No response: none."""
    beyond, below, flat = (primary_row(*frames(make, dict(TABLE[i][1]))) for i in (1, 3, 4))
    assert beyond["aonr_high"] is None and beyond["eonr_high"] is None
    assert 180 < beyond["aonr_low"] <= 240
    assert below["aonr_low"] is None and below["eonr_low"] is None
    assert 60 <= below["aonr_high"] < 120
    assert [flat[end] for end in ("aonr_low", "aonr_high", "eonr_low", "eonr_high")] == [None] * 4


def test_standard_errors_of_both_rates_by_differences(make):
    """The rate itself, moved by each coefficient of the curve: of a linear-plateau it is the join alone."""
    trials, treatments, plots = frames(make, TABLE[0][1])
    (ladder,) = fitted_ladders(ladders(ladder_plots(plots, treatments, trials)), conf_level=0.95)
    for row in rows_of(ladder, RATIO, conf_level=0.95):
        curve = ladder.curves[row["model"]]
        parts, gradient = np.array([curve.a, curve.b, curve.shape]), []
        for step in np.eye(3) * np.abs(parts) * 1e-6:
            ends = [replace(curve, a=a, b=b, shape=shape) for a, b, shape in (parts + step, parts - step)]
            rates = np.array([(end.join, optimum.economic_rate(end, RATIO, 1000.0)) for end in ends])
            gradient.append((rates[0] - rates[1]) / (2 * step.sum()))
        expected = [intervals.std_error(curve, ladder.sums, tuple(of_rate)) for of_rate in np.transpose(gradient)]
        found = [row["aonr_std_error"], row["eonr_std_error"]]
        assert found == pytest.approx(expected, rel=1e-5), row["model"]


# model, b, shape, price ratio, flag: rates to 240, zero-N yields 5000; Mitscherlich pays to ln(b shape / ratio) / shape
TOPS = [
    (curves.QUADRATIC, 1.0, 0.01, RATIO, optimum.BEYOND),
    (curves.QUADRATIC, -10.0, 0.01, RATIO, optimum.NEGATIVE),  # 5000 - 2400 + 576 at the highest rate
    (curves.QUADRATIC, -10.0, -0.01, RATIO, optimum.NEGATIVE),
    (curves.QUADRATIC, 50.0, -0.1, RATIO, optimum.BEYOND),  # top at 250
    (curves.QUADRATIC, 50.0, -0.11, RATIO, optimum.FOUND),  # top at 227
    (curves.MITSCHERLICH, 3000.0, 0.005, 6.0, optimum.FOUND),  # 183
    (curves.MITSCHERLICH, 3000.0, 0.005, 3.0, optimum.BEYOND),  # 322
    (curves.MITSCHERLICH, 3000.0, 0.005, None, optimum.FOUND),
    (curves.MITSCHERLICH, -3000.0, 0.005, 6.0, optimum.NEGATIVE),
    (curves.MITSCHERLICH, 3000.0, 0.5, 6.0, optimum.BELOW),  # all of the rise below the first rate
]


@pytest.mark.parametrize(("model", "b", "shape", "ratio", "flag"), TOPS)
def test_where_the_top_of_a_curve_lies(model, b, shape, ratio, flag):
    sums = rate_sums(np.array([0.0, 60, 120, 180, 240]), np.zeros(5), np.full(5, "a"))
    curve = curves.Curve(model, 5000.0, b, shape, sse=1.0, n_plots=20, n_groups=4)
    assert optimum.curve_flag(curve, sums, ratio) == flag


def test_where_the_first_kg_does_not_pay_the_economic_optimum_is_zero(make):
    row = primary_row(*frames(make, TABLE[0][1]), price_ratio=100.0)
    assert (row["flag"], row["eonr"], row["eonr_low"], row["eonr_high"]) == (optimum.FOUND, 0.0, 0.0, 0.0)


def test_without_prices_there_is_no_economic_optimum(make):
    row = primary_row(*frames(make, TABLE[0][1]), price_ratio=None)
    assert row["aonr"] is not None
    assert row["eonr"] is None and row["eonr_low"] is None and row["eonr_boot_low"] is None


def test_free_nitrogen_goes_to_the_join(make):
    row = primary_row(*frames(make, TABLE[0][1]), price_ratio=0.0)
    assert row["eonr"] == pytest.approx(row["aonr"])
    assert row["eonr_low"] == pytest.approx(row["aonr_low"], rel=1e-6)


@pytest.mark.parametrize("n_blocks, expected", [(2, optimum.FEW_PLOTS), (3, optimum.FOUND)])
def test_fewest_degrees_of_freedom(make, n_blocks, expected):
    """Four rates less one plot: 2 blocks leave 7 - 2 - 2 = 3 df and are enough; less two plots they are not."""
    trials, treatments, plots = frames(make, {0: 5, 60: 8, 120: 9.5, 180: 10}, n_blocks)
    dropped = plots.iloc[[1, 2]].index if n_blocks == 2 else []
    assert primary_row(trials, treatments, plots.drop(dropped))["flag"] == expected
    assert primary_row(trials, treatments, plots.drop(plots.index[1]))["flag"] == optimum.FOUND


def test_not_randomized_is_not_fitted(make):
    assert primary_row(*frames(make, TABLE[0][1], design="not randomized"))["flag"] == optimum.NOT_RANDOMIZED


@pytest.mark.parametrize("mean", [9000.0, 6543.21])
def test_plots_that_do_not_differ_at_all_show_no_response(make, mean):
    trials, treatments, plots = make.trial(
        {"none": {0.0: [mean] * 4}, make.UREA: {r: [mean] * 4 for r in (60.0, 120.0, 180.0)}}
    )
    assert primary_row(trials, treatments, plots)["flag"] == optimum.NO_RESPONSE


def test_plots_on_the_curve_itself_leave_a_point_for_an_interval(make):
    rates = np.tile([0.0, 60, 120, 180, 240], 3)
    sums = rate_sums(rates, 5000 + 50 * make.bend(rates, 150), np.repeat(list("abc"), 5))
    found = optimum.optimum(curves.fit(curves.PRIMARY, sums), sums, RATIO, 0.95)
    assert [found.aonr, found.aonr_low, found.aonr_high] == pytest.approx([150] * 3, rel=1e-4)
    assert [found.eonr, found.eonr_low, found.eonr_high] == pytest.approx([150 * (1 - 6 / 50)] * 3, rel=1e-3)


def test_a_quadratic_that_bends_up_has_no_optimum(make):
    trials, treatments, plots = frames(make, {0: 5, 60: 5.1, 120: 6, 180: 8, 240: 11})
    (ladder,) = fitted_ladders(ladders(ladder_plots(plots, treatments, trials)), conf_level=0.95)
    quadratic = rows_of(ladder, RATIO, conf_level=0.95)[2]
    assert quadratic["model"] == curves.QUADRATIC and quadratic["c"] > 0
    assert quadratic["flag"] == optimum.BEYOND
    assert [quadratic[name] for name in ("join", "aonr", "eonr", "eonr_low", "eonr_high")] == [None] * 5


@pytest.mark.parametrize("rates", [[0, 60, 120, 180, 240], [0, 80, 120, 160]])
def test_flat_fields_are_called_responding_no_oftener_than_stated(rates):
    """The F test on 2 df is not exact where nothing responds; at 5 % it errs in fewer than 5 % (1,000 flat ladders)."""
    rng = np.random.default_rng(5)
    x, blocks = np.tile(np.array(rates, float), 4), np.repeat(list("abcd"), len(rates))
    called = 0
    for _ in range(1000):
        sums = rate_sums(x, 9000 + rng.normal(0, 600, len(x)), blocks)
        called += optimum.response_flag(curves.fit(curves.PRIMARY, sums), sums, 0.95) != optimum.NO_RESPONSE
    assert 0.005 <= called / 1000 <= 0.05
