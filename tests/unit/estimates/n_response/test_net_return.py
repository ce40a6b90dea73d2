import numpy as np
import pandas as pd
import pytest

from pipeline.estimates.n_response.ladders import ladders
from pipeline.estimates.n_response.net_return import net_return_rows
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


def test_rates_stop_where_one_site_year_stops(make):
    trials, treatments, plots, _ = make.program(6)
    lost = plots[~(plots["trial_id"].eq("t02") & plots["treatment_code"].str.endswith("-240"))]
    fitted = fitted_ladders(ladders(lost, treatments, trials), conf_level=0.95)
    assert max(row["n_rate_kg_ha"] for row in net_return_rows(fitted, 6.0, 13.9, conf_level=0.95)) == 180


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
