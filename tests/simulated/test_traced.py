"""Every figure with an id leads down to its rows, and the rows give the figure again by its formula."""

from __future__ import annotations

import re
from collections import Counter

import numpy as np
import pandas as pd
import pytest
from scipy import stats

from pipeline import trace
from pipeline.display.review import short_trace
from pipeline.display.review import trace as words
from pipeline.verbs.answers import stored_views

LB_AC = 1.120851156194456


@pytest.fixture(scope="module")
def views(demo_run) -> dict[str, pd.DataFrame]:
    return stored_views(demo_run, trace.VIEWS)


def known(views, kind: str, column: str = "estimate") -> list[trace.Trace]:
    """The walks of all rows of a kind that have a figure."""
    ids = views[kind].loc[views[kind][column].notna(), "estimate_id"]
    assert len(ids), f"no {kind} to look at"
    return [trace.walk(views, each) for each in ids]


def test_no_two_figures_share_an_id(views):
    ids = Counter(pd.concat([views[kind]["estimate_id"] for kind in trace.KINDS]))
    assert max(ids.values()) == 1 and None not in ids


@pytest.mark.parametrize("kind", trace.KINDS)
def test_every_id_leads_to_rows_of_files(views, kind):
    for row in views[kind].groupby(views[kind].get("comparison_id", views[kind]["crop"])).head(2).to_dict("records"):
        found = trace.walk(views, row["estimate_id"])
        told = words.lines(found)
        assert found.kind == kind and told[0].startswith(row["estimate_id"])
        assert not [line for line in told if "nan" in line.split() or "None" in line.split()]
        short = short_trace.lines(found)
        assert len(short) <= 10 and short[0] == told[0] and row["estimate_id"] in short[-1]
        if len(found.plots):
            assert found.plots["file"].notna().all() and found.plots["sha256"].str.len().eq(64).all()


def test_a_net_change_is_its_gain_times_value_less_costs_and_the_sum_of_its_boxes(views):
    for found in known(views, "money", "net_change"):
        row, (average,) = found.estimate, found.rests_on
        gain = average["estimate"]
        assert row["net_change"] == pytest.approx(gain * row["value_per_unit"] - row["cost"])
        sign = found.items["box"].map(
            {"added returns": 1, "reduced costs": 1, "added costs": -1, "reduced returns": -1}
        )
        assert row["net_change"] == pytest.approx((sign * found.items["amount"]).sum())
        at_long_run = row["weather"] == trace.LONG_RUN
        assert len(found.site_years) == row["n_site_years"] and found.site_years["weight"].isna().all() == at_long_run


def test_a_test_against_a_margin_is_its_average_and_standard_error(views):
    for found in known(views, "as_good"):
        row, (average,) = found.estimate, found.rests_on
        assert row["estimate"] == pytest.approx(average["estimate"])
        low = row["estimate"] - stats.t.ppf(0.975, row["df"]) * row["std_error"]
        assert row["lower_limit"] == pytest.approx(low)


def test_a_share_of_fields_is_read_off_its_average_and_spread(views):
    for found in known(views, "field_shares", "share"):
        row, average = found.estimate, found.rests_on[0]
        assert row["share"] == pytest.approx(stats.norm.cdf((average["estimate"] - row["threshold"]) / row["tau"]))


def test_the_means_behind_a_curve_are_those_of_its_plots(views):
    for found in known(views, "response_curves", "b"):
        whole = found.means[["trial_id", "variant", "n_rate", "mean", "n_plots"]]
        plots = found.plots.groupby(["trial_id", "variant", "n_rate"])["yield"].agg(["mean", "size"]).reset_index()
        both = whole.merge(plots, on=["trial_id", "variant", "n_rate"], suffixes=("", "_of_plots"))
        by_print = both["n_plots"] == 0  # such a mean has no plots and one row
        assert len(both) == len(whole) and (both["n_plots"].where(~by_print, 1) == both["size"]).all()
        in_block = found.plots.groupby(["trial_id", "variant", "n_rate", "block"]).size().unstack()
        complete = both["trial_id"].map(in_block.eq(1).all(axis=1).groupby("trial_id").all()).eq(True)
        assert complete.any()
        same = complete | by_print
        assert np.allclose(both["mean"][same], both["mean_of_plots"][same])


def test_the_rate_that_pays_best_lies_where_the_curve_rises_by_the_price_ratio(views):
    curves = [found.estimate for found in known(views, "response_curves", "eonr")]
    for row in [row for row in curves if row["model"] == "quadratic-plateau" and row["eonr_kg_ha"] > 0]:
        assert row["b"] * (1 - row["eonr_kg_ha"] / row["join_kg_ha"]) == pytest.approx(row["price_ratio"], rel=1e-6)


def test_n_saved_is_the_difference_between_two_rates_of_equal_yield(views):
    for found in known(views, "nitrogen_saved", "nitrogen_saved"):
        row, curves = found.estimate, {curve["family"]: curve for curve in found.rests_on}
        assert row["nitrogen_saved"] == pytest.approx(row["comparator_rate"] - row["same_yield_rate"])
        assert curve_at(curves[row["family"]], row["same_yield_rate"]) == pytest.approx(
            curve_at(curves[row["comparator_family"]], row["comparator_rate"]), rel=1e-6
        )


def curve_at(curve: pd.Series, rate: float) -> float:
    """Yield in kg/ha on a quadratic-plateau curve at a rate in lb/ac."""
    n = min(rate * LB_AC, curve["join_kg_ha"])
    return curve["a_kg_ha"] + curve["b"] * (n - n**2 / (2 * curve["join_kg_ha"]))


def test_an_agronomic_efficiency_is_the_mean_rise_over_its_rate(views):
    told = [found for found in known(views, "efficiencies") if found.estimate["efficiency"] == "agronomic efficiency"]
    for found in told:
        means = found.means.assign(is_zero=found.means["n_rate"].eq(0))
        of_trial = means.pivot_table(
            index=["site_year_id", "trial_id"], columns="is_zero", values="mean_kg_ha"
        ).dropna()
        rates = means[~means["is_zero"]].groupby(["site_year_id", "trial_id"])["n_rate_kg_ha"].mean()
        rise = ((of_trial[False] - of_trial[True]) / rates.reindex(of_trial.index)).groupby("site_year_id").mean()
        assert found.estimate["estimate"] == pytest.approx(rise.mean()) and found.estimate["n_site_years"] == len(rise)


def test_a_net_change_is_told_as_a_sum_with_its_currency(views):
    """A cost that is saved stands in parentheses behind the minus; a currency may be more than one letter."""
    (row,) = views["money"].query("comparison_id == 'corn-c50-once-vs-urea-split'").to_dict("records")
    moved = views["money"].assign(currency="Kr ", cost=-1.6)
    formula = next(
        line for line in words.lines(trace.walk(views | {"money": moved}, row["estimate_id"])) if " × " in line
    )
    assert formula.endswith(f" bu/ac × Kr {row['value_per_unit']:.4f} − (−\u2060Kr 1.60)")


def test_the_plots_of_a_curve_are_told_with_whole_rates(views):
    row = views["response_curves"].query("crop == 'corn' and eonr.notna()").iloc[0]
    told = [line for line in words.lines(trace.walk(views, row["estimate_id"])) if "(N rate " in line]
    assert told and all(re.search(r"\(N rate \d+ lb/ac\), ", line) for line in told)


@pytest.mark.parametrize(
    ("efficiency", "with_zero"), [("agronomic efficiency", True), ("partial factor productivity", False)]
)
def test_an_efficiency_leads_to_trials_whose_rates_lie_a_little_apart(views, efficiency, with_zero):
    """As if one trial had planned 2 lb/ac more: rates so near are one level, whose rate is their mean."""
    row = views["efficiencies"].query("crop == 'corn' and efficiency == @efficiency and estimate.notna()").iloc[0]
    moved = {name: views[name].copy() for name in ("rate_means", "ladder_sources", "efficiencies")}
    trial = moved["rate_means"].query("family == @row.family")["trial_id"].iloc[0]
    for name in ("rate_means", "ladder_sources"):
        mine = (
            (moved[name]["trial_id"] == trial) & (moved[name]["family"] == row["family"]) & (moved[name]["n_rate"] > 0)
        )
        moved[name].loc[mine, "n_rate"] += 2
        if name == "rate_means":
            moved[name].loc[mine, "n_rate_kg_ha"] += 2 * LB_AC
    rates = moved["rate_means"].query("family == @row.family and n_rate > 0")["n_rate_kg_ha"]
    near = rates[(rates - row["n_rate_kg_ha"]).abs() < 5]
    mine = moved["efficiencies"]["estimate_id"] == row["estimate_id"]
    moved["efficiencies"].loc[mine, "n_rate_kg_ha"] = near.unique().mean()
    found = trace.walk(views | moved, row["estimate_id"])
    assert trial in set(found.means["trial_id"]) and trial in set(found.plots["trial_id"])
    assert found.means["n_rate"].eq(0).any() == with_zero


@pytest.mark.parametrize("column", ["rainfall_class", "drainage_group"])
def test_at_long_run_weather_nothing_of_a_site_year_without_a_class_is_in_the_walk(views, column):
    row = views["money"].query("weather == 'long-run weather' and net_change.notna()").iloc[0]
    site_years = views["site_year_gains"].copy()
    out = site_years.loc[site_years["comparison_id"] == row["comparison_id"], "site_year_id"].iloc[0]
    site_years.loc[site_years["site_year_id"] == out, column] = None
    before = trace.walk(views, row["estimate_id"])
    after = trace.walk(views | {"site_year_gains": site_years}, row["estimate_id"])
    for name in ("site_years", "plots", "rain"):
        assert out in set(getattr(before, name)["site_year_id"]) and out not in set(
            getattr(after, name)["site_year_id"]
        )


def test_another_trait_leads_to_its_measurements_alone(views):
    for row in views[trace.TRAITS].itertuples():
        found = trace.walk(views, row.estimate_id)
        assert set(found.plots["trait"]) == {row.trait} and set(found.plots["arm"]) == {"treatment", "comparator"}
        assert found.plots["site_year_id"].nunique() >= row.n_site_years
