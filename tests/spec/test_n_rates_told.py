"""From simulated trials to what a season report and a trial's page say of N rates: every sentence true of the
trials.
"""

from __future__ import annotations

import re
from functools import cache

import duckdb
import pandas as pd
import pytest

from pipeline.contract.results import ddl, declared_results
from pipeline.display.season import n_rates
from pipeline.display.site_year import own_rates
from pipeline.estimates.n_response.estimate_n_response import estimate_n_response
from pipeline.folders import SQL as SQL_FOLDER
from tests.unit.estimates.n_response.conftest import BLEND, UREA, program, source_rows

VIEWS = ("response_curves", "rate_losses", "rate_means", "trial_curves", "response_means", "response_lines")
NOTHING = "there is nothing to say on N rates"
MISSING = re.compile(r"\b(nan|NaN|None|NaT|inf)\b")


def frames(seed=8, **options):
    return program(seed, joins={UREA: 160.0}, **options)


def lost(given, *, zero_n: bool):
    """A program whose zero-N, or fertilized, plots are all lost."""
    trials, treatments, plots, arms = given
    return trials, treatments, plots[plots["treatment_code"].str.startswith("none").ne(zero_n)], arms


def in_print(given):
    """A program with published means only."""
    trials, treatments, plots, arms = given
    means = plots.groupby(["trial_id", "treatment_code"], as_index=False)["value"].mean()
    told = {"n_blocks": 4, "error_kind": "SED", "error_value": 250.0, "error_alpha": None, "error_df": None}
    return (trials, treatments, plots[:0], arms), means.rename(columns={"value": "mean_kg_ha"}).assign(**told)


def views_of(given, *, printed=None, priced=True) -> dict[str, pd.DataFrame]:
    """The reports views of these trials, made by the SQL that makes them in a warehouse; N in kg/ha, yields in
    kg/ha.
    """
    sources = source_rows(UREA).assign(currency="$", n_price_per_lb=0.5, prices_fixed_on=None, lacking="")
    if not priced:
        sources = sources.assign(
            price_ratio=None, worth_1_per_ac_kg_ha=None, n_price_per_lb=None, lacking="a price of corn"
        )
    found = estimate_n_response(*given, sources if priced else sources.astype(object), printed_means=printed)
    with duckdb.connect() as con:
        con.execute("create schema estimates; create schema reports; create schema reference; create schema trials")
        for name in ("n_response", "rate_means", "rate_losses", "source_prices"):
            con.execute(ddl(declared_results()[name]))
            rows = (sources if name == "source_prices" else found[name]).convert_dtypes()
            if len(rows):
                con.execute(f"insert into estimates.{name} by name select * from rows")
        con.execute((SQL_FOLDER / "reference" / "nearly_as_well.sql").read_text())
        con.execute("create table trials.first_harvests (crop varchar, first_harvest date)")
        trials = given[0]
        con.execute("create table trials.trials as select * from trials")
        con.execute(
            "create table reference.display_units as select 'corn' as crop, 'kg/ha' as unit, 0 as digits, 1.0 as"
            " kg_ha_per_unit"
        )
        con.execute("create table reference.n_unit as select 'kg/ha' as n_unit, 1.0 as kg_ha_per_n_unit")
        for name in VIEWS:
            con.execute((SQL_FOLDER / "reports" / f"{name}.sql").read_text())
        tables = {name: con.execute(f"select * from reports.{name}").df() for name in VIEWS}
    for name in ("response_curves", "trial_curves", "rate_losses"):
        tables[name]["estimate_id"] = "0a1b2c3d-4e5f"
    nothing = pd.DataFrame({"comparison_id": [], "is_declared": [], "rate_kg_ha": []})
    return tables | {"explored": nothing.assign(is_headline=[], shown_as=[], estimate=[]), "nitrogen_saved": nothing}


# how many tables of best rates and losses, sentences that must stand, sentences that must not
CASES = {
    "a ladder in every trial": (lambda: views_of(frames()), 2,
                                ("Tested rates not shown to pay less than the best at the planning prices:",),
                                ("No curve",)),
    "one trial": (lambda: views_of(frames(n_site_years=1)), 0,
                  (f"No curve for {UREA} (fewer than 3 site-years with zero-N and a fertilized rate).",),
                  ("pay less",)),
    "few trials": (lambda: views_of(frames(n_site_years=4)), 2,
                   ("(no interval)", "Too few site-years to show that a rate pays less"), ("not shown to",)),
    "no zero-N": (lambda: views_of(lost(frames(), zero_n=True)), 0, (f"No curve for {UREA} (no zero-N).",), ()),
    "zero-N alone": (lambda: views_of(lost(frames(), zero_n=False)), 0,
                     (f"No curve for {UREA} (no fertilized plot in use).",), ()),
    "3 rates": (lambda: views_of(frames(rates=(80, 160))), 0, (f"No curve for {UREA} (fewer than 4 rates).",), ()),
    "no prices": (lambda: views_of(frames(), priced=False), 1,
                  ("no price", f"No economic optimum for {UREA} (it needs a price of corn, which is not given)."),
                  ("Pays best:", "lost per acre")),
    "no response": (lambda: views_of(frames(slope=0.0)), 0, (f"No curve for {UREA} (no response).",), ()),
    "still rising": (lambda: views_of(program(8, joins={UREA: 600.0})), 1,
                     ("not found up to 240", f"the best was not found: {UREA} (not up to 240 kg/ha)."),
                     ("not shown to pay less",)),
    "known by print": (lambda: views_of(in_print(frames())[0], printed=in_print(frames())[1]), 2,
                       ("8 site-years with published means only count with printed means",), ("No curve",)),
    "printed without zero-N": (lambda: views_of(in_print(frames())[0],
                                                printed=in_print(lost(frames(), zero_n=True))[1]), 0,
                                                (f"No curve for {UREA} (no zero-N).",), ("count with printed",)),
    "nothing harvested": (lambda: views_of([frame[:0] for frame in frames()]), 0, (NOTHING,), ()),
}  # fmt: skip


@cache
def views_of_case(case: str) -> dict[str, pd.DataFrame]:
    """Made once; never change them."""
    return CASES[case][0]()


@pytest.mark.parametrize("case", CASES)
def test_what_a_season_report_says_of_n_rates(case):
    _, n_tables, says, says_not = CASES[case]
    views = views_of_case(case)
    said = n_rates.n_rates(views, "none", "corn").replace("\\", "")
    assert said.count("{#tbl-") == n_tables
    for words in says:
        assert words in said
    for words in (*says_not, *([] if NOTHING in says else [NOTHING])):
        assert words not in said
    assert not MISSING.search(said)
    assert (len(views["response_lines"]) > 0) == (n_tables > 0), "a picture stands above the tables, and only there"


@pytest.mark.parametrize("case", CASES)
def test_what_a_trials_page_says_of_its_own_n_rates(case):
    views = views_of_case(case)
    common = own_rates.common_optima(views["response_curves"])
    for _, own in views["trial_curves"].groupby("trial_id"):
        said = own_rates.own_optima(own, common, label="rates-1")
        has_curve = own["flag"].isin(["found", "join beyond the highest rate"]).any()
        assert (own_rates.CAUTION in said) == has_curve == ("{#tbl-rates-1}" in said)
        assert has_curve or "No best N rate from this trial alone" in said
        assert not MISSING.search(said)


def test_ways_of_giving_n_with_and_without_a_curve_stand_beside_each_other():
    """A blend tested at one rate beside a ladder of urea: the table is of urea, and the blend is named."""
    trials, treatments, plots, arms = program(8, joins={UREA: 160.0, BLEND: 150.0})
    few = plots[~plots["treatment_code"].str.startswith(BLEND) | plots["treatment_code"].str.endswith("-120")]
    said = n_rates.n_rates(views_of((trials, treatments, few, arms)), "none", "corn").replace("\\", "")
    assert said.count("{#tbl-") == 2 and f"No curve for {BLEND} (fewer than 4 rates)." in said
