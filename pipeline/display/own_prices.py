"""The reader's own prices: number boxes in the HTML page, with all that the closed formula of partial_budget takes.

A plain script inside the page; nothing is fetched. Other formats drop the raw HTML and show the planning prices.
"""

from __future__ import annotations

import html
import json
from collections.abc import Mapping
from pathlib import Path

import pandas as pd

from pipeline.display import money
from pipeline.display.tables import Markdown
from pipeline.estimates.pay_chances import WIDEST_SHARE

SCRIPT = Path(__file__).parent / "own_prices.js"
TAKEN = (
    "position", "n_seasons", "gain", "half_width", "gain_std_error", "df", "tau", "gives_chances", "comparator_yield", "unit", "digits", "currency",
    "crop_price", "coated_premium", "pass_cost", "hauling_and_ginning", "drying", "coated_lb", "treatment_rate_lb", "comparator_rate_lb",
    "treatment_n_price", "comparator_n_price", "passes", "treatment_points", "comparator_points",
)  # fmt: skip


def boxes(rows: pd.DataFrame) -> Markdown:
    """Form, data and script as one raw HTML block; empty where no comparison has a budget.

    Args:
        rows: rows of reports.money of one crop as money.told gives them, the lead comparison first.
    """
    if rows.empty:
        return Markdown("")
    lead = rows.iloc[0]
    words = {
        "pays": money.PAYS, "costs": money.COSTS, "unsure": money.UNSURE, "gain": money.FROM_A_GAIN, "loss": money.WITH_A_LOSS,
        "undefined": money.UNDEFINED, "not_given": money.NOT_GIVEN, "below": money.BELOW_SHOWN, "above": money.ABOVE_SHOWN, "untold": money.UNTOLD, "anything": money.ANYTHING, "widest_share": WIDEST_SHARE,
    }  # fmt: skip
    data = {"comparisons": [_plain(row) for _, row in rows[list(TAKEN)].iterrows()], "words": words}
    as_json = json.dumps(data, ensure_ascii=True, allow_nan=False).replace("<", "\\u003c")
    return Markdown(
        "```{=html}\n"
        f"{_form(lead)}\n"
        f'<script type="application/json" id="own-prices-data">{as_json}</script>\n'
        f"<script>\n{SCRIPT.read_text(encoding='utf-8')}</script>\n"
        "```\n"
    )


def _form(lead: Mapping) -> str:
    currency, per = lead["currency"], lead["unit"].removesuffix("/ac")
    inputs = [("crop", f"Crop price, {currency} per {per}", lead["crop_price"])]
    if pd.notna(lead["coated_premium"]):
        inputs.append(("premium", f"Premium for coated N, {currency} per lb N", lead["coated_premium"]))
    if pd.notna(lead["pass_cost"]):
        inputs.append(("pass", f"Cost of a pass, {currency} per acre", lead["pass_cost"]))
    inputs.append(("rate", "N rate, lb per acre", round(lead["treatment_rate_lb"], 1)))
    labels = "".join(
        f'<label>{html.escape(says)} <input type="number" name="{name}" value="{value:g}" min="0" step="any" inputmode="decimal"></label>'
        for name, says, value in inputs
    )
    note = (
        "Type your own prices: the sentence below, its copy at the top and the next two tables follow. A rate you type is used for every comparison of this page; "
        "the gain stays the average over the rates tested, which your rate need not have."
    )
    return f'<form class="own-prices" hidden><p>{note}</p>{labels}<p class="own-message" role="status"></p><button type="reset">Back to the planning prices</button></form>'


def _plain(row: pd.Series) -> dict:
    """Values as JSON has them: no NaN, no numpy types."""
    return {
        name: None if pd.isna(value) else value.item() if hasattr(value, "item") else value
        for name, value in row.items()
    }
