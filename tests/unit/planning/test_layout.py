import numpy as np
import pandas as pd
import pytest

from pipeline.errors import UserError
from pipeline.planning.layout import PLAN, plan_of_plots

CODES = ["ZERO", "U1-120", "C50-120", "U2-120", "C50-160"]


def treatments(codes=CODES, timing=None):
    frame = pd.DataFrame({"treatment_code": codes})
    return frame if timing is None else frame.assign(timing=timing)


def split_plot(seed=5, n_blocks=4):
    frame = treatments(list("abcdef"), ["early"] * 3 + ["late"] * 3)
    return plan_of_plots(frame, design="split-plot", n_blocks=n_blocks, random_seed=seed, main_plot_column="timing")


def rcbd(seed=5, n_blocks=4, frame=None):
    return plan_of_plots(treatments() if frame is None else frame, design="RCBD", n_blocks=n_blocks, random_seed=seed)


def test_each_block_holds_each_treatment_once():
    plan = rcbd()
    assert list(plan.columns) == list(PLAN) and len(plan) == 20
    assert all(sorted(block["treatment_code"]) == sorted(CODES) for _, block in plan.groupby("block"))
    assert (plan["plot"] == plan["block"] * 100 + plan["position"]).all() and plan["plot"].is_unique
    assert plan["main_plot"].isna().all()


def test_the_seed_makes_the_plan_again_whatever_the_order_of_treatments():
    assert rcbd(7).equals(rcbd(7, frame=treatments(CODES[::-1])))
    assert not rcbd(7).equals(rcbd(8))


def test_every_block_is_randomised_afresh():
    orders = {tuple(block["treatment_code"]) for _, block in rcbd(n_blocks=12).groupby("block")}
    assert len(orders) > 8  # of 120 orders, 12 blocks alike in four or more would be a fault


def test_every_treatment_comes_to_every_position_alike():
    """2,000 blocks over 25 seeds: each of 5 codes at each of 5 positions about 400 times (SD 17.9)."""
    plans = pd.concat([rcbd(seed, n_blocks=80) for seed in range(25)])
    counts = pd.crosstab(plans["treatment_code"], plans["position"]).to_numpy()
    assert np.abs(counts - 400).max() < 4.5 * 17.9


def test_main_plots_stay_together_and_are_randomised():
    plan = split_plot(n_blocks=12)
    early = plan["treatment_code"].isin(list("abc"))
    for _, whole in plan.assign(early=early).groupby(["block", "main_plot"]):
        assert whole["early"].nunique() == 1 and len(whole) == 3
        assert whole["position"].max() - whole["position"].min() == 2
    assert set(plan["main_plot"]) == {"A", "B"}
    first = plan[plan["position"] == 1]["treatment_code"].isin(list("abc"))
    assert 0 < first.sum() < 12
    within = {tuple(whole["treatment_code"]) for _, whole in plan[early].groupby("block")}
    assert len(within) > 2


@pytest.mark.parametrize(
    "frame, changed, words",
    [
        (treatments(), {"design": "RCDB"}, 'did you mean "RCBD"'),
        (treatments(), {"design": "strips"}, "cannot be laid out"),
        (treatments(), {"n_blocks": 1}, "needs 2 to"),
        (treatments(), {"n_blocks": 100}, "needs 2 to"),
        (treatments(), {"random_seed": -1}, "random seed"),
        (treatments(), {"random_seed": None}, "random seed"),
        (treatments(["a", "a"]), {}, "look at a"),
        (treatments(["a", None]), {}, "code of its own"),
        (treatments(["a"]), {}, "a block holds 2"),
        (treatments([str(i) for i in range(100)]), {}, "a block holds 2"),
        (treatments(list("abc"), ["x", "x", "y"]), {"design": "split-plot"}, "unlike numbers"),
        (treatments(list("ab"), ["x", "x"]), {"design": "split-plot"}, "only one"),
        (treatments(list("ab"), ["x", None]), {"design": "split-plot"}, "filled for every treatment"),
        (treatments(), {"design": "split-plot"}, "needs the column"),
    ],
)
def test_what_cannot_be_laid_out(frame, changed, words):
    asked = {"design": "RCBD", "n_blocks": 4, "random_seed": 1, "main_plot_column": "timing"} | changed
    with pytest.raises(UserError, match=words):
        plan_of_plots(frame, **asked)
