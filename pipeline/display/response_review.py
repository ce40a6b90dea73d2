"""What stands behind the N rates, for the reviewer: plateaus, other curve shapes, other prices and efficiency.

Rows are rows of reports.* views of one crop. Sentences are plain text; the page escapes them.
"""

from __future__ import annotations

import pandas as pd

from pipeline.display.numbers import NBSP, between, number, text
from pipeline.display.response import ESTIMATED, FOUND, PRIMARY, drawn
from pipeline.display.tables import Markdown, pipe_table
from pipeline.display.wording import capital

AGRONOMIC = "agronomic efficiency"
DOES_NOT_APPLY = "does not apply"


def curves_table(curves: pd.DataFrame, optima: pd.DataFrame, *, label: str) -> Markdown:
    """Zero-N yield and plateau of each common curve, and how many trials have an optimum of their own.

    Args:
        curves: rows of reports.response_curves of one crop.
        optima: rows of reports.site_year_optima of the crop.
    """
    own = optima[optima["model"] == PRIMARY].set_index("family")
    fitted = drawn(curves)
    rows = [
        {
            "Nitrogen given as": capital(row["family"]),
            "Zero-N": number(row["zero_n_yield"], row["digits"]),
            "Plateau": number(row["plateau"], row["digits"]) if row["flag"] == FOUND else "not reached",
            "Site-years": str(row["n_site_years"]),
            "Own curves": f"{own.loc[row['family'], 'n_found']} of {own.loc[row['family'], 'n_ladders']}",
        }
        for _, row in fitted.iterrows()
    ]
    caption = (
        f"Yields ({fitted['unit'].iloc[0]}) of the quadratic-plateau curve over all site-years. "
        "Own curves: trials whose own curve has its optimum within the rates tested."
    )
    widths = {"Nitrogen given as": 44, "Zero-N": 12, "Plateau": 12, "Site-years": 12, "Own curves": 14}
    return pipe_table(pd.DataFrame(rows), caption=caption, label=label, widths=widths)


def other_models(curves: pd.DataFrame) -> str:
    """What other curve shapes say of the rate that pays best (without prices: of highest yield), with AICc, which never selects."""
    told = []
    which, what = ("eonr", "pay best") if drawn(curves)["eonr"].notna().any() else ("aonr", "yield most")
    for family, of_family in curves[curves["family"].isin(drawn(curves)["family"])].groupby("family"):
        others = [
            f"{row['model']} {number(row[which]) if pd.notna(row[which]) else 'none'} (AICc {number(row['aicc'])})"
            for _, row in of_family.sort_values("is_primary", ascending=False).iterrows()
        ]
        told.append(f"{family}: {', '.join(others)}")
    unit = curves["n_unit"].iloc[0]
    return f"Rates that {what} by curve shape ({unit}); the first shape was declared beforehand, and AICc does not choose. {capital('; '.join(told))}."


def other_prices(grid: pd.DataFrame) -> str:
    """The rate that pays best at the lowest and highest price ratio tried, beside the planning one."""
    told = []
    for family, of_family in grid[grid["eonr"].notna()].groupby("family", sort=False):
        planned = of_family[of_family["is_planning_ratio"].eq(True)]
        ends = of_family.sort_values("price_ratio").iloc[[0, -1]]
        if len(planned) and len(of_family) > 1:
            rates = [
                f"{number(row['eonr'])} at {number(row['price_ratio'], 2)}"
                for _, row in pd.concat([ends[:1], planned, ends[1:]]).iterrows()
            ]
            told.append(f"{family}, {', '.join(rates)}")
    if not told:
        return ""
    return f"At other ratios of the N price (per lb) to the crop price the rate that pays best ({grid['n_unit'].iloc[0]}) moves: {'; '.join(told)}."


def efficiency(rows: pd.DataFrame) -> str:
    """Agronomic efficiency by way of giving N at the middle rate tested, or that it does not apply."""
    of_kind = rows[rows["efficiency"] == AGRONOMIC]
    if of_kind.empty:
        return ""
    if of_kind["status"].eq(DOES_NOT_APPLY).all():
        return (
            f"Agronomic efficiency does not apply to {of_kind['crop'].iloc[0]}, which fixes most of its own nitrogen."
        )
    known = of_kind[of_kind["status"] == ESTIMATED]
    if known.empty:
        return f"Agronomic efficiency cannot be given: {text(of_kind['status'].iloc[0])}."
    rates = sorted(known["n_rate"].round().unique())
    middle = known[known["n_rate"].round() == rates[(len(rates) - 1) // 2]]
    told = [
        f"{row['family']} {number(row['estimate'], 1)} ({between(row['conf_low'], row['conf_high'], 1)})"
        for _, row in middle.iterrows()
    ]
    row = middle.iloc[0]
    return (
        f"Yield gained per unit of N (agronomic efficiency, kg per kg, 95{NBSP}% interval) at {number(row['n_rate'])} {row['n_unit']}: "
        f"{'; '.join(told)}."
    )
