"""Money in words and tables: signs, what is missing, and chances only where they are given."""

from __future__ import annotations

import re
from datetime import date

import pandas as pd
import pytest

from pipeline.display.season import money_tables
from pipeline.display.words import money

NONE = float("nan")


def row(**changed) -> dict:
    return {
        "estimate_id": "6f475c84-5d9f", "comparison_id": "c", "position": 0, "crop": "corn",
        "says": "blend against urea", "target": "seasons to come", "currency": "$", "unit": "bu/ac", "digits": 1,
        "net_change": 14.34, "conf_low": -6.19, "conf_high": 34.87, "break_even_gain": 2.25, "net_change_per_ha": 35.43,
        "gain": 5.61,
        "average_pays_tenths": 9.0, "fields_pay_tenths": 7.0, "fields_pay_low_tenths": 3.0,
        "fields_pay_high_tenths": 10.0, "chances_reason": "", "weather": "long-run weather", "weather_reason": "",
        "crop_price": 4.5, "coated_premium": 0.18, "pass_cost": 12.0, "comparator_n_price": 0.5,
        "prices_fixed_on": date(2094, 11, 1),
        "reference_first_year": 2061, "reference_last_year": 2090, "n_site_years": 34,
        "df": 4.0, "half_width": 4.8, "gives_chances": True, "n_seasons": 4,
        "interval_covers": "Only the gain is uncertain.", "not_counted": "", "reason": "",
        "added_returns": 25.26, "reduced_costs": 0.0, "added_costs": 10.92, "reduced_returns": 0.0,
    } | changed  # fmt: skip


@pytest.mark.parametrize(
    ("value", "written"),
    [(3.5, "$3.50"), (-3.5, "−\u2060$3.50"), (0.0, "$0.00"), (-0.001, "$0.00"), (1234.567, "$1234.57")],
)
def test_amounts(value, written):
    assert money.amount(value, "$") == written


@pytest.mark.parametrize(
    ("value", "written"),
    [(18.79, "$19"), (-14.2, "−\u2060$14"), (0.3, "$0.30"), (-0.3, "−\u2060$0.30"), (-0.001, "$0"), (0.0, "$0")],
)
def test_a_net_return_that_is_not_zero_is_not_printed_as_zero(value, written):
    """'$0 to $38' beside 'it pays', or beside 'not shown', says nothing of the side of zero that decided it."""
    assert money.dollars(value, "$") == written


@pytest.mark.parametrize(
    ("changed", "begins", "ends"),
    [
        (
            {},
            "The trials do not show whether it pays on average: $14 per acre",
            "It breaks even at a gain of 2.2 bu/ac.",
        ),
        ({"conf_low": 1.0}, "It pays on average", "It breaks even at a gain"),
        (
            {"conf_high": -1.0, "net_change": -5.0},
            "It does not pay on average: −\u2060$5 per acre",
            "It breaks even at a gain",
        ),
        (
            {"break_even_gain": -0.4},
            "The trials do not show whether",
            "It pays as long as it yields at most 0.4 bu/ac less.",
        ),
    ],
)
def test_the_answer_follows_its_interval(changed, begins, ends):
    said = money.answer(row(**changed))
    assert said.startswith(begins) and ends in said


@pytest.mark.parametrize(
    "few", [{"n_seasons": 2}, {"n_site_years": 5}, {"n_seasons": 1, "target": "seasons tested"}], ids=str
)
def test_trials_too_few_to_claim_a_gain_show_no_return_either(few):
    """The claim that it pays is 'too few' there."""
    assert money.answer(row(conf_low=1.0, **few)).startswith("The trials do not show whether it pays on average: $14")


def test_the_answer_at_the_head_of_a_page_names_its_comparison_where_it_is_not_the_first():
    paying = pd.DataFrame([row(comparison_id="second")])
    assert money.headline(paying, "second").startswith("[The trials do not show whether it pays")
    assert money.headline(paying, "first").startswith("Blend against urea: [The trials do not show whether it pays")


def test_what_is_missing_is_said_in_one_sentence():
    none = row(net_change=NONE, reason="program.yml has no prices for this crop, so there is no money table")
    assert money.missing(pd.DataFrame([none]), "corn") == "No prices are given for corn, so what it pays is left out."
    lacking = row(net_change=NONE, reason="missing: cost of a pass per acre")
    assert "blend against urea (missing: cost of a pass per acre)" in money.missing(
        pd.DataFrame([row(), lacking]), "corn"
    )
    few = {"net_change": NONE, "reason": "no average gain: 1 season is too few."}
    twice = pd.DataFrame([row(**few), row(**few) | {"says": "blend against nothing"}])
    assert money.missing(twice, "corn") == (
        "No budget for blend against urea; blend against nothing (no average gain: 1 season is too few)."
    )
    assert money.missing(pd.DataFrame([row()]), "corn") == ""


def test_chances_that_are_not_given_say_why():
    none = row(average_pays_tenths=NONE, fields_pay_tenths=NONE, chances_reason="too few: no chances are given")
    assert money_tables.no_chances(pd.DataFrame([row(), none, none])) == "Not given: too few."
    assert money_tables.no_chances(pd.DataFrame([row()])) == ""
    assert money.in_ten(NONE) == "not given"
    untold = money.told(pd.DataFrame([row(df=2.0)]))
    assert money_tables.no_chances(untold) == "Not given: where the interval cannot be estimated."


@pytest.mark.parametrize(
    ("share", "low", "high", "said"),
    [
        (7.0, 3.0, 10.0, "7 in 10 (3 to 10)"),
        (NONE, 2.0, 10.0, "too uncertain to state"),
        (10.0, 9.0, 10.0, "more than 19 in 20"),
        (0.0, 0.0, 2.0, "fewer than 1 in 20"),
        (NONE, NONE, NONE, "not given"),
    ],
)
def test_the_share_of_fields_that_pay_has_its_range(share, low, high, said):
    found = row(fields_pay_tenths=share, fields_pay_low_tenths=low, fields_pay_high_tenths=high)
    assert money.fields_in_ten(found) == said


@pytest.mark.parametrize(("df", "is_told"), [(1.9, False), (2.0, False), (2.1, True)])
def test_an_interval_from_too_few_seasons_is_not_printed(df, is_told):
    rows = money.told(pd.DataFrame([row(df=df), row(net_change=NONE)]))
    table, said = money_tables.money_table(rows, "bu/ac"), money.answer(rows.iloc[0])
    assert ("Not known: once each rain class has its own average" in table) == (not is_told)
    assert "from 34 site-years" in table
    other = money.told(pd.DataFrame([row(df=df), row(n_site_years=20)]))
    assert "from 20 to 34 site-years" in money_tables.money_table(other, "bu/ac")
    assert len(rows) == 1 and rows["gives_chances"].iloc[0] == is_told
    assert (r"\$35" in table and "9 in 10" in table) == is_told
    assert (
        ("not known from 4 seasons" in table)
        == ("not known from 4 seasons. At the average gain it returns $14 per acre" in said)
        == (not is_told)
    )


@pytest.mark.parametrize(
    ("target", "said", "why"),
    [
        ("seasons to come", "not known from 4 seasons", "how seasons differ (if seasons"),
        ("seasons tested", "not known from 3 site-years", "left to tell how gains differ."),
    ],
)
def test_an_interval_that_is_not_printed_names_what_it_would_come_from(target, said, why):
    """In the seasons tested it is site-years that are few: 3 of them leave 2 degrees of freedom in any season."""
    rows = money.told(pd.DataFrame([row(df=2.0, target=target, n_site_years=3)]))
    assert said in money.answer(rows.iloc[0]) and why in money_tables.money_table(rows, "bu/ac")


@pytest.mark.parametrize(
    ("others", "says"),
    [
        ({"target": "seasons to come", "weather": "weather as tested"},
         "Not known: from so few seasons, 2 degrees of freedom or fewer are left to tell how seasons differ (if"),
        ({"target": "seasons tested", "weather": "weather as tested"},
         "Not known: from so few site-years, 2 degrees of freedom or fewer are left to tell how gains differ."),
        ({"target": "seasons tested"},
         "Not known: once each rain class has its own average, 2 degrees of freedom or fewer are left to tell how gains"
         " differ."),
        ({}, "Not known: once each rain class has its own average, 2 degrees of freedom or fewer are left to tell how"
             " seasons differ (if seasons do not appear to differ, season means are used)."),
    ],
)  # fmt: skip
def test_each_interval_that_is_not_known_has_its_own_reason(others, says):
    """Two comparisons of one crop may rest on other targets and weather: neither's reason stands for both."""
    lacking = [row(df=2.0) | others, row(df=1.0) | others]
    assert money_tables._untold_why(money.told(pd.DataFrame([row(), *lacking]))).startswith(says)
    both = money_tables._untold_why(money.told(pd.DataFrame([row(df=2.0), *lacking])))
    reason = says.removeprefix("Not known: ").split(" differ")[0]
    assert (
        reason in both
        and "how seasons differ" in both
        and "season means are used" in both
        and both.count("left to tell") == 2 - (not others)
    )


@pytest.mark.parametrize(
    ("target", "wanted", "said"),
    [
        ("seasons to come", "seasons to come", ""),
        ("seasons tested", "seasons tested", "That is for the seasons tested."),
        (
            "seasons tested",
            "seasons to come",
            "That is for the seasons tested; for future seasons it is not known.",
        ),
    ],
)
def test_an_answer_of_the_seasons_tested_is_not_told_as_one_of_future_seasons(target, wanted, said):
    assert money.holds_for(row(target=target), wanted) == said


def test_money_in_bushels_beside_gains_in_kg_says_what_a_bushel_is():
    rows = pd.DataFrame([row(kg_ha_per_unit=62.77)])
    assert "1 bu/ac = 62.8 kg/ha" in money_tables.money_table(rows, "kg/ha")
    assert "kg/ha" not in money_tables.money_table(rows, "bu/ac")


def test_money_of_another_target_than_the_first_rows_is_marked():
    rows = pd.DataFrame([row(says="a against b"), row(says="c against d", target="seasons tested")])
    first, other = (line for line in money_tables.money_table(rows, "bu/ac").splitlines() if " against " in line)
    assert "(" not in first.split("[")[0] and other.startswith("| C against d (seasons tested) ")


def test_money_that_does_not_rest_on_the_wanted_average_says_so():
    said = money.rests_on(
        row(
            target="seasons tested",
            weather_reason="each class in its own seasons",
        )
    )
    assert said.endswith(
        "in the seasons tested, with dry, normal and wet seasons as often as in 2061 to 2090: 5.6 bu/ac over 34"
        " site-years. The average gain in future seasons at long-run weather is not estimable: each class in its own"
        " seasons."
    )
    said = money.rests_on(row(target="seasons tested", weather_reason="Not estimable: 1 or 2 seasons."))
    assert said.endswith("at long-run weather is not estimable: 1 or 2 seasons.")
    said = money.rests_on(row(weather="weather as tested", weather_reason="With 4 site-years the plain mean leads."))
    assert "at the weather of the seasons tested" in said and said.endswith(
        " The average gain at long-run weather is not estimable: with 4 site-years the plain mean leads."
    )


def test_prices_carry_their_date_and_what_is_left_out():
    said = money.priced(row(not_counted="drying (no price)"), ["corn $4.50 a bushel", "a pass $12.00 an acre"])
    assert (
        r"[Planning prices of November 1, 2094: corn \$4.50 a bushel, a pass \$12.00 an acre.]{.own-priced-at}" in said
    )
    assert (
        r"That is [\$35]{.own-hectare} per hectare. Only the gain is uncertain. Not counted: drying (no price)." in said
    )
    withheld = money.priced(row(conf_low=NONE, conf_high=NONE, not_counted="drying (no price)"), [])
    assert withheld.endswith("per hectare. Not counted: drying (no price).")


@pytest.mark.parametrize(
    ("value", "written"), [(0.5, "$0.50"), (0.554348, "$0.554"), (12, "$12.00"), (-0.0625, "−\u2060$0.062")]
)
def test_a_price_keeps_a_third_decimal(value, written):
    assert money.price_amount(value, "$") == written


def test_the_boxes_hold_their_items_and_the_sum():
    items = pd.DataFrame(
        [
            {"comparison_id": "c", "box": "added costs", "item": item, "amount": size}
            for item, size in (("premium", 10.8), ("harvest costs", 0.12))
        ]
        + [{"comparison_id": "other", "box": "added costs", "item": "strange", "amount": 1.0}]
    )
    table = money_tables.boxes_table(row(), items)
    assert (
        "harvest costs 0.12; premium 10.80" in table
        and "strange" not in table
        and r"\$14.34" in table
        and "nothing" in table
    )


def test_the_grid_has_the_ends_and_the_plan_of_both_prices():
    cells = [
        {"comparison_id": "c", "coated_premium": p, "crop_price": c, "net_change": 10 * c - 20 * p}
        for p in (0.09, 0.1, 0.18, 0.27)
        for c in (4.0, 4.25, 4.5, 5.0)
    ]
    lines = money_tables.grid_table(row(), pd.DataFrame(cells)).splitlines()
    assert lines[0].count("|") == 5 and r"\$4.00 per bu" in lines[0] and "4.25" not in lines[0]
    assert [re.search(r"\[(.+?)\]", line)[1] for line in lines[2:5]] == [r"\$0.09", r"\$0.18", r"\$0.27"]
    assert r"\$45" in lines[4]
    none = pd.DataFrame(cells[:4]).assign(coated_premium=NONE)
    assert money_tables.grid_table(row(coated_premium=NONE), none).count("| none |") == 1


@pytest.mark.parametrize(
    ("tenths", "words"),
    [
        (8, "about 8 fields in 10 gain above the break-even gain"),
        (1, "By the model, about 1 field in 10 gains above the break-even gain"),
        (10, "By the model, more than 19 fields in 20 gain above the break-even gain"),
        (0, "By the model, fewer than 1 field in 20 gains above the break-even gain"),
        (NONE, "no share is given"),
    ],
)
def test_share_above_break_even(tenths, words):
    shares = pd.DataFrame(
        [
            {
                "above": "break-even",
                "is_declared": True,
                "n_site_years": 33,
                "tenths": tenths,
                "reason": "no share is given",
            }
        ]
    )
    assert words in money.share_above(shares, pd.DataFrame([row()]))


@pytest.mark.parametrize(
    ("changed", "printed"),
    [
        ({}, "7 in 10 (3 to 10), at long-run weather."),
        ({"df": 2.0}, "not given, at long-run weather."),
        ({"fields_pay_low_tenths": 0.0, "weather": "weather as tested"}, f"{money.ANYTHING}, at weather as tested."),
    ],
)
def test_the_share_of_fields_is_told_beside_what_the_season_report_prints(changed, printed):
    shares = pd.DataFrame([{"above": "break-even", "is_declared": True, "n_site_years": 33, "tenths": 5.0}])
    assert money.share_above(shares, pd.DataFrame([row(**changed)])).endswith(f"for fields that pay: {printed}")


def cells(table: str, *lines: int) -> list[list[str]]:
    """The words of these lines of a table, without what marks them for the reader's own prices."""
    plain = re.sub(r"\[([^][]*)\]\{\.own[^}]*\}", r"\1", table).replace("\\", "").replace("\u2060", "")
    every = plain.splitlines()
    return [[cell.strip() for cell in every[line].strip("|").split("|")] for line in lines]


def test_each_cell_of_the_money_tables_stands_under_its_heading():
    heads, of_blend = cells(money_tables.money_table(money.told(pd.DataFrame([row()])), "bu/ac"), 0, 2)
    found = dict(zip(heads, of_blend, strict=True))
    assert found.pop("Comparison").startswith("Blend against urea ")
    assert found == {
        "Net change": "$14", "95% interval": "−$6 to $35", "Breaks even at": "2.2 bu/ac", "Pays on average": "9 in 10",
        "Fields where it pays": "7 in 10 (3 to 10)",
    }  # fmt: skip
    items = [("c", "added returns", "yield", 25.26), ("c", "added costs", "premium", 9.92),
             ("c", "added costs", "drying", 1.0), ("d", "added costs", "other", 7.0)]  # fmt: skip
    items = pd.DataFrame(items, columns=["comparison_id", "box", "item", "amount"])
    assert cells(money_tables.boxes_table(row(), items), 0, 2, 3, 4, 5, 6) == [
        ["Box", "What", "Per acre"],
        ["Added returns", "yield 25.26", "$25.26"],
        ["Reduced costs", "nothing", "$0.00"],
        ["Added costs", "drying 1.00; premium 9.92", "$10.92"],
        ["Reduced returns", "nothing", "$0.00"],
        ["Net change", "the first two boxes less the last two", "$14.34"],
    ]
