"""How much nitrogen: optimum rates, N saved and efficiency, in tables and plain sentences.

Rows are rows of reports.* views of one crop. Sentences are plain text; the page escapes them.
"""

from __future__ import annotations

from collections.abc import Mapping

import pandas as pd

from pipeline.display.money import amount
from pipeline.display.numbers import NBSP, between, count, listed, number, text, with_metric
from pipeline.display.tables import Markdown, pipe_table
from pipeline.display.wording import capital

PRIMARY = "quadratic-plateau"
FOUND = "found"
BEYOND = "join beyond the highest rate"
AT_EONR = "comparator's EONR"
AGRONOMIC = "agronomic efficiency"
ESTIMATED, DOES_NOT_APPLY = "estimated", "does not apply"


def drawn(curves: pd.DataFrame) -> pd.DataFrame:
    """The declared curves that were fitted."""
    return curves[curves["is_primary"].eq(True) & curves["flag"].isin([FOUND, BEYOND])]


def optimum_table(curves: pd.DataFrame, optima: pd.DataFrame) -> Markdown:
    """The common curve of each way of giving N, with its optimum rates or why there are none.

    Args:
        curves: rows of reports.response_curves of one crop.
        optima: rows of reports.site_year_optima of the crop.
    """
    own = optima[optima["model"] == PRIMARY].set_index("family")
    fitted = drawn(curves)
    unit, n_unit, digits = fitted.iloc[0][["unit", "n_unit", "digits"]]
    rows = [
        {
            "Nitrogen given as": capital(row["family"]),
            "Zero-N": number(row["zero_n_yield"], digits),
            "Plateau": number(row["plateau"], digits) if row["flag"] == FOUND else "not reached",
            "Highest yield at": _rate(row, "aonr"),
            "Pays best at": _rate(row, "eonr"),
            "N price": "none" if pd.isna(row["n_price_per_lb"]) else f"{amount(row['n_price_per_lb'], row['currency'])} per lb",
            "Site-years": str(row["n_site_years"]),
            "Own curves": f"{own.loc[row['family'], 'n_found']} of {own.loc[row['family'], 'n_ladders']}",
        }
        for _, row in fitted.iterrows()
    ]
    caption = (
        f"Yields ({unit}) and N rates ({n_unit}) of the quadratic-plateau curve over all site-years, with 95 % intervals from resampled "
        "site-years. Pays best: where the last unit of N, at its own price (the coating's premium in it), just pays for itself. "
        "Own curves: trials whose own curve has its optimum within the rates tested."
    )
    widths = {"Nitrogen given as": 26, "Zero-N": 8, "Plateau": 9, "Highest yield at": 18, "Pays best at": 18, "N price": 9, "Site-years": 8, "Own curves": 9}
    return pipe_table(pd.DataFrame(rows), caption=caption, label="optimum", widths=widths)


def _rate(row: Mapping, which: str) -> str:
    """'141 (133 to 150)'; an end the data leave open is said so, and nothing beyond the rates tested is given."""
    if pd.isna(row[which]):
        return f"not found up to {number(row['highest_rate'])}" if row["flag"] == BEYOND else "no price" if which == "eonr" else "not found"
    low, high = row[f"{which}_low"], row[f"{which}_high"]
    if pd.isna(low) and pd.isna(high):
        return f"{number(row[which])} (no interval)"
    if pd.isna(high):
        return f"{number(row[which])} (from {number(low)}; no upper end)"
    if pd.isna(low):
        return f"{number(row[which])} (up to {number(high)}; no lower end)"
    return f"{number(row[which])} ({between(low, high)})"


def unfitted(curves: pd.DataFrame) -> str:
    """Which ways of giving N have no curve, and why; empty where all have."""
    primary = curves[curves["is_primary"].eq(True) & ~curves["flag"].isin([FOUND, BEYOND])]
    told = [f"{reason} ({listed(of_reason['family'])})" for reason, of_reason in primary.groupby("flag")]
    return f"No curve: {'; '.join(told)}." if told else ""


def unpriced(curves: pd.DataFrame) -> str:
    """Which curves have no rate that pays best for want of a price, and which price; empty where all have."""
    fitted = drawn(curves)
    lacking = fitted[fitted["price_lacking"].fillna("").ne("")]
    told = [f"{listed(of_price['family'])} (program.yml lacks {price})" for price, of_price in lacking.groupby("price_lacking")]
    return f"No rate that pays best for {'; '.join(told)}." if told else ""


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
            rates = [f"{number(row['eonr'])} at {number(row['price_ratio'], 2)}" for _, row in pd.concat([ends[:1], planned, ends[1:]]).iterrows()]
            told.append(f"{family}, {', '.join(rates)}")
    if not told:
        return ""
    return f"At other ratios of the N price (per lb) to the crop price the rate that pays best ({grid['n_unit'].iloc[0]}) moves: {'; '.join(told)}."


def near_best(rows: pd.DataFrame) -> str:
    """The rates whose mean net return lies within one of the currency per acre of the highest, and how far each way was tested."""
    known = rows.dropna(subset=["near_from"])
    if known.empty:
        return ""
    told = [f"{row['family']}, {between(row['near_from'], row['near_to'])} {row['n_unit']}{_tested_in(row)}" for _, row in known.iterrows()]
    said = f"Rates whose average net return lies within {known['currency'].iloc[0]}1 per acre of the highest: {'; '.join(told)}."
    shared = known["tested_by_all_to"].min()
    if known["highest_rate"].round().nunique() == 1:
        return said
    tops = "; ".join(f"{row['family']}, {number(row['highest_rate'])}" for _, row in known.iterrows())
    return f"{said} They were not tested up to the same rate ({tops}): above {number(shared)} {known['n_unit'].iloc[0]} they cannot be set side by side."


def _tested_in(row: Mapping) -> str:
    """That the upper of these rates were tested in some site-years only."""
    few = row["fewest_near"] < row["n_site_years"]
    return f" (the upper ones in {row['fewest_near']} of {count(row['n_site_years'], 'site-year')})" if few else ""


def nitrogen_saved(rows: pd.DataFrame) -> str:
    """N saved at equal yield by the lead comparison's treatment, at the rate that pays best for the comparator, else at a named rate."""
    if rows.empty:
        return ""
    known = rows[rows["status"] == ESTIMATED]
    row = (known if len(known) else rows).sort_values("rate_is", key=lambda at: at.ne(AT_EONR), kind="stable").iloc[0]
    if row["status"] != ESTIMATED:
        return f"N saved at equal yield is {row['status']}."
    size = {"saved": row["nitrogen_saved"], "saved_kg_ha": row["nitrogen_saved_kg_ha"], "unit": row["n_unit"], "digits": 0}
    if pd.isna(row["conf_low"]):
        ends = f"at most {number(row['conf_high'])}, with no lower end: the source may not reach this yield at all"
    else:
        ends = f"95{NBSP}% interval {between(row['conf_low'], row['conf_high'])}"
    could_be_none = "" if row["conf_low"] > 0 else " It could be none."
    return (
        f"The yield that the comparator gives at {number(row['comparator_rate'])} {row['n_unit']} is reached with "
        f"{with_metric(size, 'saved')} less N ({ends}; {count(row['n_site_years'], 'site-year')}).{could_be_none} "
        "This is a difference between two curves, not a rate to cut to."
    )


def efficiency(rows: pd.DataFrame) -> str:
    """Agronomic efficiency by way of giving N at the middle rate tested, or that it does not apply."""
    of_kind = rows[rows["efficiency"] == AGRONOMIC]
    if of_kind.empty:
        return ""
    if of_kind["status"].eq(DOES_NOT_APPLY).all():
        return f"Agronomic efficiency does not apply to {of_kind['crop'].iloc[0]}, which fixes most of its own nitrogen."
    known = of_kind[of_kind["status"] == ESTIMATED]
    if known.empty:
        return f"Agronomic efficiency cannot be given: {text(of_kind['status'].iloc[0])}."
    rates = sorted(known["n_rate"].round().unique())
    middle = known[known["n_rate"].round() == rates[(len(rates) - 1) // 2]]
    told = [f"{row['family']} {number(row['estimate'], 1)} ({between(row['conf_low'], row['conf_high'], 1)})" for _, row in middle.iterrows()]
    row = middle.iloc[0]
    return (
        f"Yield gained per unit of N (agronomic efficiency, kg per kg, 95{NBSP}% interval) at {number(row['n_rate'])} {row['n_unit']}: "
        f"{'; '.join(told)}."
    )
