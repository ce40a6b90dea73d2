import numpy as np
import pytest

from pipeline.estimates.n_response import curves, optimum
from pipeline.estimates.n_response.clusters import with_clusters
from pipeline.estimates.n_response.ladders import ladder_plots, ladders, rate_means
from pipeline.estimates.n_response.pooled_curves import (
    pooled_fit,
    pooled_grid_rows,
    pooled_rows,
    usable_means,
)


def means_of(make, seed=0, **program):
    trials, treatments, plots, _ = make.program(seed, **program)
    return usable_means(with_clusters(rate_means(ladders(ladder_plots(plots, treatments, trials))), trials))


def primary_row(means, price_ratio=6.0):
    return pooled_rows(pooled_fit(means, conf_level=0.95), price_ratio, conf_level=0.95)[0]


def test_common_curve_of_exact_site_years(make):
    """Slopes differ between site-years, the join does not: the common curve has it, and the mean slope."""
    means = means_of(make, plot_sd=0.0, slope_sd=10.0)
    row = primary_row(means)
    assert row["join"] == pytest.approx(160, rel=1e-4)
    slopes = means[means["n_rate_kg_ha"] == 180].set_index("site_year_id")["mean"].astype(float)
    slopes = (slopes - means[means["n_rate_kg_ha"] == 0].set_index("site_year_id")["mean"].astype(float)) / 80
    assert row["b"] == pytest.approx(slopes.mean(), rel=1e-4)
    assert row["eonr"] == pytest.approx(160 * (1 - 6 / row["b"]), rel=1e-4)
    assert row["n_site_years"] == 8 and row["interval_method"] == "site-year bootstrap"


def test_a_site_year_weighs_the_same_however_many_trials_it_has(make):
    means = means_of(make, slope_sd=20.0)
    twin = means[means["trial_id"] == "t00"].assign(trial_id="twin")
    doubled = primary_row(means._append(twin, ignore_index=True))
    plain = primary_row(means)
    assert [doubled["b"], doubled["join"], doubled["a"]] == pytest.approx([plain["b"], plain["join"], plain["a"]])
    assert doubled["n_site_years"] == plain["n_site_years"]


def test_a_site_year_is_drawn_whole(make):
    """Both trials of t00 come and go together: a draw of site-years is a fit to their ladders alone."""
    means = means_of(make, n_site_years=3, slope_sd=20.0)
    means = means._append(means[means["trial_id"] == "t00"].assign(trial_id="twin", mean=means["mean"] * 1.1))
    pooled = pooled_fit(means, conf_level=0.95)
    assert list(pooled.site_years) == ["sy-t00", "sy-t01", "sy-t02"]
    drawn = pooled.resampled(curves.QUADRATIC, np.array([[1.0, 0, 1]]))
    alone = curves.fit(curves.QUADRATIC, pooled_fit(means[means["site_year_id"] != "sy-t01"], conf_level=0.95).sums)
    assert [drawn.a[0], drawn.b[0], drawn.shape[0]] == pytest.approx([alone.a, alone.b, alone.shape], rel=1e-8)


def test_site_years_tested_at_other_rates_do_not_tilt_the_curve(make):
    """A poor site-year tested at high rates only: its own intercept takes its level out."""
    means = means_of(make, plot_sd=0.0, slope_sd=0.0)
    is_odd = means["trial_id"].eq("t03")
    odd = means[~is_odd | means["n_rate_kg_ha"].isin([0, 180, 240])].copy()
    odd.loc[is_odd, "mean"] = odd.loc[is_odd, "mean"] - 4000
    assert primary_row(odd)["join"] == pytest.approx(160, rel=1e-4)
    assert primary_row(odd)["b"] == pytest.approx(55, rel=1e-4)


@pytest.mark.parametrize(
    "n_site_years, flag, has_interval",
    [
        (2, optimum.FEW_SITE_YEARS, False),
        (3, optimum.FOUND, False),
        (5, optimum.FOUND, False),
        (6, optimum.FOUND, True),
    ],
)
def test_fewest_site_years(make, n_site_years, flag, has_interval):
    row = primary_row(means_of(make, n_site_years=n_site_years))
    assert row["flag"] == flag
    assert (row.get("eonr_low") is not None) == has_interval
    assert ("no interval" in row["warnings"]) == (flag == optimum.FOUND and not has_interval)


@pytest.mark.parametrize("slope, flag", [(0.0, optimum.NO_RESPONSE), (-30.0, optimum.NEGATIVE), (55.0, optimum.FOUND)])
def test_response_is_judged_over_site_years(make, slope, flag):
    row = primary_row(means_of(make, slope=slope, slope_sd=3.0))
    assert row["flag"] == flag
    assert (row.get("eonr") is not None) == (flag == optimum.FOUND)


def test_plots_that_do_not_differ_at_all_are_no_response(make):
    """Sums of equal yields differ by rounding, which is neither a gain nor a loss."""
    row = primary_row(means_of(make, slope=0.0, slope_sd=0.0, plot_sd=0.0))
    assert row["flag"] == optimum.NO_RESPONSE


def test_an_interval_holds_its_estimate(make):
    row = primary_row(means_of(make, slope_sd=0.0, plot_sd=0.0))
    for rate in ("aonr", "eonr"):
        assert row[f"{rate}_low"] <= row[rate] <= row[f"{rate}_high"] <= row[rate] + 1


@pytest.mark.parametrize(("n_at_240", "highest"), [(2, 180), (3, 240), (8, 240)])
def test_the_common_curve_reaches_as_far_as_three_site_years_tested(make, n_at_240, highest):
    means = means_of(make, joins={make.UREA: 300.0})
    at_240 = means["n_rate_kg_ha"].eq(240) & means["trial_id"].ge(f"t{n_at_240:02d}")
    row = primary_row(means[~at_240])
    assert (row["highest_rate"], row["n_site_years"], row["flag"]) == (highest, 8, optimum.BEYOND)


def test_three_rates_carry_no_curve(make):
    rows = pooled_rows(pooled_fit(means_of(make, rates=(60, 120)), conf_level=0.95), 6.0, conf_level=0.95)
    assert {row["flag"] for row in rows} == {optimum.FEW_RATES}
    assert [row["model"] for row in rows] == list(curves.POOLED_MODELS)


def test_ladders_without_zero_n_say_nothing(make):
    means = means_of(make)
    lost = means[~(means["trial_id"].eq("t01") & means["n_rate_kg_ha"].eq(0))]
    assert set(usable_means(lost)["trial_id"]) == set(means["trial_id"]) - {"t01"}


def test_mitscherlich_has_no_agronomic_optimum(make):
    rows = pooled_rows(pooled_fit(means_of(make), conf_level=0.95), 6.0, conf_level=0.95)
    mitscherlich = rows[-1]
    assert mitscherlich["model"] == curves.MITSCHERLICH
    assert mitscherlich["aonr"] is None and mitscherlich["join"] is None and mitscherlich["aonr_low"] is None


def test_every_model_has_its_own_interval_around_its_optimum(make):
    rows = pooled_rows(pooled_fit(means_of(make, n_site_years=20), conf_level=0.95), 6.0, conf_level=0.95)
    for row in rows[:3]:
        assert row["aonr_low"] < row["aonr"] < row["aonr_high"]
        assert row["eonr_low"] - 1.3 < row["eonr"] < row["eonr_high"] + 1.3  # a grid step


def test_price_grid_goes_down(make):
    pooled = pooled_fit(means_of(make), conf_level=0.95)
    rows = pooled_grid_rows(pooled, {3.0: False, 6.0: True, 12.0: False}, conf_level=0.95)
    assert np.all(np.diff([row["eonr"] for row in rows]) < 0)
    assert rows[1]["eonr"] == pooled_rows(pooled, 6.0, conf_level=0.95)[0]["eonr"]


WELL_TESTED, TESTED_SHORT = (60, 120, 180, 240), (40, 80, 120, 160)


@pytest.mark.slow
@pytest.mark.parametrize(
    ("n_site_years", "rates", "join"),
    [(12, WELL_TESTED, 160.0), (6, WELL_TESTED, 160.0), (12, TESTED_SHORT, 170.0), (6, TESTED_SHORT, 170.0)],
)
def test_site_year_bootstrap_covers(make, n_site_years, rates, join):
    """Site-years of one join and different slopes; 0.95 less two Monte Carlo errors of 0.0126 is asked.

    In the last two the join lies beyond the highest rate and the economic optimum 9 kg/ha below it.
    """
    truth, held, n = join * (1 - 6 / 55), 0, 300
    for seed in range(n):
        means = means_of(
            make,
            seed=seed,
            n_site_years=n_site_years,
            rates=rates,
            joins={make.UREA: join},
            slope_sd=8.0,
            plot_sd=500.0,
        )
        row = primary_row(means)
        held += (row["eonr_low"] or 0) <= truth <= (row["eonr_high"] or np.inf)
    assert 0.925 <= held / n <= 0.99
