"""What tested rates lose against the best, in words: decided on printed digits, and nothing said that is not shown."""

from __future__ import annotations

from datetime import date

import pandas as pd
import pytest

from pipeline.display.words import rate_losses as losses

NONE = float("nan")
BAND = {
    "nearly_within": 6.0,
    "nearly_unit": "$/ac",
    "nearly_basis": "half of a pass",
    "nearly_fixed_on": date(2090, 11, 15),
}


def loss(rate=120.0, lost=1.26, low=0.3, high=2.9, **changed) -> dict:
    return {
        "family": "urea", "n_rate": rate, "n_rate_kg_ha": rate * 1.120851, "n_unit": "lb/ac", "loss": lost,
        "conf_low": low, "conf_high": high,
        "interval_method": "site-year bootstrap", "currency": "$", "n_site_years": 33, "n_curve_site_years": 33,
        "nearly_within": NONE, "nearly_unit": None, "nearly_basis": None, "nearly_fixed_on": None,
        "nearly_is_late": False,
    } | changed  # fmt: skip


NO_CURVES = pd.DataFrame(columns=["family", "is_primary", "eonr_low", "eonr_high"])


def told(*rows) -> list[str]:
    return losses.losses_told(pd.DataFrame(rows), NO_CURVES)


@pytest.mark.parametrize(
    ("changed", "words"),
    [
        ({}, r"\$1.26 (\$0.30 to \$2.90)"),
        ({"high": NONE}, r"\$1.26 (\$0.30 or more)"),
        ({"low": NONE, "high": NONE, "interval_method": None}, r"\$1.26 (no interval)"),
    ],
)
def test_a_loss_has_its_interval_or_says_what_is_open(changed, words):
    assert f"| {words} |" in losses.losses_table(pd.DataFrame([loss(**changed)]))


def test_the_table_has_a_row_for_each_way_of_giving_n_and_a_column_for_each_rate():
    rows = [loss(80.0), loss(120.3), loss(120.0, family="blend"), loss(160.0, family="blend")]
    table = losses.losses_table(pd.DataFrame(rows))
    assert table.startswith("| Nitrogen treatment | 80 lb/ac | 120 lb/ac | 160 lb/ac |")
    assert table.count("not tested") == 2 and table.count("tbl-losses}") == 1
    assert losses.losses_table(pd.DataFrame(rows).iloc[:0]) == ""
    many = losses.losses_table(pd.DataFrame([loss(20.0 * i) for i in range(1, 8)]))
    assert "{#tbl-losses}" in many and "{#tbl-losses-2}" in many and "140 lb/ac" in many


def test_not_shown_to_pay_less_is_decided_on_printed_cents():
    assert told(loss(80.0), loss(120.0, low=0.004), loss(160.0, low=0.0)) == [
        "Tested rates not shown to pay less than the best at the planning prices: 120 and 160 lb/ac (urea)."
    ]
    assert told(loss(low=0.006)) == ["Tested rates not shown to pay less than the best at the planning prices: none."]
    assert told(loss(low=0.0), loss(family="blend"))[0].endswith("prices: 120 lb/ac (urea).")


@pytest.mark.parametrize(
    ("ends", "rates"),
    [
        ((120.4, 135.4), "120 lb/ac (urea)."),
        ((120.6, 135.4), "none."),
        ((119.0, NONE), "120 and 160 lb/ac (urea)."),
        ((121.0, 159.6), "160 lb/ac (urea)."),
    ],
)
def test_a_rate_in_the_printed_interval_of_the_best_is_not_called_worse_by_a_cent(ends, rates):
    """'120 to 135' holds 120: beside it no page may say that 120 pays less than the best. The cent stays as it is."""
    rows = pd.DataFrame([loss(80.0), loss(120.0, low=0.01), loss(160.0, low=0.02)])
    best = pd.DataFrame([{"family": "urea", "is_primary": True, "eonr_low": ends[0], "eonr_high": ends[1]}])
    assert losses.losses_told(rows, best)[0].endswith(f": {rates}")
    assert r"(\$0.01 to" in losses.losses_table(rows)


def test_without_an_interval_no_rate_is_called_alike():
    (said,) = told(loss(low=NONE, high=NONE, interval_method=None))
    assert said == "Too few site-years to show that a rate pays less than the best: urea."


def test_without_a_declared_band_nothing_is_nearly_as_well():
    assert not any("early" in said for said in told(loss()))


def test_a_declared_band_sorts_the_rates_by_what_is_shown():
    rows = [
        loss(80.0, 9.0, 7.0, 12.0),
        loss(120.0, 1.0, 0.0, 6.004),
        loss(160.0, 5.0, 3.0, 8.0),
        loss(200.0, 5.0, 3.0, NONE),
    ]
    said = told(*(row | BAND for row in rows))
    assert (
        said[1]
        == "Nearly as well means no more than $6.00 per acre below the best (half of a pass; fixed on November 15,"
        " 2090)."
    )
    assert said[2:] == [
        "Shown to pay nearly as well at the planning prices: 120 lb/ac (urea).",
        "Where an interval reaches from below $6.00 to above it, neither is shown.",
    ]
    assert told(rows[0] | BAND)[2:] == ["Shown to pay nearly as well at the planning prices: none."], (
        "shown to lose more"
    )
    assert told(rows[3] | BAND)[2:3] == ["Shown to pay nearly as well at the planning prices: none."], (
        "its interval is open"
    )
    assert "after the first harvest: exploratory)" in told(loss() | BAND | {"nearly_is_late": True})[1]


def test_where_rates_were_not_tested_alike():
    said = told(loss(160.0, n_site_years=9), loss(200.0, n_site_years=9), loss(120.0, family="blend"))
    assert said[-2] == "Tested in some site-years only: 160 and 200 lb/ac in 9 of 33 site-years (urea)."
    assert said[-1].startswith(
        "The curves were not tested up to the same rate (urea, 200; blend, 120): above 120 lb/ac"
    )
    both = [loss(rate, family=family, n_site_years=9) for family in ("urea", "blend") for rate in (160.0, 200.0)]
    assert told(*both)[-1] == "Tested in some site-years only: 160 and 200 lb/ac in 9 of 33 site-years."


def test_a_curve_whose_best_rate_was_not_found_has_no_losses_and_says_so():
    curves = pd.DataFrame(
        {"family": ["urea", "blend", "uan"], "price_ratio": [7.0, 7.0, NONE], "highest_rate": 240.0, "n_unit": "lb/ac"}
    )
    said = losses.without_losses(curves, pd.DataFrame([loss()]))
    assert said == "No rate can be held against the best where the best was not found: blend (not up to 240 lb/ac)."
    assert losses.without_losses(curves[:1], pd.DataFrame([loss()])) == ""
