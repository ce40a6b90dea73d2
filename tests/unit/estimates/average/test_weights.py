import pandas as pd
import pytest

from pipeline.contract.results import frame_of
from pipeline.estimates.average import weights
from pipeline.estimates.engines.interval_rules import MIXED, PLAIN
from tests.declared_shapes import check_shape


@pytest.fixture(scope="module")
def found(build):
    def run(**layout):
        arguments = build.program(5, season_sd=150.0, **layout)
        own, pooled, components = build.averages(*arguments)
        gains = (own.site_year_gains, own.block_gains)
        return pooled, weights.headline_weights(pooled, *gains, components, arguments[1])

    return {"many": run(), "few": run(n_places=5, n_seasons=1), "one place": run(n_places=1, n_seasons=4)}


@pytest.mark.parametrize(("layout", "methods"), [("many", {MIXED}), ("few", {PLAIN}), ("one place", {PLAIN})])
def test_weights_give_the_headline_back(found, layout, methods):
    pooled, rows = found[layout]
    leading = pooled[pooled["is_headline"].eq(True) & (pooled["moderator"] == "all") & pooled["estimate"].notna()]
    assert set(leading["method"]) == methods
    for row in leading.itertuples():
        of_headline = rows[rows["target"] == row.target]
        assert len(of_headline) == row.n_site_years
        assert of_headline["weight"].sum() == pytest.approx(1)
        assert (of_headline["weight"] * of_headline["gain"]).sum() == pytest.approx(row.estimate, rel=1e-5)


def test_nothing_to_weigh():
    pooled, site_years, blocks, components = (
        frame_of([], name) for name in ("pooled_gains", "site_year_gains", "block_gains", "variance_components")
    )
    trials = pd.DataFrame(columns=["trial_id", "site_year_id", "place", "season"])
    check_shape("headline_weights", weights.headline_weights(pooled, site_years, blocks, components, trials))
