"""CR2 against clubSandwich's stored answers, and against what its formula comes to where everything is equal.

Source and standing of each number: pipeline/contract/published_checks.yml.
"""

import numpy as np
import pytest

from pipeline.estimates.engines.cluster_robust import _adjustment, clustered_mean
from pipeline.estimates.engines.two_stage import plain_mean


@pytest.mark.parametrize("case", ["alike", "unequal", "three", "few"])
def test_agrees_with_clubsandwich(answers, case):
    """Seasons of 1 to 12 site-years with unequal variances; nine digits of estimate, standard error and df."""
    rows = answers("clustered_mean").query("case == @case")
    expected = answers("clustered_mean_answers").set_index("case").loc[case]
    variances = rows["variance"].to_numpy() + expected["tau2"]
    found = clustered_mean(rows["gain"].to_numpy(), variances, rows["season"].to_numpy())
    for name in ("estimate", "std_error", "df"):
        assert getattr(found, name) == pytest.approx(expected[name], rel=1e-9)


def test_equal_clusters_are_the_mean_of_cluster_means():
    """All alike: t on the cluster means, df one less than clusters."""
    values = np.array([[1.0, 3, 2], [6, 4, 8], [0, 1, 2], [5, 5, 2]])
    found = clustered_mean(values.ravel(), np.full(12, 2.5), np.repeat(list("abcd"), 3))
    expected = plain_mean(values.mean(axis=1))
    assert (found.estimate, found.std_error, found.df) == pytest.approx((expected.estimate, expected.std_error, 3))


def test_every_value_a_cluster_of_its_own():
    """Unit clusters, equal variances: the usual standard error of a mean."""
    values = np.array([3.0, -1.0, 6.0, 4.0, 9.0])
    found, expected = clustered_mean(values, np.ones(5), np.arange(5)), plain_mean(values)
    assert (found.estimate, found.std_error, found.df) == pytest.approx((expected.estimate, expected.std_error, 4))


def test_many_clusters_are_what_whole_matrices_give():
    """The adjusted residuals' weights written out as clusters x values."""
    rng = np.random.default_rng(5)
    clusters, variances = rng.integers(0, 40, 120), rng.uniform(0.5, 4, 120)
    values = rng.normal(3, 2, 120)
    total = np.sum(1 / variances)
    share, rows = 1 / variances / total, []
    for cluster in np.unique(clusters):
        inside = clusters == cluster
        row = np.zeros(120)
        row[inside] = share[inside] @ _adjustment(variances[inside], total)
        rows.append(row - row.sum() * share)
    between = (np.array(rows) * variances) @ np.array(rows).T
    found = clustered_mean(values, variances, clusters)
    assert found.estimate == pytest.approx(share @ values, rel=1e-12)
    assert found.std_error == pytest.approx(np.sqrt(np.sum((np.array(rows) @ values) ** 2)), rel=1e-12)
    assert found.df == pytest.approx(np.trace(between) ** 2 / np.sum(between**2), rel=1e-12)


def test_unbiased_where_the_variances_are_true():
    """4,000 draws with seasons of 1, 2 and 5: the mean of the variance is that of the estimate (Monte Carlo error 2
    %).
    """
    rng, variances = np.random.default_rng(3), np.array([1.0, 2, 1, 3, 1, 2, 1, 1])
    clusters = np.array([0, 1, 1, 2, 2, 2, 2, 2])
    draws = [clustered_mean(rng.normal(size=8) * np.sqrt(variances), variances, clusters) for _ in range(4000)]
    assert np.mean([one.std_error**2 for one in draws]) == pytest.approx(1 / np.sum(1 / variances), rel=0.08)
