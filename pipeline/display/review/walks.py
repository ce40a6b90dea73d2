"""The walks from printed estimates down to their plots that a section of the review file shows."""

from __future__ import annotations

from collections.abc import Mapping

import pandas as pd

from pipeline import trace
from pipeline.trace import Trace

# Under which name each kind of estimate holds its figure; the others hold it as `estimate`.
FIGURE_OF = {
    "money": "net_change",
    "field_shares": "share",
    "nitrogen_saved": "nitrogen_saved",
    "response_curves": "b",
    "rate_losses": "loss",
}


def walks_of(views: Mapping[str, pd.DataFrame], rows: Mapping[str, pd.DataFrame], *kinds: str) -> list[Trace]:
    """The walk of every row that has a figure.

    Args:
        views: all frames of the reports schema by name.
        rows: of these, the rows asked for, by kind.
        kinds: in the order wanted.
    """
    return [
        trace.walk(views, estimate_id)
        for kind in kinds
        for estimate_id in rows[kind].dropna(subset=[FIGURE_OF.get(kind, "estimate")])["estimate_id"]
    ]
