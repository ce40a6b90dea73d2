import pandas as pd
import pytest

from pipeline.estimates.average import weights
from pipeline.estimates.engines.interval_rules import MIXED, PLAIN
from pipeline.estimates.program import estimate


@pytest.fixture(scope="module")
def found(build):
    def run(**layout):
        arguments = build.program(5, season_sd=150.0, **layout)
        frames = estimate(*arguments)
        names = ("pooled_gains", "site_year_gains", "block_gains", "variance_components")
        return frames, weights.headline_weights(*(frames[name] for name in names), arguments[1])

    return {"many": run(), "few": run(n_places=5, n_seasons=1), "one place": run(n_places=1, n_seasons=4)}


@pytest.mark.parametrize(("layout", "methods"), [("many", {MIXED}), ("few", {PLAIN}), ("one place", {PLAIN})])
def test_weights_give_the_headline_back(found, layout, methods):
    frames, rows = found[layout]
    pooled = frames["pooled_gains"]
    leading = pooled[pooled["is_headline"].eq(True) & (pooled["moderator"] == "all") & pooled["estimate"].notna()]
    assert set(leading["method"]) == methods
    for row in leading.itertuples():
        of_headline = rows[rows["target"] == row.target]
        assert len(of_headline) == row.n_site_years
        assert of_headline["weight"].sum() == pytest.approx(1)
        assert (of_headline["weight"] * of_headline["gain"]).sum() == pytest.approx(row.estimate, rel=1e-5)


def test_nothing_to_weigh():
    empty = pd.DataFrame(columns=["comparison_id", "is_headline", "moderator", "estimate", "target", "method", "trial_id", "block", "site_year_id", "place",
                                  "season", "drainage_group", "rainfall_class", "is_pooled", "component", "variance"])  # fmt: skip
    assert list(
        weights.headline_weights(empty, empty, empty[["comparison_id", "trial_id", "block"]], empty, empty).columns
    ) == list(weights.WEIGHTS)
