import pandas as pd
import pytest

from pipeline.estimates.n_response import optimum as opt
from pipeline.estimates.n_response.site_year_optima import site_year_optima


def n_response(rows):
    base = {
        "crop": "corn",
        "family": "urea",
        "model": "quadratic-plateau",
        "level": "trial",
        "price_ratio": 6.0,
        "conf_level": 0.95,
    }
    return pd.DataFrame(
        [base | {"site_year_id": s, "cluster": s, "flag": f, "aonr": a, "eonr": e} for s, f, a, e in rows]
    )


def test_counts_and_mean_of_those_found():
    (row,) = site_year_optima(
        n_response(
            [
                ("a", opt.FOUND, 150.0, 130.0),
                ("a", opt.FOUND, 170.0, 150.0),  # second trial of a: averaged first
                ("b", opt.FOUND, 120.0, 100.0),
                ("c", opt.BEYOND, None, 180.0),
                ("d", opt.BEYOND, None, None),
                ("e", opt.NO_RESPONSE, None, None),
                ("f", opt.NEGATIVE, None, None),
                ("g", opt.BELOW, None, None),
                ("h", opt.FEW_RATES, None, None),
            ]
        )
    ).to_dict("records")
    counts = {key: row[key] for key in row if key.startswith("n_")}
    assert counts == {
        "n_ladders": 9,
        "n_found": 3,
        "n_no_response": 1,
        "n_negative_response": 1,
        "n_beyond_highest_rate": 2,
        "n_below_two_rates": 1,
        "n_not_fitted": 1,
        "n_aonr": 2,
        "n_eonr": 3,
    }
    assert row["n_ladders"] == sum(counts[key] for key in list(counts)[1:7])
    assert row["mean_aonr"] == 140 and pd.isna(row["aonr_low"])  # two site-years: no interval
    assert row["mean_eonr"] == pytest.approx((140 + 100 + 180) / 3)
    half = 4.302652730 * 40 / 3**0.5  # t(2), 97.5 %; SD of 140, 100, 180 is 40
    assert (row["eonr_low"], row["eonr_high"]) == pytest.approx((140 - half, 140 + half))


def test_nothing_found_has_no_mean():
    (row,) = site_year_optima(n_response([("a", opt.NO_RESPONSE, None, None)])).to_dict("records")
    assert pd.isna(row["mean_eonr"]) and row["n_eonr"] == 0
