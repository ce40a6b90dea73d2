"""Does it pay: net change, four boxes, break-even gain and chances, in tables and plain sentences.

Rows are rows of reports.money of one crop, reports.budget_items and reports.price_grid. Every figure that a reader's
own prices move stands in a span of class own-..., which own_prices.js fills anew; what the pipeline prints shows the
planning prices.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import pandas as pd

from pipeline.contract.vocabulary import TO_COME
from pipeline.display.words.answers import TARGET
from pipeline.display.words.numbers import JOINED, MINUS, capital, count, day, metric, number, text
from pipeline.display.words.tables import Markdown, escaped, joined
from pipeline.estimates.average.chances import WIDEST_SHARE
from pipeline.estimates.engines.interval_rules import TOO_FEW_DF_FOR_MONEY
from pipeline.estimates.money.inputs import LONG_RUN
from pipeline.verdicts import is_few

NOT_GIVEN = "not given"
BELOW_SHOWN, ABOVE_SHOWN = "fewer than 1 in 20", "more than 19 in 20"
HA_PER_ACRE = 0.40468564224
FACTOR_DIGITS = 9
GRID_CROP = "{} per {}"
AT_PLANNED, AT_THE_PLANNING_PRICES = "Planning prices of {}: {}.", "at the planning prices"
ANSWER = "{}: {} per acre (95% interval {}). {}"
ANSWER_UNTOLD = "Whether it pays on average is {}. At the average gain it returns {} per acre. {}"
ANYTHING, FROM_TO = "too uncertain to state", "{} ({} to {})"
PAYS, COSTS, UNSURE = (
    "It pays on average",
    "It does not pay on average",
    "The trials do not show whether it pays on average",
)
FROM_A_GAIN, WITH_A_LOSS = "It breaks even at a gain of {}.", "It pays as long as it yields at most {} less."
UNDEFINED = "At this crop price the harvest costs of one more unit of yield use up its price: no gain pays."
UNTOLD = "not known from {}"
UNTOLD_INTERVAL, UNTOLD_CHANCES = "the interval cannot be estimated", "where the interval cannot be estimated"


def amount(value: float, currency: str) -> str:
    """'$3.50', '−$3.50', the minus held to what follows."""
    written = f"{abs(value):.2f}"
    return f"{MINUS + JOINED if value < 0 and float(written) else ''}{currency}{written}"


def price_amount(value: float, currency: str) -> str:
    """'$0.50', and a third decimal where there is one: '$0.554'."""
    written = amount(value, currency)
    in_full = f"{abs(value):.3f}".removesuffix("0")
    sign = MINUS + JOINED if value < 0 and float(in_full) else ""
    return written if f"{sign}{currency}{in_full}" == written else f"{sign}{currency}{in_full}"


def dollars(value: float, currency: str) -> str:
    """A net return to the whole dollar: '$19', '−$14'. Its interval is never so narrow that cents would tell
    something, but on which side of zero it ends: '−$0.30'.
    """
    written = f"{abs(value):.0f}"
    if written == "0" and f"{abs(value):.2f}" != "0.00":
        return amount(value, currency)
    return f"{MINUS + JOINED if value < 0 and float(written) else ''}{currency}{written}"


def per_acre(low: float, high: float, currency: str) -> str:
    return f"{amount(low, currency)} to {amount(high, currency)}"


def known(money: pd.DataFrame) -> pd.DataFrame:
    """The comparisons that have a budget."""
    return money[money["net_change"].notna()]


def told(money: pd.DataFrame) -> pd.DataFrame:
    """The comparisons that have a budget; interval and chances are left out where too few seasons stand behind them.

    The whole interval stays in reports.money.
    """
    rows = known(money)
    too_few = rows["df"].le(TOO_FEW_DF_FOR_MONEY)
    blank = ["conf_low", "conf_high", "half_width", *[name for name in rows if name.endswith("_tenths")]]
    rows = rows.assign(gives_chances=rows["gives_chances"] & ~too_few)
    rows.loc[too_few, blank] = float("nan")
    rows.loc[too_few, "chances_reason"] = UNTOLD_INTERVAL
    return rows


def missing(money: pd.DataFrame, crop: str) -> str:
    """One sentence on what is left out for want of a price or a gain; empty where nothing is."""
    lacking = money[money["net_change"].isna()]
    if lacking.empty:
        return ""
    if lacking["reason"].str.startswith("program.yml has no prices").all():
        return f"No prices are given for {crop}, so what it pays is left out."
    by_reason = lacking.groupby(lacking["reason"].str.rstrip("."), sort=False)["says"]
    told = [f"{'; '.join(says)} ({reason})" for reason, says in by_reason]
    return f"No budget for {'; '.join(told)}."


def in_unit_of_gains(row: Mapping, unit: str) -> str:
    """'1 bu/ac = 62.8 kg/ha.', where the page prints gains in another unit than money, which is per acre; else ''."""
    return "" if row["unit"] == unit else f"{metric(row).strip(' ()')}."


def rests_on(row: Mapping) -> str:
    """Which average the money rests on, and why not the one wanted."""
    when = (
        f"with dry, normal and wet seasons as often as in {row['reference_first_year']:.0f} to"
        f" {row['reference_last_year']:.0f}"
        if row["weather"] == LONG_RUN
        else "at the weather of the seasons tested"
    )
    size = f"{number(row['gain'], row['digits'])} {row['unit']} over {count(row['n_site_years'], 'site-year')}"
    why = ""
    if text(row["weather_reason"]):
        wanted = f" {TARGET[TO_COME]}" if row["weather"] == LONG_RUN else ""
        reason = row["weather_reason"].rstrip(".")
        reason = (reason[0].lower() + reason[1:]).removeprefix("not estimable: ")
        why = f" The average gain{wanted} at long-run weather is not estimable: {reason}."
    return f"This rests on the average gain {TARGET[row['target']]}, {when}: {size}.{why}"


def answer(row: Mapping) -> str:
    """Whether the lead comparison pays on average, with its interval and break-even gain; from too few site-years or
    seasons to claim a gain, that is not shown.
    """
    size = f"{number(abs(row['break_even_gain']), row['digits'])} {row['unit']}"
    even = (WITH_A_LOSS if row["break_even_gain"] < 0 else FROM_A_GAIN).format(size)
    if pd.isna(row["conf_low"]):
        return ANSWER_UNTOLD.format(untold(row), dollars(row["net_change"], row["currency"]), even)
    verdict = UNSURE if is_few(row) else PAYS if row["conf_low"] > 0 else COSTS if row["conf_high"] < 0 else UNSURE
    return ANSWER.format(verdict, dollars(row["net_change"], row["currency"]), interval(row), even)


def interval(row: Mapping) -> str:
    """The interval of a net return, or why it cannot be told."""
    if pd.isna(row["conf_low"]):
        return untold(row)
    return f"{dollars(row['conf_low'], row['currency'])} to {dollars(row['conf_high'], row['currency'])}"


def untold(row: Mapping) -> str:
    return UNTOLD.format(behind(row))


def behind(row: Mapping) -> str:
    """What an interval would have to come from: seasons for future seasons, else the site-years of those tested."""
    unit, n = ("season", row["n_seasons"]) if row["target"] == TO_COME else ("site-year", row["n_site_years"])
    return count(n, unit)


def holds_for(row: Mapping, wanted: str) -> str:
    """That an answer is of the seasons tested, in one sentence; empty where it is of future seasons.

    wanted: the declared target of the comparison.
    """
    if row["target"] == TO_COME:
        return ""
    open_ = "; for future seasons it is not known" if wanted == TO_COME else ""
    return f"That is for the seasons tested{open_}."


def priced(row: Mapping, said: Sequence[str]) -> Markdown:
    """The planning prices with their date, the net change per hectare, and what is not counted.

    said: every price that figures of the page rest on, as a sentence has it (price_boxes.Asked.said).
    """
    hectare = own_span("hectare", dollars(row["net_change_per_ha"], row["currency"]))
    covers = (
        "" if pd.isna(row["conf_low"]) else f" {row['interval_covers']}"
    )  # of an interval that is not told, nothing
    told = f"per hectare.{covers}{not_counted(row)}"
    return joined([own_span("priced-at", planning_prices(row, said)), "That is", hectare, told], by=" ")


def planning_prices(row: Mapping, said: Sequence[str]) -> str:
    return AT_PLANNED.format(day(row["prices_fixed_on"]), ", ".join(said))


def not_counted(row: Mapping) -> str:
    """' Not counted: ...'; empty where all is."""
    return f" Not counted: {row['not_counted']}." if text(row["not_counted"]) else ""


def in_ten(tenths: float) -> str:
    if pd.isna(tenths):
        return NOT_GIVEN
    return {0: BELOW_SHOWN, 10: ABOVE_SHOWN}.get(tenths, f"{tenths:.0f} in 10")


def fields_in_ten(row: Mapping) -> str:
    """The share of fields that pay with its range over the average's interval: '7 in 10 (3 to 10)'."""
    low, high = row["fields_pay_low_tenths"], row["fields_pay_high_tenths"]
    if high - low > WIDEST_SHARE:
        return ANYTHING
    share = in_ten(row["fields_pay_tenths"])
    has_range = share not in (NOT_GIVEN, BELOW_SHOWN, ABOVE_SHOWN)
    return FROM_TO.format(share, f"{low:.0f}", f"{high:.0f}") if has_range else share


def share_above(shares: pd.DataFrame, money: pd.DataFrame) -> str:
    """The share of fields whose true gain lies above the break-even gain, as the trials' weather had it, beside the
    one that the season report prints.

    shares, money: rows of reports.field_shares and of reports.money of one comparison.
    """
    break_even = shares[(shares["above"] == "break-even") & shares["is_declared"]]
    if break_even.empty:
        return ""
    row = break_even.iloc[0]
    where = f"above the break-even gain, in weather as tested ({count(row['n_site_years'], 'site-year')})"
    if pd.isna(row["tenths"]):
        return f"The share of fields {where}: {row['reason']}."
    share = {
        0: "fewer than 1 field in 20 gains",
        1: "about 1 field in 10 gains",
        10: "more than 19 fields in 20 gain",
    }.get(row["tenths"], f"about {row['tenths']:.0f} fields in 10 gain")
    printed = [
        f"The season report has for fields that pay: {fields_in_ten(budget)}, at {budget['weather']}."
        for _, budget in told(money).iterrows()
    ]
    return " ".join([f"By the model, {share} {where}.", *printed])


def own_answer(row: Mapping) -> Markdown:
    return own_span("answer", answer(row))


def headline(paying: pd.DataFrame, lead_id: str) -> Markdown:
    """The answer of the first comparison with a budget; it is named where it is not the one that the page leads
    with.
    """
    first = paying.iloc[0]
    named = [] if first["comparison_id"] == lead_id else [f"{capital(first['says'])}:"]
    return joined([*named, own_answer(first)], by=" ")


def basis(what: str = "basis") -> Markdown:
    """Whose prices a table is at; 'price-basis' where an N rate moves nothing."""
    return own_span(what, AT_THE_PLANNING_PRICES)


def own_span(what: str, words: str) -> Markdown:
    """Words that own_prices.js writes anew at the reader's own prices."""
    return Markdown(f"[{escaped(words)}]{{.own-{what}}}")


def own_net(row: Mapping) -> Markdown:
    return own_span(f"net-{row['position']}", dollars(row["net_change"], row["currency"]))


def own_interval(row: Mapping) -> Markdown:
    return own_span(f"interval-{row['position']}", interval(row))


def own_break_even(row: Mapping) -> Markdown:
    return own_span(f"even-{row['position']}", f"{number(row['break_even_gain'], row['digits'])} {row['unit']}")


def own_fields(row: Mapping) -> Markdown:
    return own_span(f"fields-{row['position']}", fields_in_ten(row))


def grid_shown(row: Mapping, grid: pd.DataFrame) -> pd.DataFrame:
    """The cells of one comparison's price grid that the table shows."""
    of_comparison = grid[grid["comparison_id"] == row["comparison_id"]]
    return of_comparison[
        _ends(of_comparison["coated_premium"], row["coated_premium"])
        & _ends(of_comparison["crop_price"], row["crop_price"])
    ]


def grid_factors(row: Mapping, grid: pd.DataFrame) -> dict[str, list[float]]:
    """What the table's premiums (rows) and crop prices (columns) are of the planning prices."""
    shown, factors = grid_shown(row, grid), {}
    for name, column in (("premiums", "coated_premium"), ("crops", "crop_price")):
        values = sorted(shown[column].unique())
        factors[name] = [round(value / row[column], FACTOR_DIGITS) if row[column] else 1.0 for value in values]
    return factors


def _ends(values: pd.Series, planned: float) -> pd.Series:
    """The rows at the lowest, the planned and the highest of some prices."""
    return values.isna() | values.isin([values.min(), planned, values.max()])
