import numpy as np
import pandas as pd
import pytest
import statsmodels.formula.api as smf

from pipeline.estimates import designs

TABLE = {
    "1": {"Z": 50, "A": 100, "B": 110, "C": 120},
    "2": {"Z": 52, "A": 104, "B": 109, "C": 131},
    "3": {"Z": 49, "A": 99, "B": 115, "C": 118},
}


def analyse(build, plots, design="RCBD"):
    trials = build.trials({"trial_id": "t", "design": design})
    analyses, means = designs.analyse_trials(plots, build.treatments(plots), trials)
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
    assert 2 < found["subplots_per_main_plot"] < 3


@pytest.mark.parametrize(
    "design, words",
    [
        ("unreplicated", "unreplicated"),
        ("strips", "strips"),
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
        ({"1": {"Z": 1}, "2": {"Z": 2}}, "no fertilized plot"),
    ],
)
def test_trials_too_small_or_too_smooth_have_no_error(build, table, words):
    found, _ = analyse(build, build.plots("t", table))
    assert words in found["no_error_reason"]


def test_a_trial_without_plots_keeps_its_row(build):
    plots = build.plots("other", TABLE)
    found, means = analyse(build, plots)
    assert found["n_plots"] == 0 and "no fertilized plot" in found["no_error_reason"]
    assert means.empty
