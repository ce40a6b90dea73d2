"""The gain at each N rate: against nlme and lme4 called directly, against the two-way table of a balanced program, and
against known truth.

Source and standing of each number: pipeline/contract/published_checks.yml.
"""

import numpy as np
import pandas as pd
import pytest
import statsmodels.formula.api as smf
from statsmodels.stats.anova import anova_lm

from pipeline.contract.vocabulary import TESTED, TO_COME
from pipeline.estimates.engines import one_stage
from pipeline.estimates.engines.interval_rules import MIXED, PLAIN
from pipeline.estimates.program import estimate
from pipeline.estimates.where.by_rate import RATE, SITE_YEAR_RATE, TRIAL_BLOCK, fit_rates


@pytest.mark.usefixtures("either_engine")
@pytest.mark.parametrize(
    ("model", "gain", "main_plot_factor"), [("nested", "gain", 0.0), ("crossed", "gain_main_plots", 2.0)]
)
def test_the_model_is_that_of_nlme_and_of_lme4_called_directly(answers, model, gain, main_plot_factor):
    """Rates of one site-year correlated, weights, one rate missing here and there; blocks that share main plots have a
    term of their own.
    """
    rows = answers("rates")
    rows["gain"] = rows[gain]
    blocks = rows.assign(
        trial_id=rows["site_year_id"], place=rows["site_year_id"], season=2091, main_plot_factor=main_plot_factor
    )
    fit = fit_rates(blocks, TESTED, levels=blocks["rate"].astype(str)).fit
    found = fit.coefficients.set_index("term")
    rates = ("90", "135", "180")
    got = {f"estimate{rate}": found.loc[f"level{rate}", "estimate"] for rate in rates}
    got |= {f"std_error{rate}": found.loc[f"level{rate}", "std_error"] for rate in rates}
    got |= {name: fit.variance(name) for name in ("site_year_id", SITE_YEAR_RATE, TRIAL_BLOCK)} | {
        "residual": fit.residual_variance,
        "f_stat": fit.joint_test[0],
    }
    expected = answers("rates_answers").query("model == @model").set_index("quantity")["value"]
    assert {name: got[name] for name in expected.index} == pytest.approx(expected.to_dict(), rel=2e-4)


def raised_at(frames, rate: int, by: float):
    """The program with the treatment's yield raised at one rate."""
    comparisons, trials, treatments, plots, arms = frames
    plots = plots.assign(value=plots["value"] + by * (plots["treatment_code"] == f"C{rate}"))
    return comparisons, trials, treatments, plots, arms


@pytest.fixture(scope="module")
def rising(build):
    frames = raised_at(build.program(5, n_places=8, n_seasons=3), 135, 600.0)
    return frames, estimate(*frames)


def rates(found, target=TESTED):
    return found["explored"].query("moderator == @RATE and target == @target").set_index(["level", "method"])


def rate_test(found, target=TESTED):
    return found["interaction_tests"].query("moderator == @RATE and target == @target").iloc[0]


def test_a_gain_that_rises_with_the_rate_is_caught(rising):
    _, found = rising
    for target in (TESTED, TO_COME):
        low, high = (rates(found, target).loc[(rate, MIXED)] for rate in ("90", "135"))
        assert high["estimate"] - low["estimate"] == pytest.approx(600, abs=200)
        assert high["shown_as"] == "sentence" and high["n_site_years"] == 24 and high["is_headline"]
        test = rate_test(found, target)
        assert test["p_value"] < 0.001 and test["kind"] == "exploratory" and test["df2"] <= 24 - 2
        assert test["sentence"].startswith("The gain seems to differ")


def test_a_gain_that_does_not_depend_on_the_rate_is_not_called_so_more_than_rarely(build):
    """Twelve programs of equal gains at both rates, the model alone: none at 1 in 1,000, no more than 3 at 1 in 20
    (chance of 4 or more: 0.2 %).
    """
    p_values = [np.nan] * 12
    for seed in range(12):
        rng = np.random.default_rng(seed)
        cells = pd.MultiIndex.from_product(
            [range(10), ("90", "135", "180"), range(3)], names=["site", "rate", "block"]
        ).to_frame(index=False)
        gain = (
            rng.normal(0, 1, 10)[cells["site"]]
            + rng.normal(0, 0.7, (10, 3))[cells["site"], cells["rate"].factorize()[0]]
            + rng.normal(0, 1, len(cells))
        )
        site = cells["site"].astype(str)
        blocks = cells.assign(
            gain=gain, variance=1.0, site_year_id=site, trial_id=site, place=site, season=2091, main_plot_factor=0.0
        )
        p_values[seed] = test_of(fit_rates(blocks, TESTED, levels=blocks["rate"]))
    assert min(p_values) > 0.001 and np.sum(np.array(p_values) < 0.05) <= 3


def test_of(model: one_stage.OneStage) -> float:
    from scipy.stats import f

    f_stat, df1, df2 = model.fit.joint_test
    return float(f.sf(f_stat, df1, one_stage.capped_df(df2, model)))


test_of.__test__ = False


def test_with_two_rates_everywhere_the_test_is_that_of_the_two_way_table(build):
    """Balanced and weighted alike, F is the rate's mean square over that of site-year x rate."""
    cells = pd.MultiIndex.from_product([range(9), ("90", "135"), range(4)], names=["site", "rate", "block"]).to_frame(
        index=False
    )
    rng = np.random.default_rng(3)
    gain = (
        rng.normal(0, 2, 9)[cells["site"]]
        + rng.normal(0, 2, (9, 2))[cells["site"], cells["rate"].factorize()[0]]
        + rng.normal(0, 1, len(cells))
    )
    site = cells["site"].astype(str)
    blocks = cells.assign(
        gain=gain, variance=1.0, site_year_id=site, trial_id=site, place=site, season=2091, main_plot_factor=0.0
    )
    model = fit_rates(blocks, TESTED, levels=blocks["rate"])
    table = anova_lm(smf.ols("gain ~ C(rate) * C(site)", blocks).fit())
    f_stat, df1, df2 = model.fit.joint_test
    assert f_stat == pytest.approx(table.loc["C(rate)", "mean_sq"] / table.loc["C(rate):C(site)", "mean_sq"], rel=1e-4)
    assert (df1, df2) == pytest.approx((1, 8), rel=1e-3)
    assert one_stage.capped_df(df2, model) == 9 - 2  # the cap of every class mean: site-years less classes


def test_the_mean_of_a_rate_alone_stands_beside_it(build, rising):
    """The program with one rate only gives the plain mean; its block gains rest on fewer plots than the average over
    rates.
    """
    (comparisons, trials, treatments, plots, arms), found = rising
    alone, pooled, _ = build.averages(comparisons, trials, treatments, plots, arms[arms["rate_kg_ha"] == 135])
    expected = pooled.query("moderator == 'all' and target == @TESTED and method == @PLAIN").iloc[0]
    row = rates(found).loc[("135", PLAIN)]
    for column in ("estimate", "conf_low", "conf_high"):
        assert row[column] == pytest.approx(expected[column])
    assert (alone.block_gains["variance_factor"] == 2.0).all()
    assert (found["block_gains"]["variance_factor"] == 1.0).all()


def test_no_block_term_where_no_arm_lies_in_main_plots_and_one_rate_has_no_test(build, rising):
    _, found = rising
    formula = rates(found).loc[("90", MIXED), "formula"]
    assert SITE_YEAR_RATE in formula and TRIAL_BLOCK not in formula
    comparisons, trials, treatments, plots, arms = build.program(4, n_places=2, n_seasons=1)
    one = estimate(comparisons, trials, treatments, plots, arms[arms["rate_kg_ha"] == 135])
    assert RATE not in set(one["explored"]["moderator"])


@pytest.mark.usefixtures("either_engine")
def test_the_order_of_arrival_does_not_move_the_last_digit(answers):
    rows = answers("rates")
    blocks = rows.assign(trial_id=rows["site_year_id"], place=rows["site_year_id"], season=2091, main_plot_factor=0.0)
    orders = (
        blocks,
        blocks.iloc[::-1].reset_index(drop=True),
        blocks.sample(frac=1, random_state=1, ignore_index=True),
    )
    first, *others = (fit_rates(of, TESTED, levels=of["rate"].astype(str)).fit for of in orders)
    for other in others:
        pd.testing.assert_frame_equal(other.coefficients, first.coefficients, check_exact=True)
        assert other.joint_test == first.joint_test


def test_blocks_have_a_term_of_their_own_where_some_trials_share_main_plots():
    cells = pd.MultiIndex.from_product([range(6), ("90", "135"), range(3)], names=["site", "rate", "block"])
    cells = cells.to_frame(index=False)
    gain, site = np.random.default_rng(5).normal(0, 1, len(cells)), cells["site"].astype(str)
    blocks = cells.assign(
        gain=gain + 2 * cells["block"], variance=1.0, site_year_id=site, trial_id=site, place=site, season=2091,
        main_plot_factor=np.where(cells["site"] < 3, 2.0, 0.0),
    )  # fmt: skip
    assert fit_rates(blocks, TESTED, levels=blocks["rate"]).terms == ("site_year_id", SITE_YEAR_RATE, TRIAL_BLOCK)
    none = blocks.assign(main_plot_factor=0.0)
    assert fit_rates(none, TESTED, levels=none["rate"]).terms == ("site_year_id", SITE_YEAR_RATE)
