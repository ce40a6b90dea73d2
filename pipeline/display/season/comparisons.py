"""The tables of a crop's season page."""

from __future__ import annotations

import pandas as pd

from pipeline.contract.vocabulary import TESTED, TO_COME
from pipeline.display.words import answers, firmness
from pipeline.display.words.answers import leading
from pipeline.display.words.numbers import between, capital, count, metric, number
from pipeline.display.words.tables import Markdown, escaped, joined, linked_id, pipe_table


def comparisons_table(gains: pd.DataFrame, agreement: pd.DataFrame, robustness: pd.DataFrame) -> Markdown:
    """Every comparison of a crop: both targets side by side, what stands behind them, and the other methods.

    Args:
        gains: rows of reports.gains of one crop with moderator 'all'.
        agreement: rows of reports.agreement of the crop.
        robustness: rows of reports.robustness of the crop with moderator 'all'.
    """
    rows = []
    for _, of_comparison in gains.groupby("position"):
        first = of_comparison.iloc[0]
        declared = of_comparison[of_comparison["is_declared"]]
        agreed, changed = (
            view[(view["comparison_id"] == first["comparison_id"]) & view["is_declared"]]
            for view in (agreement, robustness)
        )
        rows.append(
            {
                "Comparison": capital(first["says"]),
                "What is shown": answers.what_is_shown(declared, agreed, firmness.hangs_on(changed)),
                "Seasons tested": _average(of_comparison, TESTED),
                "Future seasons": _average(of_comparison, TO_COME),
                "Site-years": f"{first['n_site_years']} in {count(first['n_seasons'], 'season')}",
            }
        )
    caption = (
        f"Average gain in {first['unit']} with its 95% interval{metric(first)}; gray: its id. Bold: the declared "
        "target, of which the second column speaks."
    )
    if any("depends on" in row["What is shown"] for row in rows):
        caption += " 'Depends on': leave that one out, and the answer changes."
    widths = dict(zip(rows[0], (30, 23, 19, 22, 12), strict=True))
    return pipe_table(pd.DataFrame(rows), caption=caption, label="comparisons", widths=widths)


def _average(rows: pd.DataFrame, target: str) -> Markdown:
    row = leading(rows, target)
    identity = linked_id(row["estimate_id"])
    if pd.isna(row["estimate"]):
        return joined([Markdown("**none**") if row["is_declared"] else "none", identity], by=" ")
    size = escaped(number(row["estimate"], row["digits"]))
    size = Markdown(f"**{size}**") if row["is_declared"] else size
    return joined([size, f"({between(row['conf_low'], row['conf_high'], row['digits'])})", identity], by=" ")
