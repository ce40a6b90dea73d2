"""N response in words: nothing negative or extrapolated is printed as found."""

from __future__ import annotations

import pandas as pd
import pytest

from pipeline.display.words import n_response
from pipeline.display.words.tables import escaped
from pipeline.estimates.n_response import nitrogen_saved
from pipeline.estimates.n_response.nitrogen_saved import AT_EONR
from pipeline.estimates.n_response.optimum import BEYOND

NONE = float("nan")


def curve(**changed) -> dict:
    return {
        "estimate_id": "d89405fb-38f2", "crop": "corn", "family": "urea, at planting, 1 pass",
        "model": "quadratic-plateau", "is_primary": True, "flag": "found", "n_unit": "lb/ac", "unit": "bu/ac",
        "digits": 1, "zero_n_yield": 104.9, "plateau": 183.6, "aonr": 159.0, "aonr_low": 148.0, "aonr_high": 173.0,
        "eonr": 141.0, "eonr_low": 133.0,
        "eonr_high": 150.0, "highest_rate": 240.0, "n_site_years": 33, "n_clusters": 33, "n_rates": 5,
        "price_ratio": 7.0, "interval_method": "site-year bootstrap", "aicc": 2453.2, "n_price_per_lb": 0.5,
        "currency": "$", "price_lacking": "",
    } | changed  # fmt: skip


@pytest.mark.parametrize(
    ("changed", "words"),
    [
        ({}, "141 (133 to 150)"),
        ({"eonr_high": NONE}, "141 (from 133; no upper end)"),
        ({"eonr_low": NONE}, "141 (up to 150; no lower end)"),
        ({"eonr_low": NONE, "eonr_high": NONE}, "141 (open at both ends)"),
        ({"interval_method": None, "eonr_low": NONE, "eonr_high": NONE}, "141 (no interval)"),
        ({"eonr": NONE, "price_ratio": NONE}, "no price"),
        ({"eonr": NONE, "price_ratio": NONE, "flag": BEYOND}, "no price"),
        ({"eonr": NONE, "aonr": NONE, "flag": BEYOND}, "not found up to 240"),
        ({"eonr_high": 240.4}, "141 (133 to 240)"),
        ({"eonr_high": 240.6}, "141 (from 133; no upper end)"),
        ({"eonr_high": 239.8, "highest_rate": 239.4}, "141 (from 133; no upper end)"),
        ({"eonr": 0.0, "eonr_low": 0.0, "eonr_high": 20.0}, "0 (0 to 20)"),
    ],
)
def test_a_rate_has_its_interval_or_says_what_is_open(changed, words):
    assert f"[{words}]{{.own-eonr-0}}" in n_response.optimum_table(pd.DataFrame([curve(**changed)]))


@pytest.mark.parametrize(("n_clusters", "is_said"), [(33, False), (30, True)])
def test_trials_on_the_same_plots_are_said_to_be_drawn_together(n_clusters, is_said):
    table = n_response.optimum_table(pd.DataFrame([curve(n_clusters=n_clusters)]))
    assert ("Trials on the same plots are drawn together." in table) == is_said


def test_curves_that_were_not_fitted_say_why():
    rows = pd.DataFrame(
        [curve(), curve(family="blend", flag="no response"), curve(family="other", flag="fewer than 4 rates")]
    )
    assert n_response.unfitted(rows) == "No curve for other (fewer than 4 rates); blend (no response)."
    assert n_response.unfitted(rows[:1]) == ""


def test_each_way_of_giving_n_has_its_own_price():
    blend = curve(family="blend", n_price_per_lb=0.59)
    unpriced = curve(
        family="uan", n_price_per_lb=NONE, eonr=NONE, price_ratio=NONE, price_lacking="the price of uan per lb N"
    )
    rows = pd.DataFrame([curve(), blend, unpriced])
    table = n_response.optimum_table(rows)
    assert r"\$0.50" in table and r"\$0.59" in table and "no price" in table
    assert (
        n_response.unpriced(rows)
        == "No economic optimum for uan (it needs the price of uan per lb N, which is not given)."
    )
    assert n_response.unpriced(rows[:2]) == ""


def test_without_any_price_the_table_says_nothing_of_money():
    unpriced = {
        "n_price_per_lb": NONE,
        "eonr": NONE,
        "price_ratio": NONE,
        "currency": None,
        "price_lacking": "a price of corn",
    }
    table = n_response.optimum_table(pd.DataFrame([curve(**unpriced)]))
    assert "no price" in table and "economic optimum" not in table and "159 (148 to 173)" in table
    assert n_response.optimum_table(pd.DataFrame([curve(flag="no response")])) == ""


def test_printed_means_and_ladders_that_do_not_count_are_said():
    means = pd.DataFrame(
        {"family": "urea", "trial_id": trial, "variant": "", "site_year_id": trial, "n_rate_kg_ha": rate, "n_plots": n}
        for trial, rates, n in (("a", (0, 90), 4), ("b", (0, 90), 0), ("c", (60, 90), 0))
        for rate in rates
    )
    assert (
        n_response.of_print(means)
        == "1 site-year with published means only counts with printed means, each like one with plots."
    ), "the one without zero-N does not count"
    assert n_response.of_print(means[means["trial_id"] == "a"]) == ""
    own = pd.DataFrame(
        {
            "trial_id": ["a", "b", "c", "d"],
            "family": ["urea"] * 3 + ["uan"],
            "flag": ["found", "printed means only", "no zero-N", "no zero-N"],
        }
    )
    curves = pd.DataFrame([curve(family="urea"), curve(family="uan", flag="no zero-N")])
    assert n_response.left_out(own, curves) == "Not in the curves: 1 trial (no zero-N)."
    assert n_response.left_out(own[:2], curves) == "" and n_response.unfitted(curves) == "No curve for uan (no zero-N)."


def saved(**changed) -> pd.DataFrame:
    row = {
        "estimate_id": "f852ad32-d10f",
        "rate_is": AT_EONR,
        "status": "estimated",
        "n_unit": "lb/ac",
        "comparator_rate": 141.0,
        "nitrogen_saved": 29.9,
        "nitrogen_saved_kg_ha": 33.5,
        "conf_low": 21.2,
        "conf_high": 38.5,
        "n_site_years": 33,
        "warnings": "",
        "says": "half-coated blend, one application, against urea, one application",
    }
    return pd.DataFrame([row | changed])


def test_nitrogen_that_is_not_saved_is_more_nitrogen():
    more = {"nitrogen_saved": -8.2, "nitrogen_saved_kg_ha": -9.2}
    said = n_response.nitrogen_saved(saved(**more, conf_low=-15.0, conf_high=-2.0))
    assert "is reached with 8 lb/ac (9 kg/ha) more N (less N: 95% interval" in said and "could be zero" not in said
    assert said.split(" [")[0].endswith("not a recommendation to raise N by that much.")
    assert "It could be zero." in n_response.nitrogen_saved(saved(**more, conf_low=-15.0, conf_high=2.0))


def test_nitrogen_saved():
    assert "not a recommendation to cut N by that much" in n_response.nitrogen_saved(saved())
    assert "30 lb/ac (34 kg/ha) less N (95" in n_response.nitrogen_saved(
        saved()
    ) and "could be none" not in n_response.nitrogen_saved(saved())
    assert "It could be zero." in n_response.nitrogen_saved(saved(conf_low=-4.0))
    assert "site-years with both" in n_response.nitrogen_saved(saved())  # the curves there are not those of Table 3
    assert "no lower end" in n_response.nitrogen_saved(
        saved(conf_low=NONE)
    ) and "It could be zero." in n_response.nitrogen_saved(saved(conf_low=NONE))
    assert (
        "For the seasons tested, the yield that urea, one application, gives at 141 lb/ac, at its economic optimum at"
        " the planning prices, is reached" in n_response.nitrogen_saved(saved())
    )
    assert "at least 21, with no upper end" in n_response.nitrogen_saved(saved(conf_high=NONE))
    assert "open at both ends" in n_response.nitrogen_saved(saved(conf_low=NONE, conf_high=NONE))
    assert "at least 21, with no upper end" in n_response.nitrogen_saved(saved(conf_high=NONE))
    assert "open at both ends" in n_response.nitrogen_saved(saved(conf_low=NONE, conf_high=NONE))
    few = saved(conf_low=NONE, conf_high=NONE, warnings="fewer than 6 site-years: no interval")
    assert "(no interval: fewer than 6 site-years; " in n_response.nitrogen_saved(few)
    assert n_response.nitrogen_saved(saved().iloc[:0]) == ""


@pytest.mark.parametrize(
    ("status", "reason"),
    [
        (
            nitrogen_saved.NOT_REACHED,
            "half-coated blend, one application, does not reach that yield within the rates tested.",
        ),
        (nitrogen_saved.NO_EONR, "that rate is not known."),
        (nitrogen_saved.NO_CURVE.format(family="urea", flag="fewer than 4 rates"), "urea: fewer than 4 rates."),
    ],
)
def test_where_n_saved_at_the_rate_asked_cannot_be_told_this_is_said_first(status, reason):
    refused = saved(
        status=status, comparator_rate=NONE if status == nitrogen_saved.NO_EONR else 73.0, nitrogen_saved=NONE
    )
    said = n_response.nitrogen_saved(refused)
    assert said.startswith("N saved at the economic optimum of urea, one application,") and said.endswith(reason)
    assert "over the 33 site-years with both" in said  # its optimum need not be that of all site-years
    assert ("at the planning prices (73 lb/ac over" in said) == (status != nitrogen_saved.NO_EONR)
    named = [
        saved(rate_is="named rate", comparator_rate=rate, conf_low=low) for rate, low in ((40.0, 3.0), (70.0, NONE))
    ]
    both = n_response.nitrogen_saved(pd.concat([refused, *named]))
    assert both.startswith(escaped(said)) and "gives at 40 lb/ac is reached" in both and "at 70 lb/ac" not in both


@pytest.mark.parametrize(
    ("changes", "says"),
    [
        ({}, "It is not shown to depend on the rate (exploratory: not asked beforehand)."),
        (
            {"p_value_holm": 0.01},
            "It seems to depend on the rate (exploratory: not asked beforehand), a question for new trials.",
        ),
        ({"p_value_holm": 0.01, "kind": "declared"}, "3 seasons. It depends on the rate."),
        (
            {"p_value_holm": NONE},
            "Whether it depends on the rate cannot be tested (exploratory: not asked beforehand).",
        ),
    ],
)
def test_the_gain_at_each_rate_in_one_sentence(changes, says):
    row = {
        "is_headline": True,
        "shown_as": "sentence",
        "n_site_years": 12,
        "n_seasons": 3,
        "unit": "bu/ac",
        "digits": 1,
        "p_value_holm": 0.2,
        "kind": "exploratory",
    } | changes
    rates = [
        row
        | {
            "rate_lb_ac": lb,
            "rate_kg_ha": kg,
            "estimate": gain,
            "conf_low": gain - 2,
            "conf_high": gain + 2,
            "n_site_years": n,
        }
        for lb, kg, gain, n in ((160.0, 179.3, 7.75, 14), (80.0, 89.7, 9.21, 12))
    ]
    others = [
        row | {"rate_lb_ac": NONE, "rate_kg_ha": NONE, "estimate": 1.0},
        rates[0] | {"is_headline": False},
        rates[0] | {"shown_as": "grey", "rate_kg_ha": 200.0},
    ]
    said = n_response.gain_by_rate(pd.DataFrame([*rates, *others]))
    assert said.startswith(
        "At 80 and 160 lb N/ac (90 and 179 kg/ha) the average gain was 9.2 (7.2 to 11.2) and 7.8 (5.8 to 9.8) bu/ac, at"
        " each rate from 12 site-years or more in 3 seasons."
    )
    assert said.endswith(says)
    metric = pd.DataFrame(rates).assign(unit="kg/ha", digits=0)
    assert n_response.gain_by_rate(metric).startswith(
        "At 90 and 179 kg N/ha the average gain was 9 (7 to 11) and 8 (6 to 10) kg/ha"
    )
    assert n_response.gain_by_rate(pd.DataFrame([rates[0], *others])) == ""
