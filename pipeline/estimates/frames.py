"""Small helpers for the frames this room gives; their columns are declared in pipeline/contract/results/."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
import pandas as pd


def stacked(frames: list[pd.DataFrame]) -> pd.DataFrame:
    """Frames under each other; empty ones are left out."""
    filled = [frame for frame in frames if len(frame)]
    return pd.concat(filled, ignore_index=True) if filled else pd.DataFrame()


def joined(warnings: list[str] | pd.Series) -> str:
    """Distinct non-empty warnings as one text, in the order they arose."""
    return "; ".join(dict.fromkeys(warning for warning in warnings if warning))


def groups(frame: pd.DataFrame, keys: list[str]) -> Iterator[dict[str, np.ndarray]]:
    """The columns of each group's rows, in the order of the keys; rows without a key are left out.

    For many small groups, where a frame for each would cost more than what is done with it.
    """
    columns = {name: frame[name].to_numpy() for name in frame}
    number = frame.groupby(keys).ngroup().to_numpy(float)
    order = np.argsort(number, kind="stable")[: np.sum(~np.isnan(number))]
    for rows in np.split(order, np.flatnonzero(np.diff(number[order])) + 1) if len(order) else ():
        yield {name: values[rows] for name, values in columns.items()}
