"""Points along a strip, delivered as plots of the same treatment in one block, are one strip in every estimate."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest

from pipeline.estimates.engines import mixed
from tests.tiny_program import write_tiny_program

TRIAL = "2091-A-corn"
N_POINTS = 3


@pytest.fixture(scope="module")
def views(tmp_path_factory) -> dict[str, pd.DataFrame]:
    """The tiny program, its first trial in strips of which each is weighed at three points that differ."""
    tiny = write_tiny_program(tmp_path_factory.mktemp("strips"))
    tiny.change("trials", 2, "design", "strips")
    heads, *rows = tiny.rows("plots")
    weight, plot = heads.index("harvest_weight_lb"), heads.index("plot")
    points = []
    for number, row in enumerate(rows):
        for point in range(N_POINTS if row[0] == TRIAL else 1):
            cells = list(row)
            cells[plot] = f"{row[plot]}{'abc'[point]}"
            cells[weight] = f"{float(row[weight]) + (7 * number % 5 - 2) / 10 + (point - 1) * (1 + number / 10):.1f}"
            points.append(cells)
    tiny.write("plots", [heads, *points])
    with mixed.by(mixed.OWN):
        stored = tiny.load_and_estimate()
        return {name: stored[f"reports.{name}"] for name in ("plots", "site_year_gains", "trials", "rate_means")}


def test_a_gain_has_the_error_of_strips_and_not_of_points(views):
    """By hand: with two fertilized strips in each block the error of the gain is that of its differences by block."""
    used = views["plots"].query("trial_id == @TRIAL and fate == 'used'")
    assert len(used) == 3 * 2 * N_POINTS
    strips = used.groupby(["block", "treatment_code"])["yield"].mean().unstack()
    gains = (strips["C-120"] - strips["U-120"]).to_numpy()
    (row,) = views["site_year_gains"].query("site_year_id.str.contains('2091') and crop == 'corn'").to_dict("records")
    assert row["gain"] == pytest.approx(gains.mean())
    assert row["own_std_error"] == pytest.approx(gains.std(ddof=1) / np.sqrt(len(gains)))


def test_strips_are_counted_and_not_points(views):
    (trial,) = views["trials"].query("trial_id == @TRIAL").to_dict("records")
    assert trial["n_plots"] == 2 * 2  # fertilized strips of two blocks
    means = views["rate_means"].query("trial_id == @TRIAL")
    assert len(means) and set(means["n_plots"]) == {2}
