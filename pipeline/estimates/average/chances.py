"""Chances in tenths: that the average pays, and which share of fields does, with what the average's own doubt makes of
it.
"""

from __future__ import annotations

import numpy as np
from scipy import stats

CHANCE_SHOWN = (0.05, 0.95)
# In tenths: a share of fields that the average's own interval moves further than this could be anything.
WIDEST_SHARE = 7


def pay_chances(above: float, *, half_width: float, std_error: float, df: float, tau: float) -> dict:
    """The chances of partial_budget's formulas, and the share of fields at both ends of the average's interval.

    above: the average gain less the break-even gain; half_width, std_error, tau: the average's and the spread between
    fields, same unit. Tenths are 0 to 10: 0 is fewer than 1 in 20, 10 more than 19 in 20. A share that could be
    anything is missing.
    """
    average = float(stats.t.cdf(above / std_error, df))
    low, share, high = (float(stats.norm.cdf(at / tau)) for at in (above - half_width, above, above + half_width))
    ends = {"fields_pay_low_tenths": _whole(low), "fields_pay_high_tenths": _whole(high)}
    is_told = ends["fields_pay_high_tenths"] - ends["fields_pay_low_tenths"] <= WIDEST_SHARE
    return ends | {
        "average_pays_tenths": tenths(average),
        "fields_pay_tenths": tenths(share) if is_told else np.nan,
        "chances_reason": "",
    }


def _whole(chance: float) -> float:
    """Tenths, half tenths upward."""
    return float(np.floor(10 * chance + 0.5))


def tenths(chance: float) -> float:
    """1 to 9; 0 and 10 beyond CHANCE_SHOWN, where the shape of the tail decides, which nobody has seen."""
    low, high = CHANCE_SHOWN
    if low <= chance <= high:
        return min(9.0, max(1.0, _whole(chance)))
    return 0.0 if chance < low else 10.0
