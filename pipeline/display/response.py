"""How much nitrogen: optimum rates, N saved and efficiency, in tables and plain sentences.

Rows are rows of reports.* views of one crop. Sentences are plain text; the page escapes them.
"""

from __future__ import annotations

from collections.abc import Mapping

import pandas as pd

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


def optimum_table(curves: pd.DataFrame) -> Markdown:
    """The common curve of each way of giving N, with its optimum rates or why there are none.

    Args:
        curves: rows of reports.response_curves of one crop.
    """
    fitted = drawn(curves)
    unit, n_unit, digits = fitted.iloc[0][["unit", "n_unit", "digits"]]
    rows = [
        {
            "Nitrogen given as": capital(row["family"]),
            "Zero-N": number(row["zero_n_yield"], digits),
            "Plateau": number(row["plateau"], digits) if row["flag"] == FOUND else "not reached",
            "Highest yield at": _rate(row, "aonr"),
            "Pays best at": _rate(row, "eonr"),
            "Site-years": str(row["n_site_years"]),
        }
        for _, row in fitted.iterrows()
    ]
    caption = (
        f"Yields ({unit}) and N rates ({n_unit}) of the quadratic-plateau curve over all site-years, with 95 % intervals from resampled "
        "site-years. Pays best: where one more lb of N, at the price of urea N, just pays for itself."
    )
    widths = {"Nitrogen given as": 32, "Zero-N": 9, "Plateau": 11, "Highest yield at": 22, "Pays best at": 22, "Site-years": 8}
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


def other_models(curves: pd.DataFrame) -> str:
    """What other curve shapes say of the rate that pays best, with AICc, which never selects."""
    told = []
    for family, of_family in curves[curves["family"].isin(drawn(curves)["family"])].groupby("family"):
        others = [
            f"{row['model']} {number(row['eonr']) if pd.notna(row['eonr']) else 'none'} (AICc {number(row['aicc'])})"
            for _, row in of_family.sort_values("is_primary", ascending=False).iterrows()
        ]
        told.append(f"{family}: {', '.join(others)}")
    unit = curves["n_unit"].iloc[0]
    return f"Rates that pay best by curve shape ({unit}); the first shape was declared beforehand, and AICc does not choose. {capital('; '.join(told))}."


def near_best(rows: pd.DataFrame, currency: pd.Series) -> str:
    """The rates whose mean net return lies within one of the currency per acre of the highest."""
    told = [f"{row['family']}, {between(row['near_from'], row['near_to'])} {row['n_unit']}" for _, row in rows.dropna(subset=["near_from"]).iterrows()]
    return f"Rates whose average net return lies within {currency.iloc[0]}1 per acre of the highest: {'; '.join(told)}." if told else ""


def own_curves(optima: pd.DataFrame) -> str:
    """What became of the single site-years' curves: found, or why not."""
    told = []
    for _, row in optima[(optima["model"] == PRIMARY) & (optima["n_ladders"] > optima["n_not_fitted"])].iterrows():
        parts = [
            (row["n_found"], "with an optimum within the rates tested"), (row["n_no_response"], "without a response"),
            (row["n_negative_response"], "with less yield from N"), (row["n_beyond_highest_rate"], "still rising at the highest rate"),
            (row["n_below_two_rates"], "with too few rates below the join"), (row["n_not_fitted"], "not fitted"),
        ]  # fmt: skip
        told.append(f"{row['family']}: {', '.join(f'{n} {words}' for n, words in parts if n)}")
    return f"Curves of single trials. {capital('; '.join(told))}." if told else ""


def nitrogen_saved(rows: pd.DataFrame) -> str:
    """N saved at equal yield by the lead comparison's treatment, at the rate that pays best for the comparator."""
    found = rows[rows["rate_is"] == AT_EONR]
    if found.empty:
        return ""
    row = found.iloc[0]
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
