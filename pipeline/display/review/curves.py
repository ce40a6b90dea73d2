"""What stands behind the N rates, for the reviewer: plateaus, other curve shapes, other prices and efficiency.

Rows are rows of reports.* views of one crop.
"""

from __future__ import annotations

from collections.abc import Mapping

import pandas as pd

from pipeline.contract.vocabulary import DOES_NOT_APPLY
from pipeline.display.words.n_response import drawn
from pipeline.display.words.numbers import between, capital, number, text
from pipeline.display.words.tables import Markdown, pipe_table
from pipeline.estimates.n_response.curves import PRIMARY
from pipeline.estimates.n_response.efficiencies import AGRONOMIC, ESTIMATED
from pipeline.estimates.n_response.optimum import FOUND

PRICE_HEADS = ("Nitrogen treatment", "At the lowest ratio", "As planned", "At the highest ratio")


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
            "Nitrogen treatment": capital(row["family"]),
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
    widths = {"Nitrogen treatment": 44, "Zero-N": 12, "Plateau": 12, "Site-years": 12, "Own curves": 14}
    return pipe_table(pd.DataFrame(rows), caption=caption, label=label, widths=widths)


def other_models(curves: pd.DataFrame, *, label: str) -> Markdown:
    """What other curve shapes say of the economic optimum (without prices: of highest yield), with AICc, which never
    selects.
    """
    which, what = (
        ("eonr", "Economic optimum rate") if drawn(curves)["eonr"].notna().any() else ("aonr", "Rate for highest yield")
    )
    shown = curves[curves["family"].isin(drawn(curves)["family"])].sort_values("is_primary", ascending=False)
    rows = [
        {"Nitrogen treatment": capital(family)}
        | {capital(row["model"]): _rate(row, which) for _, row in of_family.iterrows()}
        for family, of_family in shown.groupby("family")
    ]
    caption = (
        f"{what} ({curves['n_unit'].iloc[0]}) by curve shape, its AICc in parentheses. "
        "The first shape was declared beforehand, and AICc does not choose."
    )
    frame = pd.DataFrame(rows).fillna("not fitted")
    return pipe_table(frame, caption=caption, label=label, widths={"Nitrogen treatment": 38})


def _rate(row: Mapping, which: str) -> str:
    return f"{number(row[which]) if pd.notna(row[which]) else 'none'} ({number(row['aicc'])})"


def other_prices(grid: pd.DataFrame, *, label: str) -> Markdown | str:
    """The economic optimum at the lowest and highest price ratio tried, beside the planning one; empty without
    prices.
    """
    rows = []
    for family, of_family in grid[grid["eonr"].notna()].groupby("family", sort=False):
        planned = of_family[of_family["is_planning_ratio"]]
        ends = of_family.sort_values("price_ratio").iloc[[0, -1]]
        if len(planned) and len(of_family) > 1:
            tried = [_at_ratio(row) for _, row in pd.concat([ends[:1], planned, ends[1:]]).iterrows()]
            rows.append(dict(zip(PRICE_HEADS, [capital(family), *tried], strict=True)))
    if not rows:
        return ""
    unit = grid["n_unit"].iloc[0]
    weight = unit.split("/")[0]
    caption = (
        f"Economic optimum rate ({unit}) at other ratios of the N price (per {weight}) to what one more unit of yield"
        " is worth: the crop price less hauling, ginning and drying."
    )
    widths = dict(zip(PRICE_HEADS, (44, 18, 18, 18), strict=True))
    return pipe_table(pd.DataFrame(rows), caption=caption, label=label, widths=widths)


def _at_ratio(row: Mapping) -> str:
    return f"{number(row['eonr'])} at {number(row['price_ratio'], 2)}"


def efficiency_table(rows: pd.DataFrame, *, label: str) -> Markdown | str:
    """Agronomic efficiency by way of giving N at the middle rate tested; empty where none is known."""
    known = _known_efficiency(rows)
    if known.empty:
        return ""
    rates = sorted(known["n_rate"].round().unique())
    middle = known[known["n_rate"].round() == rates[(len(rates) - 1) // 2]]
    frame = pd.DataFrame(
        {
            "Nitrogen treatment": capital(row["family"]),
            "Agronomic efficiency": number(row["estimate"], 1),
            "95% interval": between(row["conf_low"], row["conf_high"], 1),
            "Site-years": str(row["n_site_years"]),
        }
        for _, row in middle.iterrows()
    )
    row = middle.iloc[0]
    caption = (
        f"Yield gained per unit of N (agronomic efficiency, kg per kg) at {number(row['n_rate'])} {row['n_unit']}."
    )
    return pipe_table(
        frame, caption=caption, label=label, widths=dict(zip(frame.columns, (46, 22, 20, 12), strict=True))
    )


def no_efficiency(rows: pd.DataFrame) -> str:
    """Why there is no agronomic efficiency; empty where there is one, or nothing was asked."""
    of_kind = rows[rows["efficiency"] == AGRONOMIC]
    if of_kind.empty or len(_known_efficiency(rows)):
        return ""
    if of_kind["status"].eq(DOES_NOT_APPLY).all():
        return (
            f"Agronomic efficiency does not apply to {of_kind['crop'].iloc[0]}, which fixes most of its own nitrogen."
        )
    return f"Agronomic efficiency cannot be given: {text(of_kind['status'].iloc[0])}."


def _known_efficiency(rows: pd.DataFrame) -> pd.DataFrame:
    return rows[(rows["efficiency"] == AGRONOMIC) & (rows["status"] == ESTIMATED)]
