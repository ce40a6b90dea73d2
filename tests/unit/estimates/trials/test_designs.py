from itertools import combinations

import numpy as np
import pandas as pd
import pytest
import statsmodels.formula.api as smf
from scipy import stats

from pipeline.estimates.trials import designs

TABLE = {
    "1": {"Z": 50, "A": 100, "B": 110, "C": 120},
    "2": {"Z": 52, "A": 104, "B": 109, "C": 131},
    "3": {"Z": 49, "A": 99, "B": 115, "C": 118},
}


def analyse(build, plots, design="RCBD"):
    trials = build.trials({"trial_id": "t", "design": design})
    analyses, means = designs.analyze_trials(plots, build.treatments(plots), trials)
    return analyses.iloc[0], means.set_index("treatment_code")


def least_squares(plots, formula):
    return smf.ols(formula, plots.rename(columns={"value": "y", "treatment_code": "code"})).fit()


def test_zero_n_is_left_out_of_the_error_but_has_its_mean(build):
    plots = build.plots("t", TABLE)
    found, means = analyse(build, plots)
    expected = least_squares(plots[plots["treatment_code"] != "Z"], "y ~ C(block) + C(code)")
    assert found["error_variance"] == pytest.approx(expected.mse_resid)
    assert (found["error_df"], found["n_plots"], found["n_treatments"]) == (4, 9, 3)
    assert means.loc["Z", "adjusted_mean"] == pytest.approx(np.mean([50, 52, 49]))


def test_a_lost_plot_is_adjusted_for_as_by_least_squares(build):
    plots = build.plots("t", TABLE)
    plots = plots[~((plots["block"] == "2") & (plots["treatment_code"] == "C"))]
    found, means = analyse(build, plots)
    fertilized = least_squares(plots[plots["treatment_code"] != "Z"], "y ~ C(block) + C(code)")
    assert found["error_variance"] == pytest.approx(fertilized.mse_resid)
    assert found["error_df"] == 3
    everything = least_squares(plots, "y ~ C(block) + C(code)")
    grid = pd.DataFrame({"block": ["1", "2", "3"], "code": "C"})
    assert means.loc["C", "adjusted_mean"] == pytest.approx(everything.predict(grid).mean())
    assert means.loc["C", "mean"] == pytest.approx((120 + 118) / 2)
    assert means.loc["C", "n_plots"] == 2


def widest_lsd(plots, formula):
    """Over all pairs of treatments, of the block-adjusted differences that least squares can give."""
    fit = least_squares(plots, formula)
    codes = sorted(plots["treatment_code"].unique())
    pairs = [f"C(code)[T.{b}]" + (f" - C(code)[T.{a}]" if a != codes[0] else "") for a, b in combinations(codes, 2)]
    return stats.t.ppf(0.975, fit.df_resid) * max(fit.t_test(f"{pair} = 0").sd.item() for pair in pairs)


@pytest.mark.parametrize("design, block", [("RCBD", " + C(block)"), ("CRD", "")])
def test_the_largest_lsd_is_that_of_the_pair_with_the_lost_plot(build, design, block):
    plots = build.plots("t", TABLE)
    whole, _ = analyse(build, plots, design)
    assert whole["lsd_5pct_largest"] == pytest.approx(whole["lsd_5pct"], rel=1e-12)
    plots = plots[~((plots["block"] == "2") & (plots["treatment_code"] == "C"))]
    found, _ = analyse(build, plots, design)
    fertilized = plots[plots["treatment_code"] != "Z"]
    assert found["lsd_5pct_largest"] == pytest.approx(widest_lsd(fertilized, "y ~ C(code)" + block))
    assert found["lsd_5pct_largest"] > 1.05 * found["lsd_5pct"]


def test_incomplete_blocks_widen_the_largest_lsd(build):
    """Three treatments twice each in three blocks of two: an adjusted difference is known less well than of two whole
    blocks.
    """
    table = {
        "1": {"A": 10, "B": 13}, "2": {"B": 12, "C": 17}, "3": {"A": 9, "C": 15},
        "4": {"A": 12, "B": 14}, "5": {"B": 11, "C": 18}, "6": {"A": 8, "C": 15},
    }  # fmt: skip
    plots = build.plots("t", table)
    found, _ = analyse(build, plots, "incomplete block")
    assert found["lsd_5pct_largest"] == pytest.approx(widest_lsd(plots, "y ~ C(block) + C(code)"))
    assert found["lsd_5pct_largest"] == pytest.approx(found["lsd_5pct"] / np.sqrt(0.75))


def test_crd_ignores_block_labels(build):
    found, _ = analyse(build, build.plots("t", TABLE), "CRD")
    expected = least_squares(
        build.plots("t", {k: {c: v for c, v in t.items() if c != "Z"} for k, t in TABLE.items()}),
        "y ~ C(code)",
    )
    assert found["error_variance"] == pytest.approx(expected.mse_resid)


def test_incomplete_blocks_give_the_intra_block_analysis(build):
    table = {
        "1": {"A": 10, "B": 13},
        "2": {"B": 12, "C": 17},
        "3": {"A": 9, "C": 15},
        "4": {"A": 12, "B": 14},
    }
    plots = build.plots("t", table)
    found, means = analyse(build, plots, "incomplete block")
    expected = least_squares(plots, "y ~ C(block) + C(code)")
    assert found["error_variance"] == pytest.approx(expected.mse_resid)
    assert found["error_df"] == expected.df_resid == 2
    assert means.loc["A", "adjusted_mean"] - means.loc["C", "adjusted_mean"] == pytest.approx(
        -expected.params["C(code)[T.C]"]
    )


def test_split_plot_with_a_lost_sub_plot_keeps_its_strata_apart(build):
    """Main-plot error from known parts: the coefficient of its variance falls below the number of sub-plots."""
    rng = np.random.default_rng(5)
    rows = [
        {
            "trial_id": "t",
            "block": str(b),
            "main_plot": m,
            "treatment_code": f"{m}{s}",
            "value": 100 + rng.normal(0, 3),
        }
        for b in range(4)
        for m in "AB"
        for s in range(3)
    ]
    plots = pd.DataFrame(rows).drop(index=[4])
    found, _ = analyse(build, plots, "split-plot")
    plots["unit"] = plots["block"] + plots["main_plot"]
    inner = least_squares(plots, "y ~ C(unit) + C(code)")
    outer = least_squares(plots, "y ~ C(block) + C(code)")
    assert found["error_variance"] == pytest.approx(inner.ssr / inner.df_resid)
    assert found["main_plot_error_df"] == outer.df_resid - inner.df_resid == 3
    assert found["main_plot_error_variance"] == pytest.approx((outer.ssr - inner.ssr) / 3)
    assert found["lsd_5pct_largest"] > found["lsd_5pct"]
    assert 2 < found["subplots_per_main_plot"] < 3


def test_main_plots_of_one_fertilized_plot_are_analyzed_as_a_randomized_block(build):
    """Zero-N beside one rate in each main plot: without zero-N the main plots are the plots of complete blocks."""
    plots = build.plots("t", TABLE)
    zero = plots["treatment_code"] == "Z"
    beside = [plots[zero].assign(main_plot=code, plot=f"Z{code}") for code in "ABC"]
    split = pd.concat([plots[~zero].assign(main_plot=plots["treatment_code"]), *beside], ignore_index=True)
    found, _ = analyse(build, split, "split-plot")
    block, _ = analyse(build, plots)
    assert pd.isna(found["no_error_reason"])
    assert (found["error_variance"], found["error_df"]) == (block["error_variance"], block["error_df"])
    assert (found["main_plot_error_variance"], found["main_plot_error_df"]) == (
        block["error_variance"],
        block["error_df"],
    )
    assert found["subplots_per_main_plot"] == 1
    assert found["lsd_5pct_largest"] == pytest.approx(block["lsd_5pct_largest"])


def test_main_plots_without_an_error_have_no_largest_lsd(build):
    """One block: the sub-plots show their error, the main plots none."""
    sizes = {"A0": 80, "A1": 90, "B0": 85, "B1": 99}
    rows = [
        {"trial_id": "t", "block": "1", "main_plot": code[0], "treatment_code": code, "value": value + more}
        for code, value in sizes.items()
        for more in (0.0, 1.5)
    ]
    found, _ = analyse(build, pd.DataFrame(rows), "split-plot")
    assert pd.notna(found["lsd_5pct"]) and pd.isna(found["lsd_5pct_largest"])


def strips(n_blocks: int):
    """Points along strips: Z and A to E in randomized blocks, each strip with a level of its own and 8 to 12 points."""
    rng = np.random.default_rng(7)
    return {
        str(block): {
            code: list(80 + 5 * i + rng.normal(0, 4) + rng.normal(0, 1, 8 + i % 5)) for i, code in enumerate("ZABCDE")
        }
        for block in range(1, n_blocks + 1)
    }


def as_delivered(plots: pd.DataFrame) -> pd.DataFrame:
    """With what the warehouse knows beside the yield, another for each point of a strip."""
    return plots.assign(row_number=range(2, 2 + len(plots)), moisture_pct=[12.5 + i % 3 for i in range(len(plots))])


def test_strips_in_blocks_are_analyzed_by_their_means(build):
    """As R's aov(mean ~ block + code) of strip means, here by statsmodels; a line of points adds no df."""
    plots = as_delivered(build.plots("t", strips(3)))
    found, means = analyse(build, plots, "strips")
    of_strips = plots.groupby(["block", "treatment_code"], as_index=False)["value"].mean()
    expected = least_squares(of_strips[of_strips["treatment_code"] != "Z"], "y ~ C(block) + C(code)")
    assert found["error_variance"] == pytest.approx(expected.mse_resid)
    assert (found["error_df"], found["n_plots"]) == (expected.df_resid, 15) == (8, 15)
    assert means.loc["A", "std_error"] == pytest.approx(np.sqrt(expected.mse_resid / 3))
    as_plots, _ = analyse(build, plots)
    assert as_plots["lsd_5pct"] < found["lsd_5pct"] / 2 and as_plots["error_df"] > 100


def test_single_strips_have_no_error(build):
    found, _ = analyse(build, as_delivered(build.plots("t", strips(1))), "strips")
    assert pd.isna(found["error_variance"]) and "no second block repeats" in found["no_error_reason"]


def test_a_second_analysis_keeps_zero_n_for_contrasts_that_use_it(build):
    plots = build.plots("t", TABLE)
    analyses, _ = designs.analyze_trials(plots, build.treatments(plots), build.trials({"trial_id": "t"}))
    kept = analyses.set_index("zero_n_in_error").loc[True]
    expected = least_squares(plots, "y ~ C(block) + C(code)")
    assert kept["error_variance"] == pytest.approx(expected.mse_resid)
    assert (kept["error_df"], kept["n_treatments"]) == (6, 4)


def test_a_trial_of_unfertilized_treatments_leaves_none_out(build):
    """Two cultivars without nitrogen: zero-N is no treatment there."""
    found, _ = analyse(
        build, build.plots("t", {"1": {"Za": 5, "Zb": 8}, "2": {"Za": 6, "Zb": 11}, "3": {"Za": 4, "Zb": 7}})
    )
    assert found["error_df"] == 2 and found["no_error_reason"] is None


@pytest.mark.parametrize(
    "design, words",
    [
        ("unreplicated", "unreplicated"),
        ("not randomized", "not randomized"),
        ("alpha lattice", "no written analysis"),
        ("split-plot", "main plot"),
    ],
)
def test_designs_without_an_error_say_why(build, design, words):
    found, means = analyse(build, build.plots("t", TABLE), design)
    assert pd.isna(found["error_variance"])
    assert words in found["no_error_reason"]
    assert means["std_error"].isna().all() and means["mean"].notna().all()


@pytest.mark.parametrize(
    "table, words",
    [
        ({"1": {"A": 1, "B": 2}}, "degrees of freedom"),
        ({"1": {"A": 10, "B": 20}, "2": {"A": 11, "B": 21}}, "no variation"),
        ({"1": {"Z": 1}, "2": {"Z": 2}}, "no harvest of a fertilized plot"),
    ],
)
def test_trials_too_small_or_too_smooth_have_no_error(build, table, words):
    found, _ = analyse(build, build.plots("t", table))
    assert words in found["no_error_reason"]


def test_a_trial_without_plots_keeps_its_row(build):
    plots = build.plots("other", TABLE)
    found, means = analyse(build, plots)
    assert found["n_plots"] == 0 and "no harvest of a fertilized plot" in found["no_error_reason"]
    assert means.empty
