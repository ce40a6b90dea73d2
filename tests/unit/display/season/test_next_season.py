"""What to plant next in tables and sentences; other traits beside yield."""

from __future__ import annotations

import pandas as pd
import pytest

from pipeline.display.season import next_season
from pipeline.display.words import traits
from pipeline.planning.next_season import GROWN
from tests.unit.display.words.test_passes import row as pass_row

NONE = float("nan")


def outlook() -> pd.DataFrame:
    base = {
        "unit": "bu/ac",
        "digits": 1,
        "target": "seasons to come",
        "reason": "too hopeful",
        "printed_half_width": 7.2,
    }
    rows = [base | {"more_site_years": 0, "more_seasons": 0, "n_blocks": NONE, "half_width": 6.24}]
    rows += [
        base | {"more_site_years": k, "more_seasons": j, "n_blocks": r, "half_width": 6 - k / 10 - j + r / 100}
        for k in (6, 12)
        for j in (1, 2)
        for r in (4.0, 6.0)
    ]
    return pd.DataFrame(rows)


def doubled(**changed) -> pd.DataFrame:
    base = {"target": "seasons to come", "unit": "bu/ac", "digits": 1} | changed
    return pd.DataFrame([base | {"grown": g, "times": t, "half_width": 4.0 / t} for g in GROWN for t in (1, 2)])


def test_what_is_added_and_the_half_width_it_buys():
    table = next_season.outlook_table(outlook(), doubled(), "seasons to come")
    assert table.splitlines()[2:7] == [
        "| Nothing: the interval printed above | 7.2 |",
        "| Nothing: what the variances lead one to expect | 6.2 |",
    ] + [f"| Twice the {grown}, all else as it is | 2.0 |" for grown in GROWN]
    planned = ["| 12 more site-years over 1 more season | 3.8 |", "| 12 more site-years over 2 more seasons | 2.8 |"]
    assert table.splitlines()[7:9] == planned and table.splitlines()[9] == "" and "New trials have 4 blocks" in table


def test_an_outlook_is_of_one_target_and_of_what_can_be_planned():
    other = outlook().assign(target="seasons tested", half_width=1.0, printed_half_width=1.0)
    both, plain = (
        next_season.outlook_table(rows, doubled(), "seasons to come")
        for rows in (pd.concat([other, outlook().iloc[::-1]]), outlook())
    )
    assert both == plain
    without = next_season.outlook_table(outlook(), doubled()[lambda rows: rows["grown"] != GROWN[0]], "seasons to come")
    assert f"Twice the {GROWN[0]}" not in without and f"Twice the {GROWN[1]}" in without


@pytest.mark.parametrize(
    ("widths", "says"),
    [
        # now, 6 in one season, 6 in two, 12 in one, 12 in two
        (
            [7.2, 5.8, 5.3, 5.7, 5.0],
            (
                "Add seasons before site-years: 6 more site-years over 2 seasons narrow the interval from \u00b17.2"
                " bu/ac to \u00b15.3 bu/ac; 12 more site-years over 1 season, to \u00b15.7 bu/ac."
            ),
        ),
        (
            [2.6, 2.4, 2.4, 2.1, 2.1],
            (
                "Add site-years before seasons: 12 more site-years over 1 season narrow the interval from \u00b12.6"
                " bu/ac to \u00b12.1 bu/ac; 6 more site-years over 1 season, to \u00b12.4 bu/ac."
            ),
        ),
        (
            [7.2, 5.8, 5.3, 5.3, 5.0],  # as good: site-years, which need no waiting
            (
                "Add site-years before seasons: 12 more site-years over 1 season narrow the interval from \u00b17.2"
                " bu/ac to \u00b15.3 bu/ac; 6 more site-years over 2 seasons, to \u00b15.3 bu/ac."
            ),
        ),
        ([2.6, 2.6, 2.6, 2.6, 2.6], "More trials of this kind would not narrow the interval (now \u00b12.6 bu/ac)."),
        ([NONE] * 5, "Nothing can be planned yet. too hopeful"),
    ],
)
def test_what_to_add_first_in_one_sentence(widths, says):
    rows = outlook()
    rows = rows[rows["n_blocks"].isna() | rows["n_blocks"].eq(4)]
    assert next_season.advice(rows.assign(half_width=widths)) == says


def test_for_the_seasons_tested_more_seasons_buy_nothing():
    table = next_season.outlook_table(
        outlook().assign(target="seasons tested"), doubled(target="seasons tested"), "seasons tested"
    )
    assert "over 1 more season |" in table and "over 2 more seasons" not in table
    assert table.index("| 6 more site-years") < table.index("| 12 more site-years")
    backwards = next_season.outlook_table(
        outlook().iloc[::-1].assign(target="seasons tested"), doubled(target="seasons tested"), "seasons tested"
    )
    assert backwards == table


def test_where_nothing_can_be_planned_the_reason_stands():
    none = outlook().assign(half_width=NONE, reason="Too few.")
    assert next_season.outlook_table(none, doubled(), "seasons to come") == "Nothing can be planned yet. Too few."


@pytest.mark.parametrize("covariate", ["excess water", "days of heavy rain"])
def test_a_slope_that_cannot_be_planned_says_so_of_one_and_of_many(covariate):
    rows = pd.DataFrame([{"covariate": covariate, "detectable": NONE, "reason": "Too few."}])
    assert next_season.slopes(rows) == f"Whether the gain goes with {covariate} cannot be planned. Too few."


def slope_rows(detectable: list[float], *, more_seasons=(0, 2, 4), **changed) -> pd.DataFrame:
    row = {"covariate": "excess water", "slope_unit": "bu/ac per inch", "slope_digits": 1, "chance": NONE,
           "worth_finding": NONE, "reason": None} | changed  # fmt: skip
    rows = pd.DataFrame([row | {"more_seasons": j} for j in more_seasons]).assign(detectable=detectable)
    return rows.astype({"more_seasons": "Int32"})


GOES_WITH = (
    "Whether the gain goes with excess water: 8 of 10 programs like this one would show a slope of 2.0 bu/ac per inch"
)


@pytest.mark.parametrize(
    ("rows", "says"),
    [
        (slope_rows([2.0, 1.4, 1.1]), f"{GOES_WITH}; with 2 or 4 more seasons, of 1.4 or 1.1."),
        (slope_rows([2.0], more_seasons=[0]), f"{GOES_WITH}."),
        (slope_rows([2.0, 1.4], more_seasons=[0, 1]), f"{GOES_WITH}; with 1 more season, of 1.4."),
        (
            slope_rows([2.0, 1.4, 1.1], reason="Few seasons."),
            f"{GOES_WITH}; with 2 or 4 more seasons, of 1.4 or 1.1. Few seasons.",
        ),
        (
            slope_rows([2.0, 1.4, 1.1], worth_finding=1.0).assign(chance=[0.04, 0.31, 0.52]),
            (
                f"{GOES_WITH}; with 2 or 4 more seasons, of 1.4 or 1.1. A slope of 1.0 bu/ac per inch (the size that"
                " program.yml asks about) would be shown by fewer than 1 of 10 now, and about 5 of 10 with 4 more"
                " seasons."
            ),
        ),
        (
            slope_rows([2.0], more_seasons=[0], worth_finding=9.0, chance=0.96),
            (
                f"{GOES_WITH}. A slope of 9.0 bu/ac per inch (the size that program.yml asks about) would be shown by"
                " more than 9 of 10 now."
            ),
        ),
    ],
)
def test_which_slope_could_be_shown_now_and_after_more_seasons(rows, says):
    assert next_season.slopes(rows) == says


def test_slopes_are_told_in_the_order_of_their_rows():
    other = slope_rows([NONE], more_seasons=[0], covariate="days of heavy rain", reason="Too few.")
    said = next_season.slopes(pd.concat([other, slope_rows([2.0], more_seasons=[0])]))
    assert said == f"Whether the gain goes with days of heavy rain cannot be planned. Too few. {GOES_WITH}."


def test_what_blocks_and_site_years_cannot_replace():
    assert "cannot replace seasons" in next_season.why_not_blocks(outlook(), "seasons to come")
    assert "seasons" not in next_season.why_not_blocks(outlook().assign(target="seasons tested"), "seasons tested")
    # where seasons are not seen to differ, site-years in the same seasons do help
    alike = outlook().assign(reason="The season variance is estimated as zero, often by chance.")
    assert "seasons" not in next_season.why_not_blocks(alike, "seasons to come")
    unknown = outlook().assign(half_width=NONE, reason="Too few.")
    assert "seasons" not in next_season.why_not_blocks(unknown, "seasons to come")
    assert next_season.reserves(outlook(), "seasons to come") == "too hopeful"


def test_site_years_needed():
    rows = pd.DataFrame([{"is_declared": True, "says": "blend against split urea", "target": "seasons to come",
                          "size": 3.0, "unit": "bu/ac", "digits": 1, "n_blocks": 4, "more_seasons": j,
                          "more_site_years": k}
                         for j, k in ((1, NONE), (2, NONE), (3, 8.0), (4, 0.0))])  # fmt: skip
    said = next_season.needed(rows)
    # it need not be the comparison that the section is about
    assert said.startswith(
        "Blend against split urea: what it takes to show as good within 3.0 bu/ac in future seasons, with an 80% chance"
    )
    assert (
        "over 1 or 2 more seasons even 400 more site-years are not enough; over 3 more seasons 8 more site-years; over"
        " 4 more seasons no more site-years." in said
    )
    assert next_season.needed(rows.iloc[:0]) == ""
    # 'is as good' stands on the same page: what is planned for is another thing
    shown = next_season.needed(rows, pass_row())
    now = "It is shown now, at an average difference of 1.2 bu/ac; the trials counted here would show it at zero."
    assert shown == f"{said} {now}"
    assert next_season.needed(rows, pass_row(assay_sensitivity="not shown")) == said


def test_where_the_margin_cannot_be_planned_for_the_reason_stands():
    row = {"is_declared": True, "says": "blend against urea", "target": "seasons to come", "size": 3.0,
           "unit": "bu/ac", "digits": 1, "n_blocks": 4, "more_seasons": pd.NA, "more_site_years": pd.NA,
           "reason": "Not estimable: 1 or 2 seasons."}  # fmt: skip
    said = next_season.needed(pd.DataFrame([row]).convert_dtypes())
    assert (
        said
        == "Blend against urea: what it takes to show as good within 3.0 bu/ac in future seasons cannot be planned. Not"
        " estimable: 1 or 2 seasons."
    )


def test_empty_cells_are_shown_as_empty():
    cells = [
        {"drainage_group": "P", "rainfall_class": rain, "n_site_years": n, "n_seasons": min(n, 2), "shown_as": shown}
        for rain, n, shown in (("dry", 0, "empty"), ("normal", 8, "sentence"), ("wet", 2, "count"))
    ]
    unknown = {
        "drainage_group": None,
        "rainfall_class": None,
        "n_site_years": 1,
        "n_seasons": 1,
        "shown_as": "count",
    }
    table = next_season.evidence_table(pd.DataFrame([*cells, unknown]))
    well = [cell | {"drainage_group": "W", "n_site_years": 7} for cell in cells]
    both = next_season.evidence_table(pd.DataFrame([*well, *cells])).splitlines()
    assert both[2].startswith("| P: ") and both[3].startswith("| W: ")
    assert "8 (2)" in both[2] and both[3].count("7 (") == 3 and "8 (2)" not in both[3]
    assert "| empty | 8 (2) | [2 (2)]{.grey" in table and "; 1 of unknown or mixed class not shown" in table
    assert "not shown" not in next_season.evidence_table(pd.DataFrame(cells))
    three = next_season.evidence_table(pd.DataFrame([*cells, unknown | {"n_site_years": 3}]))
    assert "; 3 of unknown or mixed class not shown" in three


def test_traits_are_supporting_evidence_and_grey_where_few():
    row = {"estimate_id": "50d49537-ea0a", "position": 0, "is_declared": True, "trait": "plant height",
           "says": "blend against urea", "unit": "cm", "digits": 1, "estimate": 4.25, "conf_low": 1.0, "conf_high": 7.5,
           "n_site_years": 8, "n_seasons": 2, "target": "seasons tested", "shown_as": "sentence"}  # fmt: skip
    table = traits.trait_table(
        traits.used(pd.DataFrame([row, row | {"trait": "bolls", "n_site_years": 3, "shown_as": "grey"}]))
    )
    assert (
        "| Plant height | Blend against urea | 4.2 cm (1.0 to 7.5) [" in table
        and "#id-50d49537-ea0a" in table
        and "| 8 site-years in 2 seasons, in the seasons tested |" in table
        and "do not replace them" in table
    )
    assert "[4.2 cm (1.0 to 7.5)]{.grey" in table


def test_a_trait_without_an_estimate_on_the_declared_target_shows_the_other():
    row = {
        "estimate_id": "50d49537-ea0a",
        "position": 0,
        "trait": "plant height",
        "says": "blend against urea",
        "unit": "in",
        "digits": 1,
        "n_site_years": 8,
        "n_seasons": 2,
        "shown_as": "sentence",
    }
    declared = row | {
        "is_declared": True,
        "target": "seasons to come",
        "estimate": NONE,
        "conf_low": NONE,
        "conf_high": NONE,
    }
    other = row | {
        "is_declared": False,
        "target": "seasons tested",
        "estimate": 1.5,
        "conf_low": 0.5,
        "conf_high": 2.5,
    }
    table = traits.trait_table(traits.used(pd.DataFrame([declared, other])))
    assert "1.5 in (0.5 to 2.5)" in table and "in the seasons tested" in table and "not estimable" not in table


def test_traits_without_an_average_are_named_in_one_sentence():
    row = {
        "position": 0,
        "is_declared": True,
        "trait": "stand",
        "estimate": NONE,
        "n_site_years": 2,
        "n_seasons": 1,
    }
    rows = traits.used(pd.DataFrame([row, row | {"position": 1}, row | {"trait": "height"}]))
    assert traits.trait_table(rows) == ""
    known = row | {"trait": "lodging", "estimate": 1.0}
    assert "lodging" not in traits.not_estimable(traits.used(pd.DataFrame([row, known])))
    assert (
        traits.not_estimable(rows)
        == "Other traits with too few site-years for an average: height (2 site-years) and stand (2 site-years)."
    )


def test_one_more_site_year_is_said_in_the_singular():
    assert next_season._found(1.0) == "1 more site-year" and next_season._found(2.0) == "2 more site-years"
    assert next_season._found(0.0) == "no more site-years"
