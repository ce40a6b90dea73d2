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


def with_zero(codes, timing, own="none"):
    """Fertilized treatments and one zero-N whose timing is `own`."""
    fertilized = treatments(codes, timing).assign(is_zero_n="no")
    zero = pd.DataFrame({"treatment_code": ["ZERO"], "timing": [own], "is_zero_n": ["yes"]})
    return pd.concat([zero, fertilized], ignore_index=True)


def rcbd(seed=5, n_blocks=4, frame=None):
    return plan_of_plots(treatments() if frame is None else frame, design="RCBD", n_blocks=n_blocks, random_seed=seed)


def test_each_block_holds_each_treatment_once():
    plan = rcbd()
    assert list(plan.columns) == list(PLAN) and len(plan) == 20
    assert all(sorted(block["treatment_code"]) == sorted(CODES) for _, block in plan.groupby("block"))
    assert (plan["plot"] == plan["block"] * 100 + plan["position"]).all() and plan["plot"].is_unique
    assert plan["main_plot"].isna().all()
    assert [rcbd(n_blocks=n)["block"].max() for n in (2, 99)] == [2, 99], "from the fewest to the most"


def test_the_seed_makes_the_plan_again_whatever_the_order_of_treatments():
    assert rcbd(7).equals(rcbd(7, frame=treatments(CODES[::-1])))
    assert not rcbd(7).equals(rcbd(8))


def test_every_block_is_randomized_afresh():
    orders = {tuple(block["treatment_code"]) for _, block in rcbd(n_blocks=12).groupby("block")}
    assert len(orders) > 8  # of 120 orders, 12 blocks alike in four or more would be a fault


def test_every_treatment_comes_to_every_position_alike():
    """2,000 blocks over 25 seeds: each of 5 codes at each of 5 positions about 400 times (SD 17.9)."""
    plans = pd.concat([rcbd(seed, n_blocks=80) for seed in range(25)])
    counts = pd.crosstab(plans["treatment_code"], plans["position"]).to_numpy()
    assert np.abs(counts - 400).max() < 4.5 * 17.9


def test_main_plots_stay_together_and_are_randomized():
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


def of_main_plots(frame):
    """The plan's codes by block and main plot."""
    plan = plan_of_plots(frame, design="split-plot", n_blocks=6, random_seed=3, main_plot_column="timing")
    assert plan["plot"].is_unique and (plan.groupby("block").size() == len(plan) / 6).all()
    return [sorted(whole["treatment_code"]) for _, whole in plan.groupby(["block", "main_plot"])]


def test_zero_n_stands_once_in_every_main_plot():
    found = of_main_plots(with_zero(list("abcd"), ["early", "early", "late", "late"]))
    assert len(found) == 12 and all(whole in (["ZERO", "a", "b"], ["ZERO", "c", "d"]) for whole in found)
    missing = of_main_plots(with_zero(list("abcd"), ["early", "early", "late", "late"], own=None))
    assert missing == found, "a zero-N that names no level is the same"


def test_a_zero_n_of_its_own_level_stays_there():
    """One zero-N for each cultivar on main plots is not the zero-N of the other."""
    found = of_main_plots(with_zero(list("ab"), ["K1", "K2"], own="K1"))
    assert sorted(map(tuple, found)) == [("ZERO", "a")] * 6 + [("b",)] * 6


def test_a_block_holds_99_plots_at_most_with_zero_n_in_each_main_plot():
    assert len(of_main_plots(with_zero([str(i) for i in range(97)], ["x", "y"] * 48 + ["x"]))) == 2 * 6


def test_main_plots_may_hold_unlike_numbers():
    found = of_main_plots(with_zero(list("abc"), ["early", "early", "late"]))
    assert sorted(map(len, found)) == [2] * 6 + [3] * 6


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
        (treatments(["a", None, None]), {}, r"look at \(empty\)"),
        (treatments(["a"]), {}, "1 treatment; a block holds 2 .* name a trial"),
        (treatments([f"t{i}" for i in range(100)]), {}, "100 treatments; a block holds 2 to 99"),
        (treatments(list("ab"), ["x", "y"]), {"design": "split-plot"}, "one treatment each"),
        (treatments(list("ab"), ["x", "x"]), {"design": "split-plot"}, r"gives 1 main plots \(x: 2\)"),
        (
            treatments([str(i) for i in range(27)], [str(i) for i in range(27)]),
            {"design": "split-plot"},
            "gives 27 main plots",
        ),
        (treatments(list("ab"), ["x", None]), {"design": "split-plot"}, "filled for every fertilized treatment"),
        (
            with_zero([str(i) for i in range(98)], ["x", "y"] * 49),
            {"design": "split-plot"},
            "100 plots to a block, zero-N in every",
        ),
        (treatments(), {"design": "split-plot"}, "needs the column"),
    ],
)
def test_what_cannot_be_laid_out(frame, changed, words):
    asked = {"design": "RCBD", "n_blocks": 4, "random_seed": 1, "main_plot_column": "timing"} | changed
    with pytest.raises(UserError, match=words):
        plan_of_plots(frame, **asked)
