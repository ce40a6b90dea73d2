"""The earliest day on which a yield behind a comparison can have been known."""

from __future__ import annotations

import pandas as pd
import pytest

from pipeline.site_years.first_harvests import first_harvests

TRIALS = pd.DataFrame(
    [
        ("dated", 2092, "2092-05-02", "2092-10-20"),
        ("earlier", 2091, "2091-05-01", "2091-10-02"),
        ("planted", 2091, "2091-04-20", None),
        ("bare", 2090, None, None),
        ("printed", 2086, None, None),
    ],
    columns=["trial_id", "season", "planted", "harvested"],
).assign(crop="corn")


@pytest.mark.parametrize(
    ("used", "first", "known_by", "printed"),
    [
        (["dated", "earlier"], "2091-10-02", "harvested", None),
        (["dated", "planted"], "2091-04-20", "planted", None),
        (["dated", "bare"], "2090-01-01", "season", None),
        (["dated", "printed"], "2092-10-20", "harvested", "2086-01-01"),
        (["printed"], "2086-01-01", "season", None),
    ],
)
def test_the_first_harvest_and_what_it_is_known_by(used, first, known_by, printed):
    eligibility = pd.DataFrame(
        {"comparison_id": "c", "trial_id": TRIALS["trial_id"], "is_used": TRIALS["trial_id"].isin(used)}
    )
    (row,) = first_harvests(eligibility, TRIALS, {"printed"}).itertuples()
    assert (row.first_harvest, row.known_by) == (pd.Timestamp(first), known_by)
    assert row.first_printed == pd.Timestamp(printed) if printed else pd.isna(row.first_printed)


def test_a_comparison_without_trials_has_none():
    nothing = pd.DataFrame({"comparison_id": ["c"], "trial_id": ["dated"], "is_used": [False]})
    assert first_harvests(nothing, TRIALS, set()).empty
