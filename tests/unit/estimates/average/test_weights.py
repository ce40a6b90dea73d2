import numpy as np
import pandas as pd
import pytest

from pipeline.contract.results import frame_of
from pipeline.contract.vocabulary import TESTED, TO_COME
from pipeline.estimates.average import weights
from pipeline.estimates.engines import one_stage
from pipeline.estimates.engines.interval_rules import MIXED, PLAIN, TWO_STAGE
from tests.declared_shapes import check_shape


@pytest.fixture(scope="module")
def found(build):
    def run(n_missing=0, design="RCBD", same_plots=False, **layout):
        comparisons, trials, *others = build.program(5, season_sd=150.0, **layout)
        trials = trials[n_missing:].assign(design=design)  # else every variance would give the same weights
        if same_plots:
            trials = trials.assign(plot_set=trials["place"])
        own, pooled, components = build.averages(comparisons, trials, *others)
        site_years = own.site_year_gains
        gains = (pd.concat([site_years, site_years.assign(comparison_id="other", gain=0.0)]), own.block_gains)
        others = components.assign(comparison_id="other", variance=1.0)  # of another comparison, to no effect
        return pooled, weights.headline_weights(pooled, *gains, pd.concat([components, others]), trials)

    return {
        "many": run(n_missing=3),
        "few": run(n_places=5, n_seasons=1),
        "one place": run(n_places=1, n_seasons=4),
        "one gain each": run(n_places=8, n_seasons=1, design="CRD"),
        "one gain each, same plots": run(n_places=2, n_seasons=4, design="CRD", same_plots=True),
    }


@pytest.mark.parametrize(
    ("layout", "methods"),
    [
        ("many", {MIXED}),
        ("few", {PLAIN}),
        ("one place", {PLAIN}),
        ("one gain each", {TWO_STAGE}),
        ("one gain each, same plots", {TWO_STAGE, MIXED}),
    ],
)
def test_weights_give_the_headline_back(found, layout, methods):
    pooled, rows = found[layout]
    leading = pooled[pooled["is_headline"].eq(True) & (pooled["moderator"] == "all") & pooled["estimate"].notna()]
    assert set(leading["method"]) == methods
    for row in leading.itertuples():
        of_headline = rows[rows["target"] == row.target]
        assert len(of_headline) == row.n_site_years
        assert of_headline["weight"].sum() == pytest.approx(1)
        assert (of_headline["weight"] * of_headline["gain"]).sum() == pytest.approx(row.estimate, rel=1e-5)


@pytest.mark.parametrize("target", [TESTED, TO_COME])
@pytest.mark.parametrize("n_blocks", [1, 4])
@pytest.mark.parametrize("n_places", [8, 80])
def test_weights_are_those_of_whole_matrices(n_places, n_blocks, target):
    """Block gains of unequal precision, with a fifth of the site-years missing and two trials at some."""
    rng = np.random.default_rng([n_places, n_blocks])
    rows = [
        {"site_year_id": f"{p}-{s}", "trial_id": f"{p}-{s}-{t}", "place": f"p{p}", "season": 2090 + s}
        for p in range(n_places)
        for s in range(4)
        if rng.random() < 0.8
        for t in range(1 if n_blocks == 1 or rng.random() < 0.8 else 2)
        for _ in range(n_blocks)
    ]
    blocks = pd.DataFrame(rows).sample(frac=1, random_state=rng, ignore_index=True)
    blocks = blocks.assign(gain=rng.normal(5, 2, len(blocks)), variance=rng.uniform(2, 10, len(blocks)))
    terms = one_stage.terms_for(blocks, target)
    assert ("site_year_id" in terms) == (n_blocks > 1)
    named = {one_stage.COMPONENTS[term]: 1.0 + n for n, term in enumerate(terms)} | {"residual": 6.0}
    covariance = np.diag(6.0 / one_stage.block_weights(blocks, terms)[0])
    for term in terms:
        labels = blocks[term].to_numpy()
        covariance += named[one_stage.COMPONENTS[term]] * np.equal.outer(labels, labels)
    solved = np.linalg.solve(covariance, np.ones(len(blocks)))
    expected = pd.Series(solved / solved.sum()).groupby(blocks["site_year_id"]).sum()
    components = pd.DataFrame({"component": list(named), "variance": list(named.values())})
    found = weights._mixed(blocks, components, target).set_index("site_year_id")
    pd.testing.assert_series_equal(found["weight"], expected, check_names=False, rtol=1e-10)
    total = (found["weight"] * found["gain"]).sum()
    assert total == pytest.approx(solved @ blocks["gain"] / solved.sum(), rel=1e-10)


@pytest.mark.parametrize("same_plots", [False, True])
def test_weights_of_two_stages_are_those_of_whole_matrices(same_plots):
    errors, sets = np.array([1.0, 2.0, 3.0, 1.5]), ["a", "a", None, None] if same_plots else [None] * 4
    site_years = pd.DataFrame({"site_year_id": list("abcd"), "gain": 1.0, "std_error": errors, "plot_set": sets})
    site_years = site_years.assign(lasting_std_error=0.8, lasting_df=9.0)
    covariance = np.diag(errors**2 + 2.5)
    covariance[0, 1] = covariance[1, 0] = 0.64 * same_plots
    solved = np.linalg.solve(covariance, np.ones(4))
    found = weights._two_stage(site_years, 2.5)
    assert found["weight"].to_numpy() == pytest.approx(solved / solved.sum(), rel=1e-10)


@pytest.mark.parametrize(("target", "expected"), [(TESTED, [0.25] * 4), (TO_COME, [0.5, 1 / 6, 1 / 6, 1 / 6])])
def test_a_plain_mean_counts_site_years_alike_or_seasons(target, expected):
    site_years = pd.DataFrame({"site_year_id": list("abcd"), "season": [2091, 2092, 2092, 2092], "gain": 1.0})
    assert weights._plain(site_years, target)["weight"].to_list() == pytest.approx(expected)


def test_nothing_to_weigh():
    pooled, site_years, blocks, components = (
        frame_of([], name) for name in ("pooled_gains", "site_year_gains", "block_gains", "variance_components")
    )
    trials = pd.DataFrame(columns=["trial_id", "site_year_id", "place", "season"])
    check_shape("headline_weights", weights.headline_weights(pooled, site_years, blocks, components, trials))
