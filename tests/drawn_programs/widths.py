"""Is an interval wider than its site-years explain? A yardstick, not a second method.

The half-width of a headline is held against the t interval of the plain mean: over site-years, and with places or
seasons as groups, whichever is widest. A model that weighs, guards or takes a variance as zero may differ from all of
them, so only widths beyond FACTOR times the widest count, and only where the row's rule does not say that a guard
widened it.
"""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
import pandas as pd
from scipy import stats

FACTOR = 2.0
SAID = ("the wider", "is added to the spread")


def faults(views: dict[str, pd.DataFrame]) -> Iterator[str]:
    gains, dots = views["gains"], views["site_year_gains"]
    dots = dots[dots["is_pooled"].eq(True)]
    headlines = gains[gains["is_headline"].eq(True) & gains["moderator"].eq("all") & gains["estimate"].notna()]
    for row in headlines.to_dict("records"):
        mine = dots[dots["comparison_id"] == row["comparison_id"]]
        half = (row["conf_high"] - row["conf_low"]) / 2
        groups = ["site_year_id", "place"] + (["season"] if row["target"] == "seasons to come" else [])
        explained = {group: half_width(mine, group) for group in groups}
        widest = np.nanmax(list(explained.values()))
        if not np.isfinite(half) or half > FACTOR * widest + 1e-9 and not any(words in row["rule"] for words in SAID):
            told = ", ".join(f"{group} {value:.3g}" for group, value in explained.items())
            yield (
                f"an interval wider than its site-years explain: {row['comparison_id']} {row['target']}: half-width"
                f" {half:.3g}, by {told}; {row['n_site_years']} site-years, {row['n_places']} places,"
                f" {row['n_seasons']} seasons, df {row['df']:.3g}, {row['method']}"
            )


def half_width(site_years: pd.DataFrame, group: str) -> float:
    """Of the t interval over the means of groups; NaN for a single one."""
    means = site_years.groupby(group)["gain"].mean()
    if len(means) < 2:
        return np.nan
    return float(stats.t.ppf(0.975, len(means) - 1) * means.std(ddof=1) / np.sqrt(len(means)))
