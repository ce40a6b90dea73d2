"""The verb check-fits: what it says with R and without it."""

from __future__ import annotations

import pandas as pd
import pytest

from pipeline.__main__ import main
from pipeline.errors import UserError
from pipeline.estimates.engines import lme4_fits, mixed
from pipeline.verbs.checking_fits import NOTHING_TO_COMPARE, lines

ROW = {
    "estimate": 2e-6,
    "std_error": 3e-7,
    "df": 1e-5,
    "variance": 1e-6,
    "criterion": -2e-10,
    "joint_f": float("nan"),
    "joint_df": float("nan"),
    "boundary": False,
}


def test_without_a_report_there_is_nothing_to_fit(tiny, capsys):
    assert main(["check-fits", "--program", str(tiny.folder)]) == 1
    assert "Run make report first" in capsys.readouterr().err


def test_a_program_without_models_says_so(estimated_program, capsys):
    """Two site-years of corn: no model is asked for."""
    assert main(["check-fits", "--program", str(estimated_program)]) == 0
    assert "asks for no mixed model" in capsys.readouterr().out


def test_without_r_one_sentence_says_so(estimated_program, capsys, monkeypatch):
    def lost():
        raise UserError("no R")

    mixed._engine.cache_clear()
    monkeypatch.setattr(lme4_fits, "start_r", lost)
    try:
        assert main(["check-fits", "--program", str(estimated_program)]) == 0
    finally:
        mixed._engine.cache_clear()
    assert capsys.readouterr().out.split("\n")[0] == NOTHING_TO_COMPARE


def test_the_largest_difference_of_each_figure_is_told():
    said = lines(pd.DataFrame([ROW, ROW | {"estimate": 1e-6, "df": 2e-5}]), 0, 1488, 0)
    assert said[0].startswith("2 mixed models fitted by lme4 and by this program's own code")
    assert [line.split() for line in said[1:4]] == [
        ["estimates", "2e-06", "standard", "errors"],
        ["standard", "errors", "3e-05%", "of", "them"],
        ["degrees", "of", "freedom", "0.002%", "of", "them"],
    ]
    assert (
        not any("joint" in line for line in said)
        and said[-1] == "No printed digit differs: 1,488 averages and limits compared."
    )


@pytest.mark.parametrize(
    ("refused", "boundary", "n_other", "says"),
    [
        (1, False, 0, "1 more model could be fitted by one of them only."),
        (0, True, 0, "1 model with a variance of zero by one of them only."),
        (0, False, 3, "3 of 10 printed averages and limits differ in a printed digit."),
    ],
)
def test_what_differs_is_said(refused, boundary, n_other, says):
    assert says in lines(pd.DataFrame([ROW | {"boundary": boundary}]), refused, 10, n_other)


def test_models_that_only_one_of_them_fits_are_not_told_as_none():
    assert lines(pd.DataFrame([ROW]).iloc[:0], 2, 10, 0) == [
        "0 mixed models fitted by lme4 and by this program's own code.",
        "2 more models could be fitted by one of them only.",
        "No printed digit differs: 10 averages and limits compared.",
    ]
    assert lines(pd.DataFrame([ROW]).iloc[:0], 0, 10, 0)[0].startswith("The program asks for no mixed model")
