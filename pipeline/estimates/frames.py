"""Small helpers for the frames this room gives; their columns are declared in pipeline/contract/results/."""

from __future__ import annotations

import pandas as pd


def stacked(frames: list[pd.DataFrame]) -> pd.DataFrame:
    """Frames under each other; empty ones are left out."""
    filled = [frame for frame in frames if len(frame)]
    return pd.concat(filled, ignore_index=True) if filled else pd.DataFrame()


def joined(warnings: list[str] | pd.Series) -> str:
    """Distinct non-empty warnings as one text, in the order they arose."""
    return "; ".join(dict.fromkeys(warning for warning in warnings if warning))
