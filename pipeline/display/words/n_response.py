"""How much nitrogen: optimum rates and N saved, in a table and plain sentences.

Rows are rows of reports.* views of one crop. Sentences are plain text; the page escapes them.
"""

from __future__ import annotations

from collections.abc import Mapping

import pandas as pd

from pipeline.display.words.answers import arms, closed
from pipeline.display.words.money import AT_THE_PLANNING_PRICES, amount, basis, own_span
from pipeline.display.words.numbers import between, capital, count, listed, number, text, with_metric
from pipeline.display.words.tables import Markdown, joined, linked_id, pipe_table
from pipeline.estimates.n_response.nitrogen_saved import AT_EONR, ESTIMATED, NO_EONR, NO_NITROGEN, NOT_REACHED
from pipeline.estimates.n_response.optimum import BEYOND, FEW_SITE_YEARS, FOUND, NO_MEANS, NO_ZERO_N, NOT_RANDOMIZED
from pipeline.estimates.where.multiplicity import FAMILY_ALPHA

# How an optimum rate is written, {} the rates.
RATE_WORDS = {
    "not_found": "not found up to {}",
    "no_interval": "{} (no interval)",
    "open_above": "{} (from {}; no upper end)",
    "open_below": "{} (up to {}; no lower end)",
    "open_both": "{} (open at both ends)",
    "closed": "{} ({} to {})",
}
LADDER = ("family", "trial_id", "variant")
NEVER_COUNT = (NO_ZERO_N, NOT_RANDOMIZED, NO_MEANS)  # a ladder with one of these flags is in no common curve
NOT_SAVED = {
    NO_EONR: "that rate is not known",
    NOT_REACHED: "{treatment} does not reach that yield within the rates tested",
    NO_NITROGEN: "{treatment} has that yield without N",
}


def drawn(curves: pd.DataFrame) -> pd.DataFrame:
    """The declared curves that were fitted."""
    return curves[curves["is_primary"] & curves["flag"].isin([FOUND, BEYOND])]


def priced(curves: pd.DataFrame) -> pd.DataFrame:
    """The drawn curves that have a price ratio, so a rate that pays best or a reason why none is found."""
    return drawn(curves).dropna(subset=["price_ratio"])


def optimum_table(curves: pd.DataFrame) -> Markdown:
    """The optimum rates of each way of giving N on its common curve; empty where no curve was fitted.

    Args:
        curves: rows of reports.response_curves of one crop.
    """
    fitted = drawn(curves)
    if fitted.empty:
        return Markdown("")
    n_unit = fitted["n_unit"].iloc[0]
    rows = [
        {
            "Nitrogen treatment": joined([capital(row["family"]), linked_id(row["estimate_id"])], by=" "),
            "Rate for highest yield": rate(row, "aonr"),
            "Economic optimum rate": own_span(f"eonr-{i}", rate(row, "eonr")),
            "Per lb N": own_span(f"per-lb-{i}", _per_lb(row)),
            "Site-years": str(row["n_site_years"]),
        }
        for i, (_, row) in enumerate(fitted.iterrows())
    ]
    caption = (
        f"N rates ({n_unit}) on the common curves, with 95% intervals for the seasons tested, from resampled"
        " site-years."
    )
    if fitted["n_clusters"].lt(fitted["n_site_years"]).any():
        caption += " Trials on the same plots are drawn together."
    if fitted["price_ratio"].notna().any():
        best = (
            "Economic optimum: where the last unit of N, at its own price (the coating's premium in it), just pays for"
            " itself"
        )
        caption = joined([caption, best, Markdown(f"{basis('price-basis')}.")], by=" ")
    widths = dict(zip(rows[0], (36, 25, 25, 11, 11), strict=True))
    return pipe_table(pd.DataFrame(rows), caption=caption, label="optimum", widths=widths)


def rate(row: Mapping, which: str) -> str:
    """'141 (133 to 150)'; an end the data leave open is said so, and nothing beyond the rates tested is given."""
    if which == "eonr" and pd.isna(row["price_ratio"]):
        return "no price"
    if pd.isna(row[which]):
        return RATE_WORDS["not_found"].format(number(row["highest_rate"])) if row["flag"] == BEYOND else "not found"
    low, high = row[f"{which}_low"], row[f"{which}_high"]
    if not text(row["interval_method"]):
        return RATE_WORDS["no_interval"].format(number(row[which]))
    is_open = is_open_above(high, row["highest_rate"])
    if pd.isna(low) and is_open:
        return RATE_WORDS["open_both"].format(number(row[which]))
    if is_open:
        return RATE_WORDS["open_above"].format(number(row[which]), number(low))
    if pd.isna(low):
        return RATE_WORDS["open_below"].format(number(row[which]), number(high))
    return RATE_WORDS["closed"].format(number(row[which]), number(low), number(high))


def _per_lb(row: Mapping) -> str:
    return "none" if pd.isna(row["n_price_per_lb"]) else amount(row["n_price_per_lb"], row["currency"])


def is_open_above(high: float, highest_rate: float, digits: int = 0) -> bool:
    """Whether the data leave an interval open above: its end is missing, or prints beyond the highest rate tested."""
    return pd.isna(high) or round(high, digits) > round(highest_rate, digits)


def nothing_told(crop: str) -> str:
    """What stands under the N rates where no trial says anything of them: every ladder has a curve or a reason for
    none.
    """
    return f"No accepted trial of {crop} has the yield of a fertilized treatment: there is nothing to say on N rates."


def of_print(means: pd.DataFrame) -> str:
    """How many site-years count with printed means in the common curves; empty where none does.

    Args:
        means: rows of reports.rate_means of one crop.
    """
    has_zero = means["n_rate_kg_ha"].eq(0).groupby([means[name] for name in LADDER]).transform("any")
    printed = means[means["n_plots"].eq(0) & has_zero]
    if printed.empty:
        return ""
    site_years = printed["site_year_id"].nunique()
    return (
        f"{count(site_years, 'site-year')} with published means only {'counts' if site_years == 1 else 'count'} with"
        " printed means, each like one with plots."
    )


def left_out(own: pd.DataFrame, curves: pd.DataFrame) -> str:
    """Trials whose N rates do not count in a common curve that other trials have, and why; empty where all count.

    Args:
        own: rows of reports.trial_curves of one crop.
        curves: rows of reports.response_curves of the crop.
    """
    fitted = curves.loc[curves["n_rates"].notna() & ~curves["flag"].isin(NEVER_COUNT), "family"]
    out = own[own["family"].isin(fitted) & own["flag"].isin(NEVER_COUNT)]
    told = [f"{count(rows['trial_id'].nunique(), 'trial')} ({reason})" for reason, rows in out.groupby("flag")]
    return f"Not in the curves: {'; '.join(told)}." if told else ""


def unfitted(curves: pd.DataFrame) -> str:
    """Which ways of giving N have no curve, and why; empty where all have."""
    primary = curves[curves["is_primary"] & ~curves["flag"].isin([FOUND, BEYOND])]
    why = primary["flag"].replace(FEW_SITE_YEARS, f"{FEW_SITE_YEARS} with zero-N and a fertilized rate")
    told = [f"{'; '.join(of_reason['family'])} ({reason})" for reason, of_reason in primary.groupby(why)]
    return f"No curve for {'; '.join(told)}." if told else ""


def unpriced(curves: pd.DataFrame) -> str:
    """Which curves have no economic optimum for want of a price, and which price; empty where all have."""
    fitted = drawn(curves)
    lacking = fitted[fitted["price_lacking"].fillna("").ne("")]
    told = [
        f"{'; '.join(of_price['family'])} (it needs {price}, which is not given)"
        for price, of_price in lacking.groupby("price_lacking")
    ]
    return f"No economic optimum for {'; '.join(told)}." if told else ""


def gain_by_rate(rows: pd.DataFrame) -> str:
    """The average gain at each N rate with its interval, and whether it is shown to depend on the rate; empty where no
    rate can speak.

    Args:
        rows: one comparison's and target's rows of reports.explored.
    """
    rates = rows[
        rows["rate_kg_ha"].notna() & rows["is_headline"] & rows["shown_as"].eq("sentence") & rows["estimate"].notna()
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
    if row["p_value_holm"] >= FAMILY_ALPHA:
        return f"It is not shown to depend on the rate{asked}"
    return f"It seems to depend on the rate{asked}, a question for new trials" if asked else "It depends on the rate"


def nitrogen_saved(rows: pd.DataFrame) -> Markdown | str:
    """N saved at equal yield by the lead comparison's treatment: at the economic optimum for the comparator, else that
    this is not estimable and the highest named rate that has an interval with both ends."""
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
    both = f" over the {count(row['n_site_years'], 'site-year')} with both" if row["n_site_years"] > 0 else ""
    at = "" if pd.isna(row["comparator_rate"]) else f" ({number(row['comparator_rate'])} {row['n_unit']}{both})"
    reason = NOT_SAVED.get(row["status"], row["status"].removeprefix("not estimable: "))
    reason = reason.replace("{treatment}", treatment)
    where = "" if at else both
    return (
        f"N saved at the economic optimum of {comparator} {AT_THE_PLANNING_PRICES}{at} is not estimable{where}:"
        f" {reason}."
    )


def _saved(row: Mapping, *, asked: bool) -> Markdown:
    treatment, comparator = _sides(row)
    takes_more = row["nitrogen_saved"] < 0
    sign = -1 if takes_more else 1
    size = {
        "saved": sign * row["nitrogen_saved"],
        "saved_kg_ha": sign * row["nitrogen_saved_kg_ha"],
        "unit": row["n_unit"],
        "digits": 0,
    }
    no_low, no_high = pd.isna(row["conf_low"]), pd.isna(row["conf_high"])
    if no_low and no_high:
        few = text(row["warnings"]).removesuffix(": no interval")
        ends = f"no interval: {few or 'it is open at both ends'}"
    elif no_low:
        ends = f"at most {number(row['conf_high'])}, with no lower end: {treatment} may not reach this yield at all"
    elif no_high:
        ends = f"at least {number(row['conf_low'])}, with no upper end"
    else:
        ends = f"95% interval {between(row['conf_low'], row['conf_high'])}"
    best = f", at its economic optimum {AT_THE_PLANNING_PRICES}," if asked else ""
    could_be_none = "" if row["conf_low"] > 0 or row["conf_high"] < 0 else " It could be zero."
    change = f"more N (less N: {ends};" if takes_more else f"less N ({ends};"
    said = (
        f"For the seasons tested, the yield that {comparator} gives at {number(row['comparator_rate'])}"
        f" {row['n_unit']}{best} is reached with {with_metric(size, 'saved')} {change}"
        f" {count(row['n_site_years'], 'site-year')} with both).{could_be_none} This is a difference between two"
        f" curves, not a recommendation to {'raise' if takes_more else 'cut'} N by that much."
    )
    return joined([said, linked_id(row["estimate_id"])], by=" ")
