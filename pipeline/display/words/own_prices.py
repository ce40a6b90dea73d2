"""The reader's own prices: number boxes in the HTML page, with all that the sums of own_prices_sums.js take.

Plain scripts inside the page; nothing is fetched. Other formats drop the raw HTML and show the planning prices, and so
does a page whose scripts do not run. The data are one JSON object, the whole contract between the two languages:

    currency, fixed_on   of the planning prices; fixed_on in words
    remember             name under which the browser keeps what was typed; another with every new set of prices
    prices               name, says (a sentence's part, {} the amount), planned, low, high: crop, n-<source>, premium,
                         pass, rate (low and high are the rates tested). A number outside low to high is not used.
    sources              key, n_pct (null: asked) of each source priced as n-<key>; boxes ton-<key> and pct-<key> beside
    it
    coated               the same for the fully coated source, over: the key its premium stands above, says; null: none
    comparisons          the terms of partial_budget's formulas per comparison (TAKEN), the lead first; rates: the
    lowest and highest tested; behind: what its interval would have to come from, in words
    curves               position among the drawn curves, b and join (kg/ha) of the common
    quadratic-plateau, highest rate
                         tested, priced_as, coated_share, harvest_cost per unit of yield, kg_ha_per_unit,
                         kg_ha_per_n_unit;
                         draws: b and join (an index into joins, null: below two rates) of each resampled curve, or null
                         where there is no interval; ranks: which of the sorted draws are its ends
    grid                 factors of the price grid on premium and crop price
    n_pct_range, lb_per_ton, kg_ha_per_lb_ac, ha_per_acre, chance_shown, widest_share    constants of Python's own sums
    words                every sentence and word written at the reader's prices, {} where a value goes

A link carries what was typed: report.html#crop=6&ton-urea=460&pct-urea=46.
"""

from __future__ import annotations

import html
import json
from pathlib import Path

import numpy as np
import pandas as pd

from pipeline.contract.units import KG_HA_PER_LB_AC
from pipeline.contract.words import source_said
from pipeline.display.words import money, n_response
from pipeline.display.words.numbers import JOINED, MINUS, capital, day
from pipeline.display.words.own_price_words import WORDS
from pipeline.display.words.prices import Asked, Price, Source, key
from pipeline.display.words.tables import Markdown
from pipeline.estimates.average.chances import CHANCE_SHOWN, WIDEST_SHARE
from pipeline.estimates.n_response.resampling import ranks
from pipeline.settings.money import LB_PER_TON
from pipeline.verdicts import is_few

SCRIPTS = [Path(__file__).parent / f"own_prices{part}.js" for part in ("_sums", "_words", "")]
TAKEN = (
    "position", "gain", "half_width", "gain_std_error", "df", "tau", "gives_chances", "comparator_yield",
    "unit", "digits",
    "hauling_and_ginning", "drying", "coated_lb", "treatment_rate_lb", "comparator_rate_lb",
    "treatment_priced_as", "comparator_priced_as", "passes", "treatment_points", "comparator_points",
)  # fmt: skip
# Percent N that a product can have; anhydrous ammonia has most, 14.007 of 17.031 by mass.
N_PCT_RANGE = (1, 82.3)
DRAW_DIGITS = 7  # that matter, of a resampled slope: optima are printed to the whole lb


def boxes(
    rows: pd.DataFrame,
    asked: Asked | None,
    *,
    curves: pd.DataFrame | None = None,
    draws: pd.DataFrame | None = None,
    grid: pd.DataFrame | None = None,
    program: str = "",
) -> Markdown:
    """Form, data and scripts as one raw HTML block; empty where no comparison has a budget.

    Args:
        rows: rows of reports.money of one crop as money.told gives them, the lead comparison first.
        asked: what price_boxes.asked makes of them.
        curves, draws, grid: rows of reports.response_curves, response_draws and price_grid of the crop.
        program: its name, so that what is typed here is remembered for this program alone.
    """
    if rows.empty:
        return Markdown("")
    lead = rows.iloc[0]
    data = {
        "currency": asked.currency,
        "fixed_on": day(lead["prices_fixed_on"]),
        "remember": f"own prices: {program}: {lead['crop']}: {lead['prices_fixed_on']:%Y-%m-%d}",
        "prices": [_price(price) for price in [*asked.prices, asked.rate] if price],
        "sources": [{"key": source.key, "n_pct": source.n_pct} for source in asked.sources],
        "coated": _coated(asked),
        "comparisons": [_comparison(row, asked) for _, row in rows.iterrows()],
        "curves": [] if curves is None else _curves(curves, draws),
        "grid": {"premiums": [], "crops": []} if grid is None else _grid(lead, grid),
        "n_pct_range": N_PCT_RANGE,
        "lb_per_ton": LB_PER_TON,
        "kg_ha_per_lb_ac": KG_HA_PER_LB_AC,
        "ha_per_acre": money.HA_PER_ACRE,
        "chance_shown": CHANCE_SHOWN,
        "widest_share": WIDEST_SHARE,
        "words": WORDS | {"minus": MINUS, "joined": JOINED, "per": lead["unit"].removesuffix("/ac")},
    }
    as_json = json.dumps(data, ensure_ascii=True, allow_nan=False, separators=(",", ":")).replace("<", "\\u003c")
    script = "\n".join(path.read_text(encoding="utf-8") for path in SCRIPTS)
    return Markdown(
        "```{=html}\n"
        f"{_form(asked)}\n"
        f'<script type="application/json" id="own-prices-data">{as_json}</script>\n'
        f'<script>\ndocument.addEventListener("DOMContentLoaded", () => {{\n"use strict";\n{script}}});\n</script>\n'
        "```\n"
    )


def _price(price: Price) -> dict:
    return {"name": price.name, "says": price.says, "planned": price.planned, "low": price.low, "high": price.high}


def _coated(asked: Asked) -> dict | None:
    source = asked.coated
    return source and {
        "key": source.key,
        "n_pct": source.n_pct,
        "over": asked.over,
        "says": f"{source.source} N {{}} per lb",
    }


def _comparison(row: pd.Series, asked: Asked) -> dict:
    plain = _plain(row[list(TAKEN)]) | {
        "rates": asked.tested.get(row["comparison_id"]),
        "behind": money.behind(row),
        "is_few": is_few(row),
    }
    return plain | {side: key(plain[side] or "") for side in ("treatment_priced_as", "comparator_priced_as")}


def _grid(lead: pd.Series, grid: pd.DataFrame) -> dict:
    return {
        name: [1.0 if pd.isna(f) else float(f) for f in factors]
        for name, factors in money.grid_factors(lead, grid).items()
    }


def _curves(curves: pd.DataFrame, draws: pd.DataFrame) -> list[dict]:
    """The drawn curves that have a price, with their resamples."""
    for_page = []
    for position, (_, row) in enumerate(n_response.drawn(curves).iterrows()):
        if pd.isna(row["price_ratio"]):
            continue
        # the join from its coefficients: beyond the rates tested it stands in no column
        curve = {
            "position": position, "b": row["b"], "join": -row["b"] / (2 * row["c"]),
            "highest": row["highest_rate"] * row["kg_ha_per_n_unit"],
            "priced_as": key(row["priced_as"]), "coated_share": row["coated_n_fraction"],
            "harvest_cost": row["harvest_cost"],
            "kg_ha_per_unit": row["kg_ha_per_unit"], "kg_ha_per_n_unit": row["kg_ha_per_n_unit"],
        }  # fmt: skip
        own = draws[draws["family"].eq(row["family"])]
        for_page.append(_plain(pd.Series(curve)) | _resampled(own, row))
    return for_page


def _resampled(draws: pd.DataFrame, row: pd.Series) -> dict:
    if draws.empty:
        return {"draws": None}
    joins, at = np.unique(draws["join_kg_ha"].to_numpy(float), return_inverse=True)  # few: they lie on a grid
    below = draws["is_below"].to_numpy(bool)
    return {
        "joins": joins.tolist(),
        "ranks": ranks(row["conf_level"], n_clusters=int(row["n_clusters"]), n_resamples=len(draws)),
        "draws": {
            "b": [float(f"{b:.{DRAW_DIGITS}g}") for b in draws["b"]],
            "join": [None if low else int(i) for i, low in zip(at, below, strict=True)],
        },
    }


def _form(asked: Asked) -> str:
    priced = {price.name: price for price in asked.prices}
    rows = [_box("crop", priced["crop"].label, priced["crop"].planned)]
    rows += [_source_boxes(source, priced[f"n-{source.key}"].planned, asked.currency) for source in asked.sources]
    if "premium" in priced:
        premium = priced["premium"]
        rows.append(_box("premium", premium.label, premium.planned))
        if asked.coated:
            rows.append(
                _source_boxes(asked.coated, priced[f"n-{asked.over}"].planned + premium.planned, asked.currency)
            )
    rows += [_box(name, priced[name].label, priced[name].planned) for name in ("pass",) if name in priced]
    if asked.rate:
        rows.append(
            _box(
                "rate",
                f"{asked.rate.label} ({asked.rate.low:g} to {asked.rate.high:g} were tested)",
                asked.rate.planned,
            )
        )
    return (
        f'<form class="own-prices" hidden><p>{html.escape(NOTE + (RATE_NOTE if asked.rate else ""))}</p>{"".join(rows)}'
        '<p><button type="button" class="own-link">Copy a link with these prices</button> '
        '<button type="reset">Back to the planning prices</button></p><p class="own-note" role="status"></p></form>'
    )


NOTE = (
    "Type your own prices. Every figure of this page that rests on a price follows, on screen and in print; "
    "what stays at the planning prices says so."
)
RATE_NOTE = (
    " An N rate you type is used for the comparisons that were tested over it. The gain stays the average over the"
    " rates tested."
)


def _source_boxes(source: Source, per_lb: float, currency: str) -> str:
    per_ton = None if source.n_pct is None else per_lb * LB_PER_TON * source.n_pct / 100
    inside = [
        _box(f"n-{source.key}", f"{currency} per lb N", per_lb),
        _box(f"ton-{source.key}", f"or {currency} per ton of product", per_ton, digits=2),
        _box(f"pct-{source.key}", "with % N", source.n_pct),
    ]
    return f"<fieldset><legend>{html.escape(capital(source_said(source.source)))}</legend>{''.join(inside)}</fieldset>"


def _box(name: str, label: str, value: float | None, *, digits: int | None = None) -> str:
    shown = "" if value is None else f"{value:.{digits}f}" if digits else f"{value:.4f}".rstrip("0").rstrip(".")
    return (
        f'<div class="own-box"><label for="own-{name}">{html.escape(label)}</label> <input type="text"'
        f' inputmode="decimal" autocomplete="off" id="own-{name}" name="{name}" value="{shown}"'
        f' aria-describedby="own-message-{name}"><span class="own-message" id="own-message-{name}"'
        ' aria-live="polite"></span></div>'
    )


def _plain(row: pd.Series) -> dict:
    """Values as JSON has them: no NaN, no numpy types."""
    return {
        name: None if pd.isna(value) else value.item() if hasattr(value, "item") else value
        for name, value in row.items()
    }
