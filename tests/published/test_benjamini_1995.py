"""Fifteen ordered p-values: the paper's Bonferroni and Hochberg reject 3 at 5 %; Holm's adjustment, which we use,
rejects the same 3.

Source and standing of each number: pipeline/contract/published_checks.yml.
"""

import numpy as np
import pytest

from pipeline.estimates.where import multiplicity

P_VALUES = [
    0.0001,
    0.0004,
    0.0019,
    0.0095,
    0.0201,
    0.0278,
    0.0298,
    0.0344,
    0.0459,
    0.3240,
    0.4262,
    0.5719,
    0.6528,
    0.7590,
    1.0,
]
HOLM = [0.0015, 0.0056, 0.0247, 0.114, 0.2211, 0.278, 0.278, 0.278, 0.3213, 1, 1, 1, 1, 1, 1]


def test_holm():
    found = multiplicity.holm(np.array(P_VALUES))
    assert found.tolist() == pytest.approx(HOLM, rel=1e-9)
    assert np.sum(found <= 0.05) == 3


def test_ties_order_and_missing_values():
    assert multiplicity.holm(np.array([0.04, 0.01, 0.03, 0.01])).tolist() == pytest.approx([0.06, 0.04, 0.06, 0.04])
    assert multiplicity.holm(np.array([0.01, np.nan, 0.04])).tolist() == pytest.approx(
        [0.02, np.nan, 0.04], nan_ok=True
    )
