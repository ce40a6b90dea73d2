"""Other traits measured beside yield: supporting evidence, never in its place."""

from __future__ import annotations

import pandas as pd

from pipeline.display.words.answers import TARGET
from pipeline.display.words.numbers import between, capital, count, listed, number
from pipeline.display.words.tables import Markdown, grey, joined, linked_id, pipe_table


def used(gains: pd.DataFrame) -> pd.DataFrame:
    """One row per comparison and trait: the target the comparison declares where it has an estimate, else the other."""
    by_use = gains.assign(is_known=gains["estimate"].notna())
    by_use = by_use.sort_values(["position", "trait", "is_known", "is_declared"], ascending=[True, True, False, False])
    return by_use.drop_duplicates(["position", "trait"])


def not_estimable(rows: pd.DataFrame) -> str:
    """One sentence on the traits without an average, and how few trials measured them; rows as `used` gives them."""
    lacking = rows[~rows["is_known"]].drop_duplicates("trait")
    told = [f"{row['trait']} ({count(row['n_site_years'], 'site-year')})" for _, row in lacking.iterrows()]
    return f"Other traits with too few site-years for an average: {listed(told)}." if told else ""


def trait_table(rows: pd.DataFrame) -> Markdown | str:
    """Average difference of every trait that has one, rows as `used` gives them; grey where nothing may be claimed."""
    known = rows[rows["is_known"]]
    if known.empty:
        return ""
    lines = []
    for _, row in known.iterrows():
        shown = f"{number(row['estimate'], row['digits'])} {row['unit']}"
        if pd.notna(row["conf_low"]):
            shown = f"{shown} ({between(row['conf_low'], row['conf_high'], row['digits'])})"
        where = f"{count(row['n_site_years'], 'site-year')} in {count(row['n_seasons'], 'season')}"
        lines.append(
            {
                "Trait": capital(row["trait"]),
                "Comparison": capital(row["says"]),
                "Average difference": joined(
                    [shown if row["shown_as"] == "sentence" else grey(shown), linked_id(row["estimate_id"])], by=" "
                ),
                "From": f"{where}, {TARGET[row['target']]}",
            }
        )
    caption = (
        "Other traits at their last date in each trial, treatment less comparator, with 95% intervals. They support the"
        " yields and do not replace them. Gray: too few site-years or seasons to claim anything."
    )
    widths = {"Trait": 14, "Comparison": 38, "Average difference": 26, "From": 22}
    return pipe_table(pd.DataFrame(lines), caption=caption, label="traits", widths=widths)
