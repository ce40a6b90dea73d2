"""Length of hospital stay, 9 trials, differences of means: DL and REML differ threefold here, which no shared slip
could imitate.

Source and standing of each number: pipeline/contract/published_checks.yml.
"""

import numpy as np
import pytest

from pipeline.estimates.engines import two_stage

GAINS = np.array([-20.0, -2, -55, -71, -4, 1, 11, -10, 7])
VARIANCES = np.array(
    [
        40.5863154,
        2.04683369,
        15.2808764,
        150.222222,
        20.1923077,
        1.22352971,
        95.3755519,
        8.03207433,
        20.6935664,
    ]
)


@pytest.mark.parametrize(
    "estimator, tau2, estimate, printed",
    [
        (two_stage.tau2_dersimonian_laird, 218.721601, -14.0972229, -14.0972),
        (two_stage.tau2_reml, 685.196501, -15.1216849, -15.1217),
        (two_stage.tau2_paule_mandel, 728.141491, -15.1598884, None),
    ],
)
def test_estimators(estimator, tau2, estimate, printed):
    found = estimator(GAINS, VARIANCES)
    assert found == pytest.approx(tau2, rel=1e-5)
    mean = two_stage.random_effects_mean(GAINS, VARIANCES, found).estimate
    assert mean == pytest.approx(estimate, rel=1e-6)
    assert printed is None or round(mean, 4) == printed


def test_heterogeneity_and_knapp_hartung():
    assert two_stage.heterogeneity(GAINS, VARIANCES).q_stat == pytest.approx(241.059010, rel=1e-7)
    mean = two_stage.random_effects_mean(GAINS, VARIANCES, two_stage.tau2_reml(GAINS, VARIANCES))
    assert mean.std_error == pytest.approx(9.20279589, rel=1e-6)
    half = mean.half_width(0.95)
    assert (mean.estimate - half, mean.estimate + half) == pytest.approx((-36.3433703, 6.10000048), rel=1e-6)
