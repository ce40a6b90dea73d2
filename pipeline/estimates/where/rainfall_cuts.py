"""Rainfall-class gains with the site-years near a cut point moved to the next class."""

from __future__ import annotations

import numpy as np
import pandas as pd

from pipeline.contract.results import narrowed
from pipeline.contract.vocabulary import BY_RAINFALL
from pipeline.estimates.average import robustness
from pipeline.estimates.engines.interval_rules import CONF_LEVEL
from pipeline.estimates.where import breakdown

NEAR_CUT = "near a rainfall cut: moved to the next class"
NOT_THERE = {"conf_low": np.nan, "conf_high": np.nan}


def at_other_cuts(
    site_year_gains: pd.DataFrame,
    model_blocks: pd.DataFrame,
    by_class: pd.DataFrame,
    neighboring_classes: pd.DataFrame,
    *,
    conf_level: float = CONF_LEVEL,
) -> pd.DataFrame:
    """Rainfall-class headlines with site-years near a cut moved to the next class, columns of robustness.

    neighboring_classes: comparison_id, site_year_id, rainfall_class (the next one).
    by_class: the pooled rows of the breakdown as it stands.
    """
    rows = []
    moves = neighboring_classes.merge(
        site_year_gains[["comparison_id", "site_year_id"]], on=["comparison_id", "site_year_id"]
    )
    for comparison_id, of_comparison in moves.groupby("comparison_id"):
        next_class = of_comparison.set_index("site_year_id")["rainfall_class"]
        moved = [
            _moved(frame[frame["comparison_id"] == comparison_id], next_class)
            for frame in (site_year_gains, model_blocks)
        ]
        alone = {BY_RAINFALL: breakdown.MODERATORS[BY_RAINFALL]}
        found, _ = breakdown.breakdowns(*moved, [comparison_id], moderators=alone, conf_level=conf_level)
        before = by_class[(by_class["comparison_id"] == comparison_id) & (by_class["moderator"] == BY_RAINFALL)]
        before = before[before["is_headline"]].set_index(["target", "level"])
        for row in found[found["is_headline"]].to_dict("records"):
            place = (row["target"], row["level"])
            headline = before.loc[place].to_dict() if place in before.index else NOT_THERE
            left_out = ", ".join(sorted(next_class.index))
            rows.append(
                row | {"kind": NEAR_CUT, "left_out": left_out, "ratio_low": None} | robustness.changes(row, headline)
            )
    return narrowed(rows, "robustness")


def _moved(frame: pd.DataFrame, next_class: pd.Series) -> pd.DataFrame:
    moved = frame["site_year_id"].map(next_class)
    return frame.assign(rainfall_class=moved.where(moved.notna(), frame["rainfall_class"]))
