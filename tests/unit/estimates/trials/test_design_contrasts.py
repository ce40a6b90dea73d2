"""Each design's gain as what it is, a weighted sum of plots: the weights are found by nudging one plot at a time.

Whatever way the estimate took, blocks must cancel out of it, treatment effects must come through at their declared
weights, and its standard error must be the one that these weights give with the error mean square of statsmodels.
"""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest
import statsmodels.formula.api as smf

from pipeline.estimates.trials import designs
from pipeline.estimates.trials.block_gains import block_gains
from pipeline.estimates.trials.site_year_gains import moderated_analyses, site_year_gains, with_variances

ONE = {np.nan: ("A", "B")}
RATES = {90.0: ("C90", "U90"), 180.0: ("C180", "U180")}
SHARES = {90.0: 3.0, 180.0: 1.0}
COMPLETE = {str(b): ["Z", "C90", "U90", "C180", "U180"] for b in range(4)}
PAIRS = {str(number): list(codes) for number, codes in enumerate(["AB", "AC", "BC", "AD", "BD", "CD"])}
APART = {"0": ["A", "C", "D"], "1": ["B", "C", "D"], "2": ["C", "D"]}
SQUARE = {str(b): ["A", "B", "C", "D"] for b in range(4)}
MAIN = {str(b): ["A1", "A2", "A3", "B1", "B2", "B3"] for b in range(4)}
LOST = [1, 8]  # rows of the drawn trial that are lost


def drawn(layout, design, *, lost=(), main_plots=False):
    """Plots and trial of one layout, with block effects and noise, and rows lost."""
    rng = np.random.default_rng(7)
    rows = [
        {
            "trial_id": "t",
            "block": block,
            "main_plot": code[0] if main_plots else None,
            "plot": f"{block}{code}",
            "treatment_code": code,
            "value": 100 + 10 * int(block) + rng.normal(0, 3),
        }
        for block, codes in layout.items()
        for code in codes
    ]
    return pd.DataFrame(rows).drop(index=list(lost)).reset_index(drop=True), design


def site_years(build, plots, design, arms):
    trials = build.trials(*({"trial_id": name, "design": design} for name in plots["trial_id"].unique()))
    analyses, _ = designs.analyze_trials(plots, build.treatments(plots), trials)
    analyses = moderated_analyses(analyses, trials)
    return site_year_gains(with_variances(block_gains(plots, arms, trials), analyses), trials)


def site_year(build, plots, design, arms):
    return site_years(build, plots, design, arms).iloc[0]


def weights_of(build, plots, design, arms):
    """How far the gain moves with each plot: as many trials as plots, in each of which one is nudged."""
    gain = site_year(build, plots, design, arms)["gain"]
    names = {row: f"t{row:03d}" for row in plots.index}
    moved = pd.concat(
        plots.assign(trial_id=name, value=plots["value"] + 1.0 * (plots.index == row)) for row, name in names.items()
    )
    of_each = pd.concat(arms.assign(trial_id=name) for name in names.values())
    nudged = site_years(build, moved.reset_index(drop=True), design, of_each.reset_index(drop=True))
    return nudged.set_index("site_year_id")["gain"].reindex(list(names.values())).to_numpy() - gain


CASES = {
    "two rates in complete blocks": (drawn(COMPLETE, "RCBD"), RATES),
    "zero-N and another arm lost": (drawn(COMPLETE, "RCBD", lost=[0, 13]), {90.0: RATES[90.0]}),
    "a plot of an arm lost": (drawn(COMPLETE, "RCBD", lost=[1]), {90.0: RATES[90.0]}),
    "CRD with lost plots": (drawn(COMPLETE, "CRD", lost=LOST), RATES),
    "Latin square": (drawn(SQUARE, "Latin square"), ONE),
    "incomplete blocks": (drawn(PAIRS, "incomplete block"), ONE),
    "arms that share no block": (drawn(APART, "RCBD"), ONE),
    "split-plot, arms in different main plots": (drawn(MAIN, "split-plot", main_plots=True),
                                                 {1.0: ("A1", "B1"), 2.0: ("A2", "B2")}),
    "split-plot, arms within main plots": (drawn(MAIN, "split-plot", main_plots=True), {np.nan: ("A1", "A2")}),
    "split-plot with a sub-plot lost": (drawn(MAIN, "split-plot", main_plots=True, lost=[2]),
                                        {1.0: ("A1", "B1"), 2.0: ("A2", "B2")}),
    "unreplicated": (drawn({"0": COMPLETE["0"]}, "unreplicated"), RATES),
}  # fmt: skip


@pytest.fixture(scope="module", params=CASES)
def case(request, build):
    (plots, design), pairs = CASES[request.param]
    arms = build.arms(["t"], pairs, SHARES)
    return plots, design, pairs, arms, weights_of(build, plots, design, arms)


def test_blocks_cancel_and_treatments_come_through(case):
    plots, design, pairs, _, weights = case
    if design != "CRD":
        assert pd.Series(weights).groupby(plots["block"]).sum().to_list() == pytest.approx(
            [0] * plots["block"].nunique(), abs=1e-8
        )
    total = sum(SHARES.get(rate, 1.0) for rate in pairs)
    wanted = {}
    for rate, (treatment, comparator) in pairs.items():
        share = SHARES.get(rate, 1.0) / total
        wanted |= {treatment: share, comparator: -share}
    by_code = pd.Series(weights).groupby(plots["treatment_code"]).sum()
    assert by_code.to_dict() == pytest.approx({code: wanted.get(code, 0.0) for code in by_code.index}, abs=1e-8)


def test_standard_error_is_that_of_the_weights(build, case):
    plots, design, _, arms, weights = case
    found = site_year(build, plots, design, arms)["own_std_error"]
    if design == "unreplicated":
        assert np.isnan(found)
        return
    assert found == pytest.approx(np.sqrt(variance_of(plots, design, weights)))


def variance_of(plots, design, weights):
    """Variance of a weighted sum of plots: plot error, and in split-plots what main plots share."""
    fertilized = plots[plots["treatment_code"] != "Z"].assign(whole=plots["block"] + plots["treatment_code"].str[0])
    if design != "split-plot":
        blocks = "" if design == "CRD" else " + C(block)"
        return smf.ols(f"value ~ C(treatment_code){blocks}", fertilized).fit().mse_resid * np.sum(weights**2)
    inner = smf.ols("value ~ C(treatment_code) + C(whole)", fertilized).fit()
    outer = smf.ols("value ~ C(treatment_code) + C(block)", fertilized).fit()
    error = inner.ssr / inner.df_resid
    between_df = outer.df_resid - inner.df_resid
    dummies = pd.get_dummies(fertilized["whole"], dtype=float).to_numpy()
    left = dummies - outer.model.exog @ np.linalg.pinv(outer.model.exog) @ dummies
    # E(main-plot SS) = df x error + trace(left' left) x main-plot variance
    whole = ((outer.ssr - inner.ssr) - between_df * error) / np.sum(left**2)
    shared = pd.Series(weights).groupby(fertilized["whole"]).sum()
    return error * np.sum(weights**2) + whole * np.sum(shared**2)
