"""Source and standing of each number: pipeline/contract/published_checks.yml."""

import numpy as np
import pytest

from pipeline.estimates.trials.moderation import moderated_dfs, prior, squeeze


@pytest.mark.parametrize("case", [4, 9, 25])
def test_agrees_with_limma(answers, case):
    """limma is the code of the author of the method (Smyth 2004)."""
    table = answers("moderation").query("case == @case")
    variances, dfs = table["variance"].to_numpy(), table["df"].to_numpy()
    shared = prior(variances, dfs)
    assert shared.df == pytest.approx(table["prior_df"].iloc[0], rel=1e-6)
    assert shared.variance == pytest.approx(table["prior_variance"].iloc[0], rel=1e-6)
    assert squeeze(variances, dfs) == pytest.approx(table["moderated"].to_numpy(), rel=1e-6)


def test_variances_that_differ_by_chance_only_are_pooled():
    """By their df; limma takes the geometric mean there, which throws the df away."""
    variances, dfs = np.array([1.0, 1.1, 0.95]), np.array([10.0, 20.0, 10.0])
    assert squeeze(variances, dfs) == pytest.approx([(10 + 22 + 9.5) / 40] * 3)
    assert moderated_dfs(variances, dfs) == pytest.approx([40.0] * 3)


def test_one_trial_keeps_its_own():
    assert squeeze(np.array([2.5]), np.array([6.0])) == pytest.approx([2.5])
    assert moderated_dfs(np.array([2.5]), np.array([6.0])) == pytest.approx([6.0])


def test_no_trial_gives_nothing():
    assert len(squeeze(np.array([]), np.array([]))) == 0


def test_moderation_pulls_toward_the_others_and_never_past_them():
    variances, dfs = np.array([0.02, 1.0, 1.2, 0.9, 40.0]), np.full(5, 6.0)
    moderated = squeeze(variances, dfs)
    assert variances[0] < moderated[0] < moderated[-1] < variances[-1]
    assert np.all(np.diff(moderated[np.argsort(variances)]) > 0)


def test_unit_does_not_matter():
    variances, dfs = np.array([0.2, 1.0, 1.2, 0.1]), np.array([4.0, 9.0, 9.0, 21.0])
    assert squeeze(variances * 1e6, dfs) == pytest.approx(squeeze(variances, dfs) * 1e6, rel=1e-9)
