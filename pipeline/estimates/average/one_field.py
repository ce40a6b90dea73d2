"""The range for the true gain of one more field, about the average printed beside it."""

from __future__ import annotations

import pandas as pd


def centered(pooled_gains: pd.DataFrame) -> pd.DataFrame:
    """Rows of pooled_gains whose prediction intervals lie symmetric about their own estimate, widths kept.

    The range from the confidence distribution of tau2 (Nagashima, Noma and Furukawa 2019, Stat. Methods Med. Res.
    28:1689-1702) is symmetric about its own mean, weighted by the Paule-Mandel tau2, up to its draws. In the row of the
    model, or of a REML mean, the average is another estimate of the same mean, and a reader takes the range as its own.
    """
    shift = pooled_gains["estimate"] - (pooled_gains["pred_low"] + pooled_gains["pred_high"]) / 2
    moved = {end: pooled_gains[end] + shift for end in ("pred_low", "pred_high")}
    return pooled_gains.assign(**moved)
