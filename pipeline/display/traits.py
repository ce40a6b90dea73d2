"""Other traits measured beside yield: supporting evidence, never in its place."""

from __future__ import annotations

import pandas as pd

from pipeline.display.numbers import NBSP, between, count, number
from pipeline.display.tables import Markdown, grey, pipe_table
from pipeline.display.wording import TARGET, capital


def trait_table(gains: pd.DataFrame) -> Markdown:
    """Average difference of every trait on the target its comparison declares, else the other; grey where nothing may be claimed."""
    rows = []
    by_use = gains.assign(is_known=gains["estimate"].notna()).sort_values(["position", "trait", "is_known", "is_declared"], ascending=[True, True, False, False])
    for _, row in by_use.drop_duplicates(["position", "trait"]).iterrows():
        shown = "not estimable" if pd.isna(row["estimate"]) else f"{number(row['estimate'], row['digits'])} {row['unit']}"
        if pd.notna(row["conf_low"]):
            shown = f"{shown} ({between(row['conf_low'], row['conf_high'], row['digits'])})"
        found = f"{count(row['n_site_years'], 'site-year')} in {count(row['n_seasons'], 'season')}"
        rows.append(
            {
                "Trait": capital(row["trait"]),
                "Comparison": capital(row["says"]),
                "Average difference": shown if row["shown_as"] == "sentence" else grey(shown),
                "From": f"{found}, {TARGET[row['target']]}",
            }
        )
    caption = (
        f"Other traits at their last date in each trial, treatment less comparator, with 95{NBSP}% intervals. They support the yields and "
        "do not replace them. Grey: too few site-years or seasons to claim anything."
    )
    return pipe_table(pd.DataFrame(rows), caption=caption, label="traits", widths={"Trait": 14, "Comparison": 38, "Average difference": 26, "From": 22})
