"""How much nitrogen: optimum rates and N saved, in a table and plain sentences.

Rows are rows of reports.* views of one crop. Sentences are plain text; the page escapes them.
"""

from __future__ import annotations

from collections.abc import Mapping

import pandas as pd

from pipeline.display.money import AT_THE_PLANNING_PRICES, amount, basis, own_span
from pipeline.display.numbers import NBSP, UNKNOWN, between, count, listed, number, with_metric
from pipeline.display.tables import Markdown, joined, linked_id, pipe_table
from pipeline.display.wording import arms, capital, closed
from pipeline.estimates.multiplicity import ALPHA
from pipeline.estimates.n_response.nitrogen_saved import NO_EONR, NO_NITROGEN, NOT_REACHED

PRIMARY = "quadratic-plateau"
FOUND = "found"
BEYOND = "join beyond the highest rate"
# How an optimum rate is written, {} the rates.
RATE_WORDS = {
    "not_found": "not found up to {}", "no_interval": "{} (no interval)", "open_above": "{} (from {}; no upper end)",
    "open_below": "{} (up to {}; no lower end)", "closed": "{} ({} to {})",
}  # fmt: skip
AT_EONR = "comparator's EONR"
ESTIMATED = "estimated"
NOT_SAVED = {
    NO_EONR: "that rate is not known",
    NOT_REACHED: "{treatment} does not reach that yield within the rates tested",
    NO_NITROGEN: "{treatment} has that yield without N",
}


def drawn(curves: pd.DataFrame) -> pd.DataFrame:
    """The declared curves that were fitted."""
    return curves[curves["is_primary"].eq(True) & curves["flag"].isin([FOUND, BEYOND])]


def priced(curves: pd.DataFrame) -> pd.DataFrame:
    """The drawn curves that have a price ratio, so a rate that pays best or a reason why none is found."""
    return drawn(curves).dropna(subset=["price_ratio"])


def optimum_table(curves: pd.DataFrame, near: pd.DataFrame) -> Markdown:
    """The optimum rates of each way of giving N on its common curve, or why there are none.

    Args:
        curves: rows of reports.response_curves of one crop.
        near: rows of reports.near_highest_returns of the crop.
    """
    within = {
        row["family"]: between(row["near_from"], row["near_to"])
        for _, row in near.dropna(subset=["near_from"]).iterrows()
    }
    fitted = drawn(curves)
    n_unit, priced = fitted["n_unit"].iloc[0], fitted["currency"].dropna()
    rows = [
        {
            "Nitrogen given as": joined([capital(row["family"]), linked_id(row["estimate_id"])], by=" "),
            "Highest yield at": _rate(row, "aonr"),
            "Pays best at": own_span(f"eonr-{i}", _rate(row, "eonr")),
            "Pays nearly as well": within.get(row["family"], UNKNOWN),
            "Per lb N": own_span(f"per-lb-{i}", _per_lb(row)),
            "Site-years": str(row["n_site_years"]),
        }
        for i, (_, row) in enumerate(fitted.iterrows())
    ]
    caption = f"N rates ({n_unit}) on the common curves, with 95{NBSP}% intervals for the seasons tested, from resampled site-years."
    if len(priced):
        best = (
            "Pays best: where the last unit of N, at its own price (the coating's premium in it), just pays for itself"
        )
        near_best = f"Pays nearly as well: net return, averaged over trials' own curves, within {priced.iloc[0]}1 per acre of the highest {AT_THE_PLANNING_PRICES}."
        caption = joined([caption, best, Markdown(f"{basis('price-basis')}."), near_best], by=" ")
    widths = dict(zip(rows[0], (32, 22, 22, 15, 9, 8), strict=True))
    return pipe_table(pd.DataFrame(rows), caption=caption, label="optimum", widths=widths)


def _rate(row: Mapping, which: str) -> str:
    """'141 (133 to 150)'; an end the data leave open is said so, and nothing beyond the rates tested is given."""
    if pd.isna(row[which]):
        return (
            RATE_WORDS["not_found"].format(number(row["highest_rate"]))
            if row["flag"] == BEYOND
            else "no price"
            if which == "eonr"
            else "not found"
        )
    low, high = row[f"{which}_low"], row[f"{which}_high"]
    if pd.isna(low) and pd.isna(high):
        return RATE_WORDS["no_interval"].format(number(row[which]))
    if pd.isna(high):
        return RATE_WORDS["open_above"].format(number(row[which]), number(low))
    if pd.isna(low):
        return RATE_WORDS["open_below"].format(number(row[which]), number(high))
    return RATE_WORDS["closed"].format(number(row[which]), number(low), number(high))


def _per_lb(row: Mapping) -> str:
    return "none" if pd.isna(row["n_price_per_lb"]) else amount(row["n_price_per_lb"], row["currency"])


def unfitted(curves: pd.DataFrame) -> str:
    """Which ways of giving N have no curve, and why; empty where all have."""
    primary = curves[curves["is_primary"].eq(True) & ~curves["flag"].isin([FOUND, BEYOND])]
    told = [f"{'; '.join(of_reason['family'])} ({reason})" for reason, of_reason in primary.groupby("flag")]
    return f"No curve for {'; '.join(told)}." if told else ""


def unpriced(curves: pd.DataFrame) -> str:
    """Which curves have no rate that pays best for want of a price, and which price; empty where all have."""
    fitted = drawn(curves)
    lacking = fitted[fitted["price_lacking"].fillna("").ne("")]
    told = [
        f"{listed(of_price['family'])} (program.yml lacks {price})"
        for price, of_price in lacking.groupby("price_lacking")
    ]
    return f"No rate that pays best for {'; '.join(told)}." if told else ""


def tested_how_far(rows: pd.DataFrame) -> str:
    """Where rates that pay nearly as well rest on some site-years only, or were not tested alike; empty where neither is so."""
    known = rows.dropna(subset=["near_from"])
    few = known[known["fewest_near"] < known["n_site_years"]]
    said = [
        f"The upper of the rates that pay nearly as well were tested in {row['fewest_near']} of {count(row['n_site_years'], 'site-year')} ({row['family']})."
        for _, row in few.iterrows()
    ]
    if known["highest_rate"].round().nunique() > 1:
        tops = "; ".join(f"{row['family']}, {number(row['highest_rate'])}" for _, row in known.iterrows())
        shared = f"{number(known['tested_by_all_to'].min())} {known['n_unit'].iloc[0]}"
        said.append(
            f"They were not tested up to the same rate ({tops}): above {shared} they cannot be set side by side."
        )
    return " ".join(said)


def gain_by_rate(rows: pd.DataFrame) -> str:
    """The average gain at each N rate with its interval, and whether it is shown to depend on the rate; empty where no rate can speak.

    Args:
        rows: one comparison's and target's rows of reports.explored.
    """
    rates = rows[
        rows["rate_kg_ha"].notna()
        & rows["is_headline"].eq(True)
        & rows["shown_as"].eq("sentence")
        & rows["estimate"].notna()
    ]
    if len(rates) < 2:
        return ""
    rates, first = rates.sort_values("rate_kg_ha"), rates.iloc[0]
    at = [listed(number(rate) for rate in rates[column]) for column in ("rate_lb_ac", "rate_kg_ha")]
    where = f"{at[1]} kg N/ha" if first["unit"] == "kg/ha" else f"{at[0]} lb N/ac ({at[1]} kg/ha)"
    gains = listed(
        f"{number(row['estimate'], row['digits'])} ({between(row['conf_low'], row['conf_high'], row['digits'])})"
        for _, row in rates.iterrows()
    )
    tested = f"{_or_more(rates['n_site_years'], 'site-year')} in {_or_more(rates['n_seasons'], 'season')}"
    return f"At {where} the average gain was {gains} {first['unit']}, at each rate from {tested}. {_by_rate(first)}."


def _or_more(counts: pd.Series, what: str) -> str:
    return count(counts.min(), what) + (" or more" if counts.nunique() > 1 else "")


def _by_rate(row: Mapping) -> str:
    """Whether the gain depends on the rate, by the Holm-adjusted test."""
    asked = "" if row["kind"] == "declared" else " (exploratory: not asked beforehand)"
    if pd.isna(row["p_value_holm"]):
        return f"Whether it depends on the rate cannot be tested{asked}"
    if row["p_value_holm"] >= ALPHA:
        return f"It is not shown to depend on the rate{asked}"
    return f"It seems to depend on the rate{asked}, a question for new trials" if asked else "It depends on the rate"


def nitrogen_saved(rows: pd.DataFrame) -> Markdown | str:
    """N saved at equal yield by the lead comparison's treatment: at the rate that pays best for the comparator, else that this
    is not estimable and the highest named rate that has an interval with both ends."""
    if rows.empty:
        return ""
    asked = rows[rows["rate_is"] == AT_EONR]
    known = rows[rows["status"] == ESTIMATED]
    wanted = known[known["rate_is"] == AT_EONR]
    if len(wanted):
        return _saved(wanted.iloc[0], asked=True)
    refused = _not_saved(asked.iloc[0]) if len(asked) else ""
    if known.empty:
        return refused
    first = known.assign(is_whole=known["conf_low"].notna()).sort_values(["is_whole", "comparator_rate"]).iloc[-1]
    return joined(filter(None, [refused, _saved(first, asked=False)]), by=" ")


def _sides(row: Mapping) -> tuple[str, str]:
    """Treatment and comparator in words, a comma inside closed."""
    treatment, comparator = arms(row["says"]) or ("the treatment", "the comparator")
    return closed(treatment), closed(comparator)


def _not_saved(row: Mapping) -> str:
    treatment, comparator = _sides(row)
    at = "" if pd.isna(row["comparator_rate"]) else f" ({number(row['comparator_rate'])} {row['n_unit']})"
    reason = NOT_SAVED.get(row["status"], row["status"].removeprefix("not estimable: "))
    reason = reason.replace("{treatment}", treatment)
    return f"N saved at the rate where {comparator} pays best {AT_THE_PLANNING_PRICES}{at} is not estimable: {reason}."


def _saved(row: Mapping, *, asked: bool) -> Markdown:
    treatment, comparator = _sides(row)
    size = {
        "saved": row["nitrogen_saved"],
        "saved_kg_ha": row["nitrogen_saved_kg_ha"],
        "unit": row["n_unit"],
        "digits": 0,
    }
    if pd.isna(row["conf_low"]):
        ends = f"at most {number(row['conf_high'])}, with no lower end: {treatment} may not reach this yield at all"
    else:
        ends = f"95{NBSP}% interval {between(row['conf_low'], row['conf_high'])}"
    best = f", where it pays best {AT_THE_PLANNING_PRICES}," if asked else ""
    could_be_none = "" if row["conf_low"] > 0 else " It could be none."
    said = (
        f"For the seasons tested, the yield that {comparator} gives at {number(row['comparator_rate'])} {row['n_unit']}{best} is reached with "
        f"{with_metric(size, 'saved')} less N ({ends}; {count(row['n_site_years'], 'site-year')}).{could_be_none} "
        "This is a difference between two curves, not a rate to cut to."
    )
    return joined([said, linked_id(row["estimate_id"])], by=" ")
