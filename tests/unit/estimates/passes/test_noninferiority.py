from datetime import date, timedelta

import numpy as np
import pandas as pd
import pytest
from scipy import stats

from pipeline.errors import UserError
from pipeline.estimates.average import robustness
from pipeline.estimates.passes.noninferiority import (
    LATE,
    ONLY_DIFFERENCES,
    REASONS,
    Margin,
    noninferiority,
    one_sided_tests,
    verdict,
    with_ratio_limits,
)
from tests.declared_shapes import check_shape

FIXED = date(2090, 11, 15)
ASSAYS = pd.DataFrame([{"comparison_id": "c", "assay_sensitivity": "shown", "assay_reason": "why"}])
NO_SITE_YEARS = pd.DataFrame(columns=["comparison_id", "gain", "comparator_mean", "place", "season", "n_trials"])


def test_reasons_hold_for_a_difference_and_for_a_ratio():
    """The limit of a ratio that is better lies above one, not zero."""
    assert not any("zero" in reason for reason in REASONS.values())


def margin(size=300.0, unit="kg/ha"):
    return Margin(size, unit, "3 % of the standard's mean", FIXED)


def pooled(estimate, std_error, df=20.0, target="seasons tested"):
    row = {
        "comparison_id": "c",
        "target": target,
        "moderator": "all",
        "is_headline": True,
        "method": "mixed model",
        "estimate": estimate,
        "std_error": std_error,
        "df": df,
        "n_site_years": 24,
        "n_seasons": 4,
        "rule": "the rule",
    }
    return pd.DataFrame([row, row | {"method": "plain mean", "is_headline": False, "estimate": 9999.0}])


def row_for(estimate, std_error, **others):
    found = noninferiority(pooled(estimate, std_error), NO_SITE_YEARS, {"c": margin()}, ASSAYS, **others)
    check_shape("noninferiority", found)
    return found[found["target"] == "seasons tested"].iloc[0]


# lower limit, upper limit, margin -> the words
DRAWN = [
    (0.1, 5.0, 3.0, "better"),
    (0.0, 5.0, 3.0, "as good within the margin"),
    (-2.9, 5.0, 3.0, "as good within the margin"),
    (-2.9, -0.1, 3.0, "as good within the margin"),
    (-3.0, 5.0, 3.0, "not shown to be as good"),
    (-9.0, 0.0, 3.0, "not shown to be as good"),
    (-9.0, -0.1, 3.0, "worse"),
    (-9.0, -4.0, 3.0, "worse"),
]


@pytest.mark.parametrize("lower, upper, limit, words", DRAWN)
def test_words_of_the_verdict(lower, upper, limit, words):
    assert verdict(lower, upper, limit) == words


def test_the_headline_is_tested_at_one_sided_2_5_percent():
    row = row_for(-100.0, 90.0)
    assert row["lower_limit"] == pytest.approx(-100 - 2.0859634 * 90)  # t(0.975, 20)
    assert row["tost_high"] == pytest.approx(-100 + 1.7247182 * 90)  # t(0.95, 20)
    assert (row["method"], row["alpha"], row["margin_limit"]) == ("mixed model", 0.025, -300)
    assert (row["margin_fixed_on"], row["assay_sensitivity"]) == (FIXED, "shown")
    assert row["verdict"] == "as good within the margin" and row["is_equivalent"]


def test_lower_yet_within_the_margin_says_so():
    row = row_for(-150.0, 50.0)
    assert row["verdict"] == "as good within the margin" and "yields less" in row["reason"]
    assert row_for(-100.0, 90.0)["reason"] == REASONS["as good within the margin"], "it may yield more"
    assert row_for(-500.0, 90.0)["reason"] == REASONS["worse"]


def test_both_one_sided_tests_are_of_the_distance_to_their_side_in_standard_errors():
    """An estimate of -1 with a standard error of 2: 1.5, -0.5 and 2.5 of them above -4, above 0 and below 4."""
    found = one_sided_tests(-1.0, 2.0, 20.0, 4.0)
    assert (found["tost_low"], found["tost_high"]) == pytest.approx((-1 - 1.7247182 * 2, -1 + 1.7247182 * 2))
    assert found["p_noninferior"] == found["p_tost"] == pytest.approx(stats.t.sf(1.5, 20))
    assert found["p_superior"] == pytest.approx(stats.t.sf(-0.5, 20))
    assert one_sided_tests(1.0, 2.0, 20.0, 4.0)["p_tost"] == pytest.approx(stats.t.sf(1.5, 20)), "the nearer side"


def test_a_margin_fixed_after_the_first_harvest_shows_nothing_as_good():
    as_good, better, worse = (-100.0, 90.0), (300.0, 90.0), (-500.0, 90.0)
    in_time, late = {"c": FIXED}, {"c": FIXED - timedelta(days=1)}
    assert row_for(*as_good, first_harvests=in_time)["verdict"] == "as good within the margin"
    row = row_for(*as_good, first_harvests=late)
    assert (row["verdict"], row["reason"], row["margin_is_late"]) == ("not shown to be as good", LATE, True)
    # these two say nothing that a convenient margin could have made
    assert [row_for(*each, first_harvests=late)["verdict"] for each in (better, worse)] == ["better", "worse"]


def test_no_average_is_too_few_with_the_rule_as_reason():
    found = noninferiority(pooled(np.nan, np.nan), NO_SITE_YEARS, {"c": margin()}, ASSAYS)
    assert list(found["verdict"]) == ["too few", "too few"]
    assert list(found["reason"]) == ["the rule", "No site-year has this comparison."]


def test_without_spread_the_estimate_decides():
    assert one_sided_tests(-1.0, 0.0, 5, 2.0)["p_noninferior"] == 0
    assert one_sided_tests(-3.0, 0.0, 5, 2.0)["p_noninferior"] == 1


def ratio_site_years(means, seasons):
    return pd.DataFrame(
        {"comparison_id": "c", "gain": t - c, "comparator_mean": c, "place": str(i), "season": season, "n_trials": 1}
        for i, ((t, c), season) in enumerate(zip(means, seasons, strict=True))
    )


def of_ratios(site_years, size=0.05):
    found = noninferiority(pooled(0, 1), site_years, {"c": margin(size, "ratio")}, ASSAYS)
    return found.set_index("target")


def test_ratios_of_equal_parts_do_not_depend_on_the_unit():
    means = [(95.0, 100.0), (98.0, 99.0), (103.0, 101.0), (97.0, 102.0)]
    once = of_ratios(ratio_site_years(means, [2091, 2092, 2093, 2093]))
    scaled = of_ratios(ratio_site_years([(62 * t, 62 * c) for t, c in means], [2091, 2092, 2093, 2093]))
    assert once.loc["seasons tested", "lower_limit"] == pytest.approx(scaled.loc["seasons tested", "lower_limit"])
    assert once.loc["seasons tested", "margin_limit"] == pytest.approx(0.95)
    # seasons to come: mean of three season means of log ratios, t with 2 df
    logs = np.log([0.95, 98 / 99, np.sqrt(103 / 101 * 97 / 102)])
    assert once.loc["seasons to come", "estimate"] == pytest.approx(np.exp(logs.mean()))
    assert once.loc["seasons to come", "df"] == 2


def test_a_ratio_is_known_no_better_for_seasons_to_come_than_for_those_tested():
    """Season means that happen to be alike prove nothing: logs of -0.04 and 0.02 in each of three seasons."""
    logs = np.array([-0.04, 0.02] * 3)
    means = [(100 * ratio, 100.0) for ratio in np.exp(logs)]
    found = of_ratios(ratio_site_years(means, [2091, 2091, 2092, 2092, 2093, 2093]))
    half = 2.5705818 * logs.std(ddof=1) / np.sqrt(6)  # t(0.975, 5)
    for target in ("seasons tested", "seasons to come"):
        row = found.loc[target]
        assert [row["lower_limit"], row["upper_limit"]] == pytest.approx(np.exp([-0.01 - half, -0.01 + half]).tolist())
        assert row["df"] == 5 and row["verdict"] == "as good within the margin"


def test_ratios_from_few_places_are_guarded_as_differences_are():
    """Three places of two site-years each: the wider of the plain mean and its places as clusters: t of 3 means."""
    logs = np.array([-0.03, -0.031, 0.01, 0.011, 0.05, 0.049])
    site_years = ratio_site_years([(100 * ratio, 100.0) for ratio in np.exp(logs)], [2091, 2092] * 3)
    row = of_ratios(site_years.assign(place=list("aabbcc"))).loc["seasons tested"]
    of_places = logs.reshape(3, 2).mean(axis=1)
    half = 4.3026527 * of_places.std(ddof=1) / np.sqrt(3)  # t(0.975, 2)
    assert row["df"] == pytest.approx(2)
    assert row["lower_limit"] == pytest.approx(np.exp(of_places.mean() - half))


def test_with_a_part_left_out_a_ratio_has_the_limit_that_the_others_alone_give():
    """Site-years, places, seasons and those with findings, in both targets; two seasons are too few for those to
    come, and what is no ratio, or another estimator, has none.
    """
    logs = np.array([-0.04, 0.02, 0.0, 0.01, -0.03, 0.05, 0.02])
    site_years = ratio_site_years([(100 * ratio, 100.0) for ratio in np.exp(logs)], [2091, 2092, 2093] * 2 + [2093])
    site_years = site_years.assign(place=list("aabbccd"), site_year_id=[f"s{n}" for n in range(7)], n_plots=8)
    left = {
        (robustness.SITE_YEAR, "s4"): site_years["site_year_id"] != "s4",
        (robustness.PLACE, "a"): site_years["place"] != "a",
        (robustness.SEASON, "2092"): site_years["season"] != 2092,
        (robustness.CUMULATIVE, "2093"): site_years["season"] < 2093,
        (robustness.NOTED, "s1, s5"): ~site_years["site_year_id"].isin(["s1", "s5"]),
    }
    rows = [
        {"comparison_id": comparison_id, "target": target, "kind": kind, "left_out": left_out}
        for comparison_id in ("c", "yield")
        for target in ("seasons tested", "seasons to come")
        for kind, left_out in (*left, (robustness.ESTIMATOR, ""))
    ]
    margins = {"c": margin(0.05, "ratio"), "yield": margin()}
    found = with_ratio_limits(pd.DataFrame(rows), site_years, margins, ["s5", "s1", "elsewhere"])
    for row in found.itertuples():
        kept = left.get((row.kind, row.left_out))
        if row.comparison_id == "yield" or kept is None:
            assert np.isnan(row.ratio_low)
        else:
            alone = of_ratios(site_years[kept]).loc[row.target, "lower_limit"]
            assert row.ratio_low == pytest.approx(alone, nan_ok=True)
    come = found[found["comparison_id"].eq("c") & found["target"].eq("seasons to come")].set_index("kind")
    assert come.loc[robustness.SITE_YEAR, "ratio_low"] > 0 and np.isnan(come.loc[robustness.SEASON, "ratio_low"])


def test_the_ratio_of_a_comparison_is_of_its_own_site_years():
    """Beside another comparison in the same site-years, it is what it is alone."""
    seasons = [2091, 2092, 2093, 2093]
    own = ratio_site_years([(95.0, 100.0), (98.0, 99.0), (103.0, 101.0), (97.0, 102.0)], seasons)
    own = own.assign(site_year_id=list("stuv"), n_plots=8)
    both = pd.concat([own, own.assign(comparison_id="d", gain=own["gain"] + 30.0)], ignore_index=True)
    margins = {name: margin(0.05, "ratio") for name in "cd"}
    alone = of_ratios(own).loc["seasons tested"]
    found = noninferiority(pooled(0, 1), both, margins, ASSAYS).set_index(["comparison_id", "target"])
    assert found.loc[("c", "seasons tested"), "estimate"] == alone["estimate"]
    assert found.loc[("d", "seasons tested"), "estimate"] > alone["estimate"] + 0.2
    row = {"comparison_id": "c", "target": "seasons tested", "kind": robustness.SITE_YEAR, "left_out": "t"}
    low = of_ratios(own[own["site_year_id"] != "t"]).loc["seasons tested", "lower_limit"]
    assert with_ratio_limits(pd.DataFrame([row]), both, margins, [])["ratio_low"].iloc[0] == pytest.approx(low)


@pytest.mark.parametrize("means", [(1.0, 0.0), (0.0, 1.0)])
def test_a_zero_mean_has_no_ratio(means):
    found = of_ratios(ratio_site_years([means, (1, 1), (1, 1)], [2091, 2092, 2093]))
    assert found["verdict"].eq("too few").all() and "zero" in found["reason"].iloc[0]


def test_what_the_same_plots_share_is_on_the_scale_of_the_ratio():
    """200 of 10,000 kg/ha and 300 of 9,000 in two years of one set of plots: 2 and 3.33 percent of error in common."""
    site_years = ratio_site_years([(9800.0, 1e4), (9100.0, 9e3), (1e4, 1e4), (9700.0, 1e4)], [2091, 2092, 2091, 2092])
    same = site_years.assign(plot_set=["x", "x", None, None], lasting_std_error=[200.0, 300.0, np.nan, np.nan])
    row = of_ratios(same.assign(lasting_df=6.0)).loc["seasons tested"]
    of_spread, shared = np.log([0.98, 91 / 90, 1.0, 0.97]).var(ddof=1) / 4, 2 * 0.02 * (300 / 9000) / (4 * 3)
    assert row["std_error"] == pytest.approx(np.sqrt(of_spread + shared))
    assert row["df"] == pytest.approx(min(3, (of_spread + shared) ** 2 / (of_spread**2 / 3 + shared**2 / 6)))


def test_a_ratio_is_of_the_site_years_whose_comparator_is_known():
    """Of a printed difference there is no ratio, and the others have the ratio they have alone."""
    known = ratio_site_years([(95.0, 100.0), (98.0, 99.0), (103.0, 101.0)], [2091, 2092, 2093])
    printed = ratio_site_years([(95.0, np.nan)], [2093]).assign(gain=4.0)
    both, alone = of_ratios(pd.concat([known, printed], ignore_index=True)), of_ratios(known)
    assert alone["estimate"].notna().all()
    assert (alone["n_without_ratio"] == 0).all() and (both["n_without_ratio"] == 1).all()
    pd.testing.assert_frame_equal(both.drop(columns="n_without_ratio"), alone.drop(columns="n_without_ratio"))
    of_yields = noninferiority(pooled(0, 1), known, {"c": margin()}, ASSAYS)
    assert of_yields["n_without_ratio"].isna().all()
    row = of_ratios(printed).loc["seasons tested"]
    assert (row["verdict"], row["reason"]) == ("too few", ONLY_DIFFERENCES)
    assert of_ratios(printed.iloc[:0]).loc["seasons tested", "reason"].startswith("No site-year")


@pytest.mark.parametrize(
    "break_even, economic, words",
    [
        (67.0, -67.0, "must gain at least"),
        (-134.0, 134.0, "may lose up to"),
        (-0.5, 0.5, "may lose up to"),
        (np.nan, np.nan, "not computed, since there is no budget (missing: the cost of a pass)"),
    ],
)
def test_economic_margin_is_the_break_even_gain_turned(break_even, economic, words):
    budgets = pd.DataFrame(
        [{"comparison_id": "c", "break_even_gain_kg_ha": break_even, "reason": "missing: the cost of a pass."}]
    )
    row = row_for(0.0, 10.0, budgets=budgets)
    assert row["economic_margin_kg_ha"] == pytest.approx(economic, nan_ok=True)
    assert words in row["economic_says"]


@pytest.mark.parametrize(
    "size, unit, basis, fixed_on, words",
    [
        (0.0, "kg/ha", "b", FIXED, "must be above 0"),
        (-5.0, "kg/ha", "b", FIXED, "must be above 0"),
        (np.nan, "kg/ha", "b", FIXED, "must be above 0"),
        (5.0, "ratio", "b", FIXED, "between 0 and 1"),
        (5.0, "", "b", FIXED, "unit is missing"),
        (5.0, "bushels", "b", FIXED, 'unit is "bushels"'),
        (5.0, "kg/ha", " ", FIXED, "on what basis"),
        (5.0, "kg/ha", "b", None, "date"),
    ],
)
def test_a_margin_says_what_it_lacks_and_what_is_left_out(size, unit, basis, fixed_on, words):
    with pytest.raises(UserError, match=words) as problem:
        Margin(size, unit, basis, fixed_on)
    assert "leaves out" in str(problem.value)


def test_without_a_budget_there_is_no_economic_margin():
    assert row_for(0.0, 10.0)["economic_says"] == "not computed, since there is no budget"


def test_no_margins_give_the_shape():
    check_shape("noninferiority", noninferiority(pooled(0, 1), NO_SITE_YEARS, {}, ASSAYS))
