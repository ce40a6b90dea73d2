"""What each tested N rate loses against the economic optimum: a table, and which rates are not shown to pay less.

Rows are rows of reports.rate_losses of one crop. What is shown is decided on the digits that are printed.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping

import pandas as pd

from pipeline.display.words.money import AT_THE_PLANNING_PRICES, amount, per_acre
from pipeline.display.words.numbers import capital, count, day, listed, number
from pipeline.display.words.tables import Markdown, pipe_table
from pipeline.estimates.n_response.ladders import rate_levels
from pipeline.site_years.eligibility import SAME_RATE_KG_HA

MOST_RATES = 5  # columns that fit a printed page
CENTS = 2
INTERVAL = (
    "site-years drawn anew, the curve fitted to each draw and its best rate found anew; zero below where the rate lies"
    " in the interval of the best rate"
)


def losses_table(rows: pd.DataFrame) -> Markdown:
    """Money lost per acre at each tested rate, a row for each way of giving N; empty where no loss is known."""
    if rows.empty:
        return Markdown("")
    level = rate_levels(rows["n_rate_kg_ha"].to_numpy(float), SAME_RATE_KG_HA)
    cells = rows.assign(level=level, told=[_loss(row) for _, row in rows.iterrows()])
    cells = cells.pivot_table(index="family", columns="level", values="told", aggfunc=" / ".join, sort=False)
    cells = cells[sorted(cells.columns)]
    heads = rows["n_rate"].groupby(level).mean()
    unit, caption = (
        rows["n_unit"].iloc[0],
        (
            f"Net return lost per acre at each tested N rate ({rows['n_unit'].iloc[0]}) against the economic optimum on"
            f" the same curve, {AT_THE_PLANNING_PRICES}. In parentheses: 95% interval for that rate alone, from"
            " resampled site-years."
        ),
    )
    tables = []
    for i in range(0, len(cells.columns), MOST_RATES):
        part = cells[cells.columns[i : i + MOST_RATES]]
        part = part.rename(columns=lambda rate: f"{number(heads[rate])} {unit}").fillna("not tested")
        frame = part.reset_index(names="Nitrogen treatment")
        frame["Nitrogen treatment"] = frame["Nitrogen treatment"].map(capital)
        widths = {name: 28 if name == "Nitrogen treatment" else 16 for name in frame.columns}
        label = "losses" if i == 0 else f"losses-{i // MOST_RATES + 1}"
        tables.append(pipe_table(frame, caption=caption, label=label, widths=widths))
    return Markdown("\n".join(tables))


def _loss(row: Mapping) -> str:
    """'$1.26 ($0.30 to $2.90)'; without an interval, or with one that the data leave open above, this is said."""
    lost, currency = amount(row["loss"], row["currency"]), row["currency"]
    if not _has_interval(row):
        return f"{lost} (no interval)"
    if pd.isna(row["conf_high"]):
        return f"{lost} ({amount(row['conf_low'], currency)} or more)"
    return f"{lost} ({per_acre(row['conf_low'], row['conf_high'], currency)})"


def _has_interval(row: Mapping) -> bool:
    return isinstance(row["interval_method"], str)


def losses_told(rows: pd.DataFrame, curves: pd.DataFrame) -> list[str]:
    """Which rates are not shown to pay less than the best, which count as nearly as well, and where they were not
    tested alike.

    Args:
        curves: rows of reports.response_curves of the crop.
    """
    return [
        said
        for said in (_not_worse(rows, curves), _too_few(rows), *_nearly(rows), _tested_in_some(rows), _not_alike(rows))
        if said
    ]


def without_losses(curves: pd.DataFrame, rows: pd.DataFrame) -> str:
    """Which priced curves have no losses, their best rate not being found within the rates tested; empty where all
    have.

    Args:
        curves: rows of reports.response_curves of the crop that have a curve.
    """
    missing = curves[curves["price_ratio"].notna() & ~curves["family"].isin(rows["family"])]
    told = [
        f"{row['family']} (not up to {number(row['highest_rate'])} {row['n_unit']})" for _, row in missing.iterrows()
    ]
    return f"No rate can be held against the best where the best was not found: {'; '.join(told)}." if told else ""


def _not_worse(rows: pd.DataFrame, curves: pd.DataFrame) -> str:
    known = rows[rows["interval_method"].notna()]
    if known.empty:
        return ""
    is_not_worse = known["conf_low"].round(CENTS).eq(0) | _is_in_printed_range(known, curves)
    return (
        f"Tested rates not shown to pay less than the best {AT_THE_PLANNING_PRICES}: {_by_family(known[is_not_worse])}."
    )


def _is_in_printed_range(rows: pd.DataFrame, curves: pd.DataFrame) -> pd.Series:
    """Whether a rate lies in the interval of the best rate as both are printed: '120 to 135' holds 120, also where its
    lower end is 120.4 and 120 loses at least a cent.
    """
    best = curves[curves["is_primary"].eq(True)].set_index("family")[["eonr_low", "eonr_high"]]
    low, high = (rows["family"].map(best[end]).astype(float).round() for end in ("eonr_low", "eonr_high"))
    rate = rows["n_rate"].round()
    return rows["family"].isin(best.index) & (low.isna() | rate.ge(low)) & (high.isna() | rate.le(high))


def _too_few(rows: pd.DataFrame) -> str:
    few = rows[rows["interval_method"].isna()]
    if few.empty:
        return ""
    return f"Too few site-years to show that a rate pays less than the best: {'; '.join(few['family'].unique())}."


def _nearly(rows: pd.DataFrame) -> Iterator[str]:
    """By the declared band: rates shown to lie within it, shown to lie beyond it, and the others."""
    known = rows[rows["interval_method"].notna() & rows["nearly_within"].notna()]
    if known.empty:
        return
    first = known.iloc[0]
    band = round(first["nearly_within"], CENTS)
    late = ", after the first harvest: exploratory" if first["nearly_is_late"] else ""
    yield (
        f"Nearly as well means no more than {amount(band, first['currency'])} per acre below the best "
        f"({first['nearly_basis']}; fixed on {day(first['nearly_fixed_on'])}{late})."
    )

    is_within = known["conf_high"].notna() & known["conf_high"].round(CENTS).le(band)
    yield f"Shown to pay nearly as well {AT_THE_PLANNING_PRICES}: {_by_family(known[is_within])}."
    is_either = ~is_within & known["conf_low"].round(CENTS).le(band)
    if is_either.any():
        told = amount(band, first["currency"])
        yield f"Where an interval reaches from below {told} to above it, neither is shown."


def _by_family(rows: pd.DataFrame) -> str:
    """'120 and 160 lb/ac (urea); 120 lb/ac (blend)'; 'none' without rows."""
    told = [f"{_rates(of_family)} ({family})" for family, of_family in rows.groupby("family", sort=False)]
    return "; ".join(told) or "none"


def _rates(rows: pd.DataFrame) -> str:
    return f"{listed(number(rate) for rate in rows['n_rate'])} {rows['n_unit'].iloc[0]}"


def _tested_in_some(rows: pd.DataFrame) -> str:
    """Rates that not all site-years behind a curve tested; the ways of giving N are named where they differ in that."""
    few = rows[rows["n_site_years"] < rows["n_curve_site_years"]]
    told = {
        family: "; ".join(
            f"{_rates(alike)} in {n} of {count(of, 'site-year')}"
            for (n, of), alike in of_family.groupby(["n_site_years", "n_curve_site_years"], sort=False)
        )
        for family, of_family in few.groupby("family", sort=False)
    }
    is_alike = len(set(told.values())) == 1 and len(told) == rows["family"].nunique()
    said = [next(iter(told.values()))] if is_alike else [f"{text} ({family})" for family, text in told.items()]
    return f"Tested in some site-years only: {'; '.join(said)}." if told else ""


def _not_alike(rows: pd.DataFrame) -> str:
    """That ways of giving N were not tested up to the same rate; empty where they were."""
    tops = rows.groupby("family", sort=False)["n_rate"].max()
    if tops.map(number).nunique() < 2:
        return ""
    told = "; ".join(f"{family}, {number(top)}" for family, top in tops.items())
    return (
        f"The curves were not tested up to the same rate ({told}): above {number(tops.min())} {rows['n_unit'].iloc[0]}"
        " they cannot be set side by side."
    )
