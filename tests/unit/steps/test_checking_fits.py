"""Both fits of a program's models held against each other."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pandas as pd
import pytest

from pipeline.estimates.engines import mixed, own_fits
from pipeline.settings.program import read_program
from pipeline.simulation.demo import write_demo
from pipeline.steps import checking_fits
from pipeline.verbs.run import build_warehouse
from pipeline.warehouse import open_warehouse
from tests.fits_alike import apart, fits_apart

FRAME = pd.DataFrame({"gain": [1.0, 2, 2, 4, 3, 5], "site": list("aabbcc")})
FORMULA = "gain ~ 1 + (1 | site)"


def test_differences_are_told_in_the_units_they_are_named_for():
    one = own_fits.fit(FORMULA, FRAME)
    first = one.coefficients
    other = replace(
        one,
        coefficients=first.assign(
            estimate=first["estimate"] + 0.5 * first["std_error"],
            std_error=1.1 * first["std_error"],
            df=0.8 * first["df"],
        ),
        residual_variance=one.residual_variance + 0.25 * (one.residual_variance + one.variance("site")),
        reml=one.reml + 2,
        is_singular=not one.is_singular,
    )
    found = checking_fits.differences(one, other)
    assert {
        name: found[name] for name in ("estimate", "std_error", "df", "variance", "criterion", "boundary")
    } == pytest.approx(
        {"estimate": 0.5, "std_error": 0.1, "df": 0.2, "variance": 0.25, "criterion": 2.0, "boundary": True}
    )
    assert len(apart(found)) == 6


@pytest.mark.parametrize(("residual_variance", "n_faults"), [(1e-3, 1), (1e-5, 0)])
def test_two_fits_of_a_criterion_that_falls_without_end_are_not_held_against_each_other(residual_variance, n_faults):
    """As of the gains at several N rates of plots without error, all of whose scatter lies between trials."""
    one = own_fits.fit(FORMULA, FRAME)
    other = replace(one, reml=one.reml - 8, residual_variance=residual_variance)
    assert len(fits_apart([mixed.Call(FORMULA, FRAME, None, None, other)])) == n_faults


def test_a_model_that_one_alone_fits_is_no_difference_but_is_counted():
    one = own_fits.fit(FORMULA, FRAME)
    assert checking_fits.differences_of(mixed.Call(FORMULA, FRAME, None, None, None)) is None
    assert checking_fits.differences_of(mixed.Call(FORMULA, FRAME.iloc[:2], None, None, one)) is None
    assert checking_fits.differences_of(mixed.Call(FORMULA, FRAME.iloc[:2], None, None, None)) == {}


def test_printed_digits_are_compared_as_pages_round_them():
    row = dict.fromkeys(checking_fits.KEY, "c") | dict.fromkeys(checking_fits.PRINTED, np.nan)
    units = pd.DataFrame({"comparison_id": ["c"], "digits": [1], "kg_ha_per_unit": [62.8]})
    one, near, other = (
        checking_fits.as_printed(pd.DataFrame([row | {"estimate": value, "conf_low": 62.8}]), units)
        for value in (100.0, 100.1, 104.0)
    )
    assert one.tolist() == ["1.6", "1.0"]
    assert checking_fits.compared(one, near) == (2, 0) and checking_fits.compared(one, other) == (2, 1)
    assert checking_fits.compared(one, other.iloc[1:]) == (2, 1)


@pytest.mark.slow
def test_every_model_of_the_demo_is_fitted_alike(tmp_path):
    write_demo(tmp_path)
    build_warehouse(tmp_path, "report", lambda text: None)
    program = read_program(tmp_path)
    with open_warehouse(program.warehouse_file, read_only=True) as warehouse:
        found = checking_fits.check(warehouse, program, lambda text: None)
    assert len(found.differences) > 100 and found.n_refused == 0
    assert [apart(row) for row in found.differences.to_dict("records") if apart(row)] == []
    assert found.n_printed > 1000 and found.n_other == 0
