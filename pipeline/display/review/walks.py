"""What printed estimates are worked out from, as a section of the review file shows it."""

from __future__ import annotations

from collections.abc import Mapping

import pandas as pd

from pipeline import trace
from pipeline.trace import Step

# Under which name each kind of estimate holds its figure; the others hold it as `estimate`.
FIGURE_OF = {
    "money": "net_change",
    "field_shares": "share",
    "nitrogen_saved": "nitrogen_saved",
    "response_curves": "b",
    "rate_losses": "loss",
}


def first_steps_of(views: Mapping[str, pd.DataFrame], rows: Mapping[str, pd.DataFrame], *kinds: str) -> list[Step]:
    """The first step down from every row that has a figure.

    Args:
        views: all frames of the reports schema by name.
        rows: of these, the rows asked for, by kind.
        kinds: in the order wanted.
    """
    shown = {kind: rows[kind].dropna(subset=[FIGURE_OF.get(kind, "estimate")]) for kind in kinds}
    return [trace.first_step(views, kind, each.iloc[i]) for kind, each in shown.items() for i in range(len(each))]
