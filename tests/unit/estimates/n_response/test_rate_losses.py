"""Losses of tested rates against the rate that pays best: R's fits to the same draws, and truth recovered.

Source and standing of each number: pipeline/contract/published_checks.yml.
"""

import numpy as np
import pandas as pd
import pytest

from pipeline.estimates.n_response import pooled_curves
from pipeline.estimates.n_response.clusters import with_clusters
from pipeline.estimates.n_response.curves import PRIMARY
from pipeline.estimates.n_response.ladders import ladder_plots, ladders, rate_means
from pipeline.estimates.n_response.pooled_curves import pooled_fit, pooled_rows, usable_means
from pipeline.estimates.n_response.rate_losses import _drawn_losses, rate_losses


def fitted(make, seed=6, **program):
    trials, treatments, plots, _ = make.program(seed, **program)
    return pooled_fit(
        usable_means(with_clusters(rate_means(ladders(ladder_plots(plots, treatments, trials))), trials)),
        conf_level=0.95,
    )


def common_curve(site_years, rates, means):
    """The common curve of rate means, one trial a site-year; three columns of the same length."""
    rows = {
        "site_year_id": site_years,
        "cluster": site_years,
        "trial_id": site_years,
        "n_rate_kg_ha": rates,
        "mean": means,
    }
    same = {"crop": "corn", "family": "urea", "variant": "", "n_plots": 4}
    return pooled_fit(pd.DataFrame(rows).assign(**same), conf_level=0.95)


def table(pooled, ratio=6.0):
    return pd.DataFrame(rate_losses(pooled, ratio, conf_level=0.95))


@pytest.fixture(scope="module")
def of_r(answers):
    """(common curve of R's means, its draws of site-years, R's answers)."""
    means = answers("rate_losses_means")
    pooled = common_curve(means["site_year"].map("s{:02d}".format), means["rate"], means["mean"])
    return pooled, answers("rate_losses_draws"), answers("rate_losses_answers")


def test_the_losses_agree_with_nls_and_a_search(of_r):
    """The join to 1e-5, where nls() stops; the losses, which are flat in it, more closely."""
    pooled, _, r = of_r
    found, expected = table(pooled), r.iloc[0]
    assert found["eonr"].unique() == pytest.approx([expected["best"]], rel=1e-5)
    assert found["loss_kg_ha"].tolist() == pytest.approx(expected.filter(like="loss_").tolist(), rel=1e-4, abs=0.01)
    assert found["n_rate_kg_ha"].tolist() == [60, 120, 180, 240] and set(found["n_site_years"]) == {8}


def test_the_losses_of_each_draw_agree_with_nls(of_r):
    """Draws are refitted on joins 0.9 kg/ha apart: half a step times the slope of net return is up to 4 kg/ha, or 1 in
    100.
    """
    pooled, draws, r = of_r
    resampled = pooled.resampled(PRIMARY, draws.filter(like="site_year_").to_numpy(float))
    drawn = _drawn_losses(resampled, np.array([60.0, 120, 180, 240]), 6.0, 240.0)
    assert drawn.T == pytest.approx(r.filter(like="loss_").to_numpy(), rel=0.01, abs=4.0)


def test_an_interval_spans_the_draws_of_an_independent_bootstrap(of_r):
    """R's 40 draws lie around the interval's ends as far as so few can: none far outside, and they fill it."""
    pooled, _, r = of_r
    found = table(pooled).set_index("n_rate_kg_ha")
    for rate in (60, 180, 240):
        drawn, row = r[f"loss_{rate}"].iloc[1:], found.loc[rate]
        assert drawn.between(row["conf_low"], row["conf_high"]).mean() >= 0.9
        assert drawn.max() - drawn.min() > 0.5 * (row["conf_high"] - row["conf_low"])


def test_alike_site_years_without_noise_lose_what_the_curve_says(make):
    found = table(fitted(make, plot_sd=0.0, slope_sd=0.0)).set_index("n_rate_kg_ha")
    best = 160 * (1 - 6 / 55)
    for rate in (60, 120, 180, 240):
        expected = 55 * (make.bend(best, 160) - make.bend(rate, 160)) - 6 * (best - rate)
        assert found.loc[rate, "loss_kg_ha"] == pytest.approx(expected, rel=1e-3)


def test_rates_in_the_interval_of_the_best_are_not_shown_to_pay_less(make):
    """One road for both: a lower end is zero exactly for the rates within the interval of the rate that pays best."""
    for seed in range(4):
        pooled = fitted(make, seed=seed, rates=(100, 130, 150, 180, 240), plot_sd=700.0)
        row, found = pooled_rows(pooled, 6.0, conf_level=0.95)[0], table(pooled)
        within = found["n_rate_kg_ha"].between(row["eonr_low"] or 0, row["eonr_high"] or np.inf)
        assert (found["conf_low"].eq(0) == within).all() and within.any() and not within.all()
        assert (found["conf_low"] <= found["loss_kg_ha"]).all() and (found["loss_kg_ha"] >= 0).all()


def test_a_best_rate_that_may_lie_beyond_those_tested_leaves_losses_open(make):
    """The tested rates end at 160; the best rate is 151 and its interval mostly open above."""
    n_open = 0
    for seed in range(6):
        pooled = fitted(make, seed=seed, rates=(40, 80, 120, 160), joins={make.UREA: 170.0}, plot_sd=500.0)
        row, found = pooled_rows(pooled, 6.0, conf_level=0.95)[0], table(pooled)
        if len(found) and row["eonr_high"] is None:
            n_open += 1
            assert found["conf_high"].isna().all() and found["conf_low"].notna().all()
    assert n_open


def test_no_best_rate_or_no_price_no_losses(make):
    assert table(fitted(make, joins={make.UREA: 500.0})).empty, "still rising at the highest rate"
    assert table(fitted(make, slope=0.0)).empty, "no response"
    assert table(fitted(make), ratio=None).empty


def test_where_n_never_pays_every_rate_is_held_against_none(make):
    """A slope of 55 and a price of 60 kg of yield per kg of N: the best rate is 0, and each kg/ha loses more."""
    found = table(fitted(make, slope_sd=2.0), ratio=60.0)
    assert set(found["eonr"]) == {0} and (np.diff(found["loss_kg_ha"]) > 0).all()


def test_few_site_years_have_losses_without_an_interval(make):
    found = table(fitted(make, n_site_years=pooled_curves.FEWEST_FOR_INTERVAL - 1))
    assert found["loss_kg_ha"].notna().all() and found["conf_low"].isna().all()
    assert set(found["warnings"]) == {"fewer than 6 site-years: no interval"}


def test_a_rate_says_how_many_site_years_tested_it(make):
    trials, treatments, plots, _ = make.program(6)
    lost = plots["trial_id"].isin(["t00", "t01"]) & plots["treatment_code"].str.endswith("-240")
    means = usable_means(with_clusters(rate_means(ladders(ladder_plots(plots[~lost], treatments, trials))), trials))
    found = table(pooled_fit(means, conf_level=0.95)).set_index("n_rate_kg_ha")
    assert found["n_site_years"].to_dict() == {60: 8, 120: 8, 180: 8, 240: 6} and set(found["n_curve_site_years"]) == {
        8
    }


@pytest.mark.slow
@pytest.mark.parametrize("n_site_years", [12, 6])
def test_intervals_of_losses_cover(make, n_site_years):
    """Of the true loss at each rate, over 900 programs of one join and different slopes; the best is 142.5, and 140
    close to it.

    Percentiles of so few site-years fall a little short: 92.4 % was the least measured. Two Monte Carlo errors of 0.009
    less are asked.
    """
    rates, best, n = np.array([0.0, 60, 120, 140, 180, 240]), 160 * (1 - 6 / 55), 900
    truth = 55 * (make.bend(best, 160) - make.bend(rates[1:], 160)) - 6 * (best - rates[1:])
    held = np.zeros(len(truth))
    for seed in range(n):
        rng = np.random.default_rng(seed)
        means = [6000 + rng.normal(55, 8) * make.bend(rates, 160) + rng.normal(0, 250, 6) for _ in range(n_site_years)]
        named = np.repeat([f"s{i:02d}" for i in range(n_site_years)], len(rates))
        found = table(common_curve(named, np.tile(rates, n_site_years), np.concatenate(means)))
        held += (found["conf_low"] <= truth) & (truth <= found["conf_high"].astype(float).fillna(np.inf))
    assert (held / n >= 0.906).all(), held / n
