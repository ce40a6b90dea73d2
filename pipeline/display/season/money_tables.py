"""The money section's tables: net change by comparison, the four boxes, and other prices.

Rows are rows of reports.money of one crop, reports.budget_items and reports.price_grid.
"""

from __future__ import annotations

from collections.abc import Mapping

import pandas as pd

from pipeline.contract.vocabulary import TO_COME
from pipeline.display.words.answers import TARGET_NAMES
from pipeline.display.words.money import (
    GRID_CROP,
    NOT_GIVEN,
    UNTOLD_CHANCES,
    UNTOLD_INTERVAL,
    amount,
    basis,
    dollars,
    grid_shown,
    in_ten,
    in_unit_of_gains,
    own_break_even,
    own_fields,
    own_interval,
    own_net,
    own_span,
    price_amount,
)
from pipeline.display.words.numbers import capital, counts
from pipeline.display.words.tables import Markdown, joined, linked_id, pipe_table
from pipeline.estimates.engines.interval_rules import TOO_FEW_DF_FOR_MONEY
from pipeline.estimates.money.inputs import LONG_RUN
from pipeline.estimates.money.partial_budget import BOXES

CHANCES = (
    "Pays on average: the chance that it does. Fields where it pays: their share (in parentheses: the range across the"
    " interval). In tenths, from 1 in 20 to 19 in 20."
)


def money_table(money: pd.DataFrame, unit: str) -> Markdown:
    """One row per comparison that has a budget (`told`): net change per acre, interval, break-even gain and chances.

    unit: in which the page prints gains.
    """
    rows, first = [], money["target"].iloc[0]
    for _, row in money.iterrows():
        other = f" ({TARGET_NAMES[row['target']]})" if row["target"] != first else ""
        rows.append(
            {
                "Comparison": joined([capital(row["says"]) + other, linked_id(row["estimate_id"])], by=" "),
                "Net change": own_net(row),
                "95% interval": own_interval(row),
                "Breaks even at": own_break_even(row),
                "Pays on average": own_span(f"average-{row['position']}", in_ten(row["average_pays_tenths"])),
                "Fields where it pays": own_fields(row),
            }
        )
    caption = joined(
        filter(
            None,
            [
                "Net change per acre and the gain from which it pays,",
                basis(),
                f"and from {counts(list(money['n_site_years'].astype(int)), 'site-year')}.",
                CHANCES,
                no_chances(money),
                _untold_why(money),
                in_unit_of_gains(money.iloc[0], unit),
            ],
        ),
        by=" ",
    )
    widths = dict(zip(rows[0], (40, 10, 23, 13, 11, 11), strict=True))
    return pipe_table(pd.DataFrame(rows), caption=caption, label="money", widths=widths)


def boxes_table(row: Mapping, items: pd.DataFrame) -> Markdown:
    """The four boxes of one comparison's partial budget and their sum."""
    of_comparison = items[items["comparison_id"] == row["comparison_id"]]
    rows = []
    for box in BOXES:
        in_box = of_comparison[of_comparison["box"] == box].sort_values("item")
        told = "; ".join(f"{item.item} {item.amount:.2f}" for item in in_box.itertuples()) or "nothing"
        name = box.replace(" ", "_")
        rows.append(
            {
                "Box": capital(box),
                "What": own_span(f"what-{name}", told),
                "Per acre": own_span(f"box-{name}", amount(row[name], row["currency"])),
            }
        )
    net = own_span("box-net", amount(row["net_change"], row["currency"]))
    rows.append({"Box": "Net change", "What": "the first two boxes less the last two", "Per acre": net})
    caption = joined(
        [
            "Partial budget of the first of these comparisons, at the average gain and",
            Markdown(f"{basis()}; only what changes is counted."),
        ],
        by=" ",
    )
    return pipe_table(
        pd.DataFrame(rows),
        caption=caption,
        label="boxes",
        right=["Per acre"],
        widths={"Box": 16, "What": 72, "Per acre": 12},
    )


def grid_table(row: Mapping, grid: pd.DataFrame) -> Markdown:
    """Net change per acre at the lowest, planned and highest premium and crop price, all else as planned."""
    currency, per = row["currency"], row["unit"].removesuffix("/ac")
    shown, rows = grid_shown(row, grid), []
    crops = sorted(shown["crop_price"].unique())
    headings = [
        own_span(f"grid-crop-{j}", GRID_CROP.format(price_amount(crop, currency), per)) for j, crop in enumerate(crops)
    ]
    for i, (premium, of_premium) in enumerate(shown.groupby("coated_premium", dropna=False)):
        nets = of_premium.set_index("crop_price")["net_change"]
        cells = {
            heading: own_span(f"grid-{i}-{j}", dollars(nets[crop], currency) if crop in nets else NOT_GIVEN)
            for j, (heading, crop) in enumerate(zip(headings, crops, strict=True))
        }
        first = "none" if pd.isna(premium) else own_span(f"grid-premium-{i}", price_amount(premium, currency))
        rows.append({"Premium per lb N": first} | cells)
    caption = joined(
        [
            "Net change per acre of the same comparison at other premiums and crop prices, all else",
            Markdown(f"{basis()}."),
        ],
        by=" ",
    )
    return pipe_table(pd.DataFrame(rows), caption=caption, label="price-grid", right=headings)


def no_chances(money: pd.DataFrame) -> str:
    """Why chances are not given beside an interval, reason by reason; empty where all are."""
    reasons = money["chances_reason"].fillna("").replace(UNTOLD_INTERVAL, UNTOLD_CHANCES)
    reasons = reasons.str.removesuffix(": no chances are given")
    told = reasons[reasons.ne("")].unique()
    return f"Not given: {'; '.join(told)}." if len(told) else ""


def _untold_why(money: pd.DataFrame) -> str:
    """Why intervals cannot be told though others over as many seasons can, each reason once; empty where all are
    told.
    """
    untold = money[money["chances_reason"].eq(UNTOLD_INTERVAL)]
    reasons = dict.fromkeys(_left_to_tell(row) for _, row in untold.iterrows())
    if not reasons:
        return ""
    means = " (if seasons do not appear to differ, season means are used)"
    return f"Not known: {'; '.join(reasons)}{means if untold['target'].eq(TO_COME).any() else ''}."


def _left_to_tell(row: Mapping) -> str:
    """What leaves one interval too few degrees of freedom, and what they would tell."""
    few, differs = ("seasons", "seasons differ") if row["target"] == TO_COME else ("site-years", "gains differ")
    by = "once each rain class has its own average" if row["weather"] == LONG_RUN else f"from so few {few}"
    return f"{by}, {TOO_FEW_DF_FOR_MONEY} degrees of freedom or fewer are left to tell how {differs}"
