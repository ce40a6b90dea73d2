"""F tests of several contrasts: against car, pbkrtest and aov called directly, and against rotated contrasts.

Source and standing of each number: pipeline/contract/published_checks.yml.
"""

import numpy as np
import pytest
from scipy import linalg

from pipeline.estimates.engines import joint_tests, mixed

CASES = [f"balanced{number}" for number in range(1, 13)] + ["unbalanced1", "unbalanced2"]


@pytest.fixture(scope="module")
def drawn(answers):
    return answers("joint_tests"), answers("joint_tests_answers").set_index("case")


def joint_test(rows, contrasts):
    return mixed.fit("y ~ 0 + level + (1 | block)", rows, contrasts=contrasts).joint_test


@pytest.mark.parametrize("case", CASES)
def test_f_is_that_of_car_balanced_or_not(drawn, case):
    """Orthonormal contrasts in balanced blocks: L V L' is c times the identity but for rounding."""
    frame, expected = drawn
    f_stat, df1, _ = joint_test(frame.query("case == @case"), linalg.helmert(4))
    assert (f_stat, df1) == (pytest.approx(expected.loc[case, "f_stat"], rel=1e-5), 3)


def test_in_balanced_blocks_f_and_df_are_those_of_the_two_way_table(drawn):
    frame, expected = drawn
    known = expected.dropna()
    assert len(known) >= 8
    for case in known.index:
        rows = frame[frame["case"] == case]
        found = joint_test(rows, linalg.helmert(4))
        assert found == (pytest.approx(known.loc[case, "f_aov"], rel=1e-5), 3, pytest.approx(15, rel=1e-3))
        assert found[0] == pytest.approx(known.loc[case, "f_kenward_roger"], rel=1e-5)


@pytest.mark.parametrize("case", ["balanced1", "unbalanced1"])
def test_contrasts_that_say_the_same_give_the_same_test(drawn, case):
    frame, _ = drawn
    rows = frame[frame["case"] == case]
    first = joint_test(rows, linalg.helmert(4))
    turned = linalg.qr(np.random.default_rng(1).normal(size=(3, 3)))[0] @ linalg.helmert(4)
    assert joint_test(rows, turned) == pytest.approx(first, rel=1e-6)
    doubled = np.vstack([linalg.helmert(4), linalg.helmert(4).sum(axis=0)])  # a fourth contrast that adds nothing
    assert joint_test(rows, doubled)[0] == pytest.approx(first[0], rel=1e-6)


def test_df_as_lmertest_defines_them():
    """2 E / (E - q) with E the sum of nu / (nu - 2): by hand 2 x (2 + 4 / 3) / (2 + 4 / 3 - 2); 2 where a nu is no more
    than 2.
    """
    assert joint_tests.denominator_df(np.array([4.0, 8.0])) == pytest.approx(5)
    assert joint_tests.denominator_df(np.array([7.0, 7.0, 7.0])) == pytest.approx(7)
    assert joint_tests.denominator_df(np.array([1.5, 30.0])) == 2
    assert joint_tests.denominator_df(np.array([3.3])) == 3.3
