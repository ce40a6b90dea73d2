"""Chances in tenths: that the average pays, and which share of fields does, with what the average's own doubt makes of it."""

from __future__ import annotations

import numpy as np
from scipy import stats

CHANCE_SHOWN = (0.05, 0.95)
# In tenths: a share of fields that the average's own interval moves further than this could be anything.
WIDEST_SHARE = 7


def pay_chances(above: float, *, half_width: float, std_error: float, df: float, tau: float) -> dict:
    """The chances of partial_budget's formulas, and the share of fields at both ends of the average's interval.

    above: the average gain less the break-even gain; half_width, std_error, tau: the average's and the spread between
    fields, same unit. Shares at the ends are 0 to 10; a share that could be anything, or beyond CHANCE_SHOWN, is missing.
    """
    average = float(stats.t.cdf(above / std_error, df))
    low, share, high = (float(stats.norm.cdf(at / tau)) for at in (above - half_width, above, above + half_width))
    ends = {"fields_pay_low_tenths": _whole(low), "fields_pay_high_tenths": _whole(high)}
    is_told = ends["fields_pay_high_tenths"] - ends["fields_pay_low_tenths"] <= WIDEST_SHARE
    said = [_beyond("that the average pays", average), _beyond("that a field pays", share)]
    return ends | {
        "average_pays_tenths": _tenths(average),
        "fields_pay_tenths": _tenths(share) if is_told else np.nan,
        "chances_reason": "; ".join(text for text in said if text),
    }


def _whole(chance: float) -> float:
    """Tenths, half tenths upward."""
    return float(np.floor(10 * chance + 0.5))


def _tenths(chance: float) -> float:
    """1 to 9; missing beyond the chances that are shown."""
    low, high = CHANCE_SHOWN
    return min(9.0, _whole(chance)) if low <= chance <= high else np.nan


def _beyond(what: str, chance: float) -> str:
    low, high = CHANCE_SHOWN
    if low <= chance <= high:
        return ""
    return f"the chance {what} is {f'below {100 * low:.0f} %' if chance < low else f'above {100 * high:.0f} %'}"
