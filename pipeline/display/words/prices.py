"""The prices a reader may put in place of the planning prices of one crop, and what is plausible for each.

Nothing is computed from a number outside its range, and the page says so beside the box.
"""

from __future__ import annotations

from dataclasses import dataclass

import pandas as pd

from pipeline.contract.words import source_said
from pipeline.display.words.money import price_amount
from pipeline.estimates.money.inputs import BOUGHT_AS

# A price lies within a quarter and four times the planning price; a cost may be zero (common practice, no source).
WIDEST_FACTOR = 4
# Where the planning price is zero: a premium up to the price of the N it coats, a pass up to this much per acre (no
# source).
DEAREST_PASS = 50.0
PER = {"bu": ("bushel", "a bushel"), "lb": ("lb", "a lb")}
COATED = "coated urea"


@dataclass(frozen=True)
class Price:
    """One price: its name in a link, the label of its box, how a sentence says it, and its planning value and range."""

    name: str
    label: str
    says: str
    planned: float
    low: float
    high: float

    def said(self, currency: str) -> str:
        return self.says.format(price_amount(self.planned, currency))


@dataclass(frozen=True)
class Source:
    """An N source with a price per lb N or per ton: key in a link, words, % N of the product (None where not known)."""

    key: str
    source: str
    n_pct: float | None


@dataclass(frozen=True)
class Asked:
    """All that can be typed for one crop. tested: lowest and highest N rate by comparison. coated is over the source
    that its premium stands above; None where there is none.
    """

    currency: str
    prices: list[Price]
    rate: Price | None
    tested: dict[str, tuple[float, float]]
    sources: list[Source]
    coated: Source | None
    over: str

    @property
    def said(self) -> list[str]:
        """Every planning price as a sentence has it."""
        return [price.said(self.currency) for price in self.prices]


def asked(
    rows: pd.DataFrame, nitrogen: pd.DataFrame, comparisons: pd.DataFrame, curves: pd.DataFrame | None = None
) -> Asked:
    """The prices that figures of a season page rest on.

    Args:
        rows: of reports.money, as money.told gives them, the lead comparison first.
        nitrogen: reports.nitrogen_prices.
        comparisons: reports.comparisons of the crop, for the rates tested.
        curves: rows of reports.response_curves that have a rate that pays best.
    """
    lead = rows.iloc[0]
    priced = nitrogen.set_index("n_source")
    used = {
        *rows["treatment_priced_as"],
        *rows["comparator_priced_as"],
        *([] if curves is None else curves["priced_as"]),
    }
    known = {source: float(priced.loc[source, "price_per_lb_n"]) for source in sorted(used & set(priced.index))}
    tested = _tested(rows, comparisons)
    has_coated = pd.notna(lead["coated_premium"]) and BOUGHT_AS[COATED] in known
    return Asked(
        lead["currency"],
        _prices(lead, known),
        _rate(lead, tested),
        tested,
        [Source(key(source), source, _n_pct(priced, source)) for source in known],
        Source(key(COATED), COATED, _n_pct(priced, COATED)) if has_coated else None,
        key(BOUGHT_AS[COATED]),
    )


def of_budget(row: pd.Series) -> list[str]:
    """The planning prices behind one row of reports.money, as a sentence has them."""
    known = {row[f"{side}_priced_as"]: row[f"{side}_n_price"] for side in ("comparator", "treatment")}
    prices = _prices(row, {source: price for source, price in sorted(known.items()) if source})
    return [price.said(row["currency"]) for price in prices]


def _prices(row: pd.Series, known: dict[str, float]) -> list[Price]:
    """known: price per lb N by source."""
    currency = row["currency"]
    prices = [_crop_price(row)]
    for source, price in known.items():
        prices.append(
            _price(f"n-{key(source)}", f"{source_said(source)} N {{}} per lb", price, low=price / WIDEST_FACTOR)
        )
    if pd.notna(row["coated_premium"]):
        base, label = known.get(BOUGHT_AS[COATED], 0.0), f"Premium for coated N, {currency} per lb N"
        prices.append(
            _price("premium", "coated N {} per lb more than urea N", row["coated_premium"], if_zero=base, label=label)
        )
    if pd.notna(row["pass_cost"]):
        label = f"Cost of a pass, {currency} per acre"
        prices.append(_price("pass", "a pass {} an acre", row["pass_cost"], if_zero=DEAREST_PASS, label=label))
    return prices


def key(source: str) -> str:
    """A source word as a part of a name in a link."""
    return source.replace(" ", "-")


def _crop_price(row: pd.Series) -> Price:
    per, a = PER[row["unit"].removesuffix("/ac")]
    crop, planned = row["crop"], float(row["crop_price"])
    label = f"{crop.capitalize()}, {row['currency']} per {per}"
    return _price("crop", f"{crop} {{}} {a}", planned, low=planned / WIDEST_FACTOR, label=label)


def _price(name: str, says: str, planned: float, *, low: float = 0.0, if_zero: float = 1.0, label: str = "") -> Price:
    planned = float(planned)
    high = WIDEST_FACTOR * planned if planned > 0 else if_zero
    return Price(name, label, says, planned, min(low, planned), high)


def _tested(rows: pd.DataFrame, comparisons: pd.DataFrame) -> dict[str, tuple[float, float]]:
    """Lowest and highest N rate (lb/ac) that each comparison was tested at; those without named rates are left out."""
    rates = comparisons.set_index("comparison_id").loc[rows["comparison_id"], "rates_lb_ac"]
    return {name: (round(min(named), 1), round(max(named), 1)) for name, named in rates.items() if len(named)}


def _rate(lead: pd.Series, tested: dict[str, tuple[float, float]]) -> Price | None:
    """The N rate, within those that the lead comparison was tested at; None where that is no range."""
    low, high = tested.get(lead["comparison_id"], (0.0, 0.0))
    if low == high:
        return None
    planned, says = (
        round(float(lead["treatment_rate_lb"]), 1),
        "an N rate of {} lb/ac for the comparisons tested over it",
    )
    return Price("rate", "N rate, lb per acre", says, planned, low, high)


def _n_pct(priced: pd.DataFrame, source: str) -> float | None:
    n_pct = priced["product_n_pct"].get(source)
    return None if n_pct is None or pd.isna(n_pct) else float(n_pct)
