"""The kept study of a season variance estimated as zero: it is of the interval that the code prints, and that interval
is as sure as stated over all programs, though not among those where the variance comes out as zero.
"""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest

from pipeline.contract.vocabulary import TARGETS, TO_COME
from pipeline.estimates.average import pooling
from pipeline.simulation import calibration
from pipeline.simulation.season_zero import kept as kept_study
from tests.simulated import season_zero
from tests.simulated.season_zero import N_BLOCKS, MeanSquares


@pytest.mark.parametrize(("n_seasons", "per_season", "seed"), [(3, 3, 2), (3, 8, 1), (4, 3, 1), (6, 3, 2)])
def test_the_closed_form_is_the_interval_that_is_published(n_seasons, per_season, seed, fitted_by_own_code):
    """Draws whose season variance comes out as zero, and draws where it does not."""
    rng, found = np.random.default_rng(seed), []
    for season_sd in (0.0, 0.2, 0.8, 2.0):
        shape = (n_seasons, per_season, N_BLOCKS)
        of_season, of_site_year, own = (rng.normal(size=size) for size in (shape[:1], shape[:2], shape))
        gain = season_sd * of_season[:, None, None] + of_site_year[:, :, None] + np.sqrt(N_BLOCKS) * own
        half, is_zero = season_zero.half_widths(mean_squares(gain), n_seasons, per_season)
        row, component = published(gain)
        assert (row["conf_high"] - row["conf_low"]) / 2 == pytest.approx(float(half), rel=2e-3)
        assert (component == 0) == bool(is_zero)
        found.append(bool(is_zero))
    assert set(found) == {True, False}


def mean_squares(gain: np.ndarray) -> MeanSquares:
    n_seasons, per_season, n_blocks = gain.shape
    site_years, seasons = gain.mean(axis=2), gain.mean(axis=(1, 2))
    return MeanSquares(
        blocks=gain.var(axis=2, ddof=1).mean(),
        site_years=n_blocks * site_years.var(axis=1, ddof=1).mean(),
        seasons=n_blocks * per_season * seasons.var(ddof=1),
    )


def published(gain: np.ndarray) -> tuple[pd.Series, float]:
    """The headline for seasons to come, and the season variance that the model found."""
    rows = [
        {"comparison_id": "c", "site_year_id": f"{s}-{p}", "trial_id": f"{s}-{p}", "place": f"{s}-{p}",
         "season": 2091 + s, "block": str(b), "variance": float(N_BLOCKS), "gain": gain[s, p, b]}
        for s, p, b in np.ndindex(gain.shape)
    ]  # fmt: skip
    blocks = pd.DataFrame(rows)
    first = blocks.groupby("site_year_id").agg(
        {"comparison_id": "first", "place": "first", "season": "first", "gain": "mean"}
    )
    site_years = first.reset_index().assign(
        std_error=1.0, n_trials=1, plot_set=None, lasting_std_error=np.nan, lasting_df=np.nan
    )
    pooled, components = pooling.pooled_gains(site_years, blocks, ["c"])
    (row,) = (each for _, each in pooled[pooled["is_headline"] & pooled["target"].eq(TO_COME)].iterrows())
    assert list(pooled["target"].unique()) == list(TARGETS)
    of_season = components[components["component"].eq("season") & components["target"].eq(TO_COME)]
    return row, float(of_season["variance"].iloc[0])


def test_over_all_programs_the_kept_study_holds_the_truth_as_often_as_stated():
    kept = kept_study()
    layouts = {(s, p, r) for s in season_zero.N_SEASONS for p in season_zero.PER_SEASON for r in season_zero.RATIOS}
    assert set(zip(kept["n_seasons"], kept["per_season"], kept["ratio"])) == layouts and len(kept) == len(layouts)
    assert (kept["coverage"] > calibration.GOAL).all()
    assert (kept["coverage_above_zero"] > calibration.GOAL).all()


@pytest.mark.parametrize(("n_seasons", "per_season", "ratio"), [(3, 8, 1.0), (4, 3, 0.0), (10, 8, 0.25)])
def test_it_comes_out_now_as_then(n_seasons, per_season, ratio):
    kept = kept_study().set_index(["n_seasons", "per_season", "ratio"]).loc[n_seasons, per_season, ratio]
    now = season_zero.simulated(n_seasons, per_season, ratio, 20_000, seed=2)
    for half in ("", "_zero", "_above_zero"):
        error = np.hypot(now[f"mc_error{half}"], kept[f"mc_error{half}"]) + 1e-4
        assert abs(now[f"coverage{half}"] - kept[f"coverage{half}"]) < 4 * error
