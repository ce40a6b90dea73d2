import numpy as np
import pandas as pd
import pytest
from scipy import stats

from pipeline.estimates.n_response.ladders import ladders
from pipeline.estimates.n_response.net_return import net_return_rows, net_returns
from pipeline.estimates.n_response.trial_curves import fitted_ladders


def table(make, *, near=13.9, ratio=6.0, seed=6, keep=None, **program):
    trials, treatments, plots, _ = make.program(seed, **program)
    fitted = fitted_ladders(ladders(plots, treatments, trials), conf_level=0.95)
    return pd.DataFrame(net_return_rows(fitted[:keep], ratio, near, conf_level=0.95))


def test_highest_where_the_last_kg_just_pays(make):
    """Alike site-years without noise: the top is the economic optimum, and near means near on the curve."""
    found = table(make, plot_sd=0.0, slope_sd=0.0)
    eonr, curvature = 160 * (1 - 6 / 55), 55 / 160 / 2
    best = found[found["is_highest"]].iloc[0]
    assert best["n_rate_kg_ha"] == pytest.approx(eonr, abs=0.5)
    assert best["net_return_kg_ha"] == pytest.approx(55 * make.bend(eonr, 160) - 6 * eonr, rel=1e-4)
    reach = np.sqrt(13.9 / curvature)
    near = found.loc[found["is_near_highest"], "n_rate_kg_ha"]
    assert (near.min(), near.max()) == pytest.approx((eonr - reach, eonr + reach), abs=1.1)
    assert found["net_return_kg_ha"].iloc[0] == 0 and found["n_rate_kg_ha"].iloc[0] == 0


def test_fields_that_do_not_respond_lower_the_rate(make):
    """One flat site-year in four does not change where the others are highest, but the average falls sooner."""
    program = {"plot_sd": 0.01, "n_site_years": 4}
    all_respond = table(make, slope_sd=0.0, **program)
    trials, treatments, plots, _ = make.program(6, slope_sd=0.0, **program)
    plots.loc[plots["trial_id"] == "t00", "value"] = 9000 + np.random.default_rng(0).normal(
        0, 0.01, (plots["trial_id"] == "t00").sum()
    )
    fitted = fitted_ladders(ladders(plots, treatments, trials), conf_level=0.95)
    with_flat = pd.DataFrame(net_return_rows(fitted, 6.0, 13.9, conf_level=0.95))
    expected = 160 * (1 - 6 * 4 / (3 * 55))  # three curves earn what four have to pay
    assert with_flat.loc[with_flat["is_highest"], "n_rate_kg_ha"].item() == pytest.approx(expected, abs=0.6)
    assert expected < all_respond.loc[all_respond["is_highest"], "n_rate_kg_ha"].item()


def fitted_without(make, lost, seed=6, **program):
    """The ladders of a program whose trials lost their plots at 240: trial -> whether it did."""
    trials, treatments, plots, _ = make.program(seed, **program)
    plots = plots[~(plots["trial_id"].isin(lost) & plots["treatment_code"].str.endswith("-240"))]
    return fitted_ladders(ladders(plots, treatments, trials), conf_level=0.95)


def test_each_source_is_followed_as_far_as_three_site_years_tested_it(make):
    found = pd.DataFrame(net_return_rows(fitted_without(make, ["t02"]), 6.0, 13.9, conf_level=0.95))
    assert found["n_rate_kg_ha"].max() == 240 and 180 in set(found["n_rate_kg_ha"])
    assert found.groupby(found["n_rate_kg_ha"] <= 180)["n_site_years"].unique().explode().to_dict() == {
        True: 8,
        False: 7,
    }
    few = pd.DataFrame(
        net_return_rows(fitted_without(make, [f"t{i:02d}" for i in range(6)]), 6.0, 13.9, conf_level=0.95)
    )
    assert few["n_rate_kg_ha"].max() == 180, "two site-years are no average"


def test_within_the_rates_all_tested_it_is_the_plain_mean_with_its_t_interval(make):
    fitted = fitted_without(make, ["t02"])
    found = pd.DataFrame(net_return_rows(fitted, 6.0, 13.9, conf_level=0.95)).set_index("n_rate_kg_ha")
    for rate in (100.0, 180.0):
        own = [one.curves["quadratic-plateau"] for one in fitted]
        own = np.array([curve.yield_at([rate])[0] - curve.a - 6.0 * rate for curve in own])
        error = own.std(ddof=1) / np.sqrt(8)
        expected = own.mean(), error, own.mean() - stats.t.ppf(0.975, 7) * error
        assert tuple(found.loc[rate, ["net_return_kg_ha", "std_error", "conf_low"]]) == pytest.approx(expected)


def test_the_mean_does_not_jump_where_site_years_stop(make):
    """The two that stop respond least: a mean over those left would leap up by their lag, and mislead to the top."""
    rates = {"n_site_years": 8, "plot_sd": 0.01, "slope_sd": 15.0}
    fitted = fitted_without(make, ["t00", "t03"], **rates)
    found = pd.DataFrame(net_return_rows(fitted, 6.0, 13.9, conf_level=0.95)).set_index("n_rate_kg_ha")[
        "net_return_kg_ha"
    ]
    # beyond the join of 160 every curve is flat: one more kg/ha of N costs 6 kg/ha of yield, whoever tested it
    assert found.loc[240.0] - found.loc[180.0] == pytest.approx(-6 * 60, rel=1e-4)
    assert found.loc[181.0] - found.loc[180.0] == pytest.approx(-6, rel=1e-3)


def test_the_error_of_a_chained_mean(make):
    """Against the delete-one jackknife of the same chained mean: the usual check of a linear statistic's error."""
    fitted = fitted_without(make, ["t01", "t05"], n_site_years=10)

    def at_top(ladders_):
        return pd.DataFrame(net_return_rows(ladders_, 6.0, 13.9, conf_level=0.95)).set_index("n_rate_kg_ha").loc[240.0]

    left_out = np.array([at_top(fitted[:i] + fitted[i + 1 :])["net_return_kg_ha"] for i in range(10)])
    jackknife = np.sqrt(9 / 10 * ((left_out - left_out.mean()) ** 2).sum())
    assert at_top(fitted)["std_error"] == pytest.approx(jackknife, rel=0.15)


def test_rates_that_not_all_sources_reach_are_marked(make):
    joins = {make.UREA: 160.0, make.BLEND: 140.0}
    trials, treatments, plots, _ = make.program(6, joins=joins)
    plots = plots[plots["treatment_code"] != f"{make.BLEND}-240"]
    fitted = fitted_ladders(ladders(plots, treatments, trials), conf_level=0.95)
    ratio = {("corn", family): 6.0 for family in joins}
    found = net_returns(fitted, ratio, {}, conf_level=0.95)
    assert found.groupby("family")["n_rate_kg_ha"].max().to_dict() == {make.UREA: 240, make.BLEND: 180}
    assert (found["is_tested_by_all_sources"] == (found["n_rate_kg_ha"] <= 180)).all()
    assert net_returns(fitted, {}, {}, conf_level=0.95).empty


def test_highest_at_the_edge_is_said(make):
    found = table(make, joins={make.UREA: 400.0})
    assert found["is_highest"].iloc[-1]
    assert "top of the rates" in found["warnings"].iloc[0]
    assert table(make)["warnings"].eq("").all()


def test_without_a_crop_price_none_is_marked_near(make):
    assert table(make, near=None)["is_near_highest"].isna().all()


def test_fewer_than_three_site_years_have_no_rows(make):
    assert table(make, n_site_years=2).empty
    assert not table(make, n_site_years=3).empty
