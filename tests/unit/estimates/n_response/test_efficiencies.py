import numpy as np
import pandas as pd
import pytest
from statsmodels.stats.weightstats import DescrStatsW

from pipeline.contract.results import declared_results
from pipeline.estimates.n_response.efficiencies import (
    AGRONOMIC,
    DOES_NOT_APPLY,
    NO_ZERO_N,
    PARTIAL,
    efficiencies,
)

# site-year: yield without N, at 100 kg N, and the rate as planned there
DRAWN = {"s1": (5000.0, 8000.0, 100.0), "s2": (6000.0, 8000.0, 102.0), "s3": (4000.0, 9000.0, 100.0)}


def means(crop="corn", drawn=DRAWN, *, with_zero=True):
    rows = [
        (crop, "urea", site_year, f"t-{site_year}", "", n, mean, 4, None)
        for site_year, (zero, fertilized, rate) in drawn.items()
        for n, mean in (((0.0, zero),) if with_zero else ()) + ((rate, fertilized),)
    ]
    found = pd.DataFrame(rows, columns=declared_results()["rate_means"].names())
    return found.assign(cluster=found["site_year_id"])


def one(frame, name):
    found = efficiencies(frame, without=frozenset({"soybean"}), conf_level=0.95)
    (row,) = found[found["efficiency"] == name].to_dict("records")
    return row


def test_by_definition():
    agronomic, partial = one(means(), AGRONOMIC), one(means(), PARTIAL)
    assert agronomic["estimate"] == pytest.approx(np.mean([30, 2000 / 102, 50]))
    assert partial["estimate"] == pytest.approx(np.mean([80, 8000 / 102, 90]))
    assert agronomic["n_rate_kg_ha"] == pytest.approx(101)  # 100 and 102 are one planned rate
    low, high = DescrStatsW([30, 2000 / 102, 50]).tconfint_mean(0.05)
    assert (agronomic["conf_low"], agronomic["conf_high"]) == pytest.approx((low, high))


def test_does_not_apply_to_soybean():
    for name in (AGRONOMIC, PARTIAL):
        row = one(means("soybean"), name)
        assert row["status"] == DOES_NOT_APPLY
        assert pd.isna(row["estimate"]) and pd.isna(row["conf_low"])


def test_without_zero_n_only_the_partial_one_is_defined():
    assert one(means(with_zero=False), AGRONOMIC)["status"] == NO_ZERO_N
    assert one(means(with_zero=False), PARTIAL)["estimate"] == pytest.approx(np.mean([80, 8000 / 102, 90]))


def test_two_site_years_have_no_interval():
    row = one(means(drawn={key: DRAWN[key] for key in ("s1", "s2")}), AGRONOMIC)
    assert row["status"] == "fewer than 3 site-years: no interval" and pd.isna(row["conf_low"])


def test_two_trials_of_a_site_year_count_once():
    twin = means().query("site_year_id == 's1'").assign(trial_id="twin")
    doubled = one(pd.concat([means(), twin]), AGRONOMIC)
    assert doubled["estimate"] == pytest.approx(one(means(), AGRONOMIC)["estimate"])
    assert doubled["n_site_years"] == 3
