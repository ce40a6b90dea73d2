"""The kept study of few places and shared plots: no printed interval is too narrow, and it is of the layouts that the
code draws.
"""

import pandas as pd

from pipeline.contract.vocabulary import TARGETS
from pipeline.simulation import calibration
from tests.examples import examples
from tests.simulated import few_places


def test_no_interval_of_the_kept_study_is_too_narrow():
    kept = pd.read_csv(few_places.FILE)
    drawn = {kind: set(rows["comparison_id"]) for kind, rows in few_places.layouts().items()}
    assert {kind: set(rows["comparison_id"]) for kind, rows in kept.groupby("kind")} == drawn
    assert not kept["verdict"].str.startswith("too narrow").any()
    # by target over all layouts and truths, where the Monte Carlo error is a fifth of a case's
    assert (kept.groupby(["kind", "target"])["coverage"].mean() > calibration.GOAL).all()


def test_two_places_and_shared_plots_are_caught_now_as_then():
    rows = pd.concat(few_places.layouts().values())
    some = rows[rows["comparison_id"].isin(["2 places x 4 seasons", "3 sets of plots, 4 years each"])]
    truth = few_places.TRUTHS["plots"][0]
    found = calibration.calibrate(
        some, [truth], n=examples(12, 25), seed=3, taus=dict.fromkeys(some["comparison_id"], 1.5), n_processes=1
    )
    published = found[found["method"] == calibration.PUBLISHED]
    assert len(published) == 4 and set(published["target"]) == set(TARGETS)
    # at 95% fewer than 9 of 12 programs are caught once in 450, fewer than 20 of 25 once in 900
    assert (published["coverage"] >= examples(0.75, 0.8)).all()
