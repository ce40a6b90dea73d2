"""What the averages rested on when each season was the last: one hash by season, of its data and all before it.

A page that speaks for the seasons up to one of them is as it would be printed from nothing as long as that hash holds:
a correction changes the hash of its own season and of all after it, a new season changes none.
"""

from __future__ import annotations

import hashlib
from collections.abc import Mapping

import pandas as pd

from pipeline.contract.results import frame_of
from pipeline.estimate_ids import PLOT_COLUMNS, PRINTED_COLUMNS, TRIAL_COLUMNS, lines
from pipeline.site_years.eligibility import ARM_COLUMNS

ALL = ()
RESTS_ON = {
    "trials": (*TRIAL_COLUMNS, "plot_set"),
    "treatments": ALL,
    "plots": (*PLOT_COLUMNS, "moisture_pct"),  # of a yield that came dry, too: it decides what a gain pays
    "printed_means": (*PRINTED_COLUMNS, "compared_with", "difference_kg_ha"),
    "arms": ARM_COLUMNS,
}


def season_inputs(frames: Mapping[str, pd.DataFrame]) -> pd.DataFrame:
    """Rows of estimates.season_inputs.

    Args:
        frames: those of RESTS_ON, each with a trial_id: accepted trials and what belongs to them.
    """
    trials = frames["trials"]
    # the first trial on its plots is left out: only a later season makes it one of several
    plot_set = trials["plot_set"].where(trials["plot_set"] != trials["trial_id"])
    frames = {**frames, "trials": trials.assign(plot_set=plot_set)}
    season_of = trials.set_index("trial_id")["season"]
    by_season = {name: dict(list(frames[name].groupby(frames[name]["trial_id"].map(season_of)))) for name in RESTS_ON}
    rows, so_far = [], hashlib.sha256()
    for season in sorted(season_of.unique()):
        for name, columns in RESTS_ON.items():
            frame = by_season[name].get(season, frames[name].head(0))
            text = lines(frame, columns or tuple(frame.columns))
            so_far.update(f"{name} {len(text)} {text}".encode())
        rows.append({"season": season, "data_sha256": so_far.hexdigest()})
    return frame_of(rows, "season_inputs")
