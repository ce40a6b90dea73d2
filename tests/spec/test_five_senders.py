"""A winter's mail of five senders with their own habits is sorted in one pass: one run names every misfit, the next
loads all.
"""

from __future__ import annotations

import re
import textwrap

import pytest

from pipeline.errors import UserError
from tests.five_senders import CODES, TRIALS, _yield, paste, write_five
from tests.tiny_program import TinyProgram

N_PLOTS = 9 * sum(map(len, TRIALS.values()))


@pytest.fixture
def five(tmp_path):
    write_five(tmp_path / "five")
    return TinyProgram(tmp_path / "five")


def test_one_refusal_names_every_file_with_the_lines_to_paste(five):
    """No sender's plots can be read yet, so that nothing is loaded."""
    with pytest.raises(UserError) as refused:
        five.checked()
    said = str(refused.value)
    for file in (
        "alder/Alder harvest 2095.xlsx",
        "birch/Ernte 2095.csv",
        "cedar/cedar.ods",
        "dogwood/harvest.txt",
        "dogwood/spread.txt",
        "elder/Elder.xlsx",
    ):
        assert said.count(f"seasons/2095/{file}: ") == 1
    assert said.endswith(
        "seasons/2095: no plots table was delivered (a file plots.csv, or a sheet named plots)\nNothing was loaded. Fix"
        " the problems above and run this again."
    )


def test_the_lines_are_pasted_as_printed_and_one_sender_is_left_to_ask(five):
    """Cedar's trials are told by a column, so that their name is filled in; its treatments are words, each with the
    nearest code.
    """
    with pytest.raises(UserError) as refused:
        five.checked()
    block = r"put into (seasons/2095/(\w+)/headings.yml), after a look at each line:\n((?:    .*\n)+)"
    for file, _, lines in re.findall(block, str(refused.value)):
        (five.folder / file).write_text(textwrap.dedent(lines).replace("<trial>-{Crop}", "Cedar {Crop}"))
    tables = five.checked()
    status = tables["reports.trials"].set_index("trial_id")["status"]
    assert sorted(status[status == "held"].index) == [name for name, _ in TRIALS["cedar"]]
    holding = tables["reports.findings"].query("severity == 'holds the trial'")
    assert set(holding["check_name"]) == {"plot with unknown treatment"} and len(holding) == 2 * len(CODES)
    assert "Urea 120 at planting (3 plots)" in set(holding["found"])
    asked = tables["reports.findings"].query("check_name == 'file read otherwise'")["mend"]
    assert len(asked) == 3 and asked.str.contains("'94,5' is read as 94.5", regex=False).sum() == 1


def test_senders_that_fit_are_used_while_the_others_are_held(five):
    paste(five.folder, "alder", "birch")
    tables = five.checked()
    status = tables["reports.trials"].set_index("trial_id")["status"]
    for sender, trials in TRIALS.items():
        expected = "accepted" if sender in ("alder", "birch") else "held"
        assert {status[name] for name, _ in trials} == {expected}, sender
    held = tables["reports.findings"].query("check_name == 'file not read'")["file"]
    assert len(held) == 4 and set(held.str.split("/").str[2]) == {"cedar", "dogwood", "elder"}


def test_the_second_run_loads_everything_and_every_yield_is_that_of_its_cell(five):
    paste(five.folder)
    tables = five.load()
    assert set(tables["reports.trials"]["status"]) == {"accepted"}
    plots = tables["reports.plots"]
    assert len(plots) == N_PLOTS and set(plots["fate"]) == {"used"}
    for sender, trials in TRIALS.items():
        for name, crop in trials:
            for row in plots[plots["trial_id"] == name].itertuples():
                stated = _yield(name, int(row.block), CODES.index(row.treatment_code))
                standard = 15.5 if crop == "corn" else 13.5
                expected = stated * (100 - 13) / (100 - standard) if sender == "elder" else stated
                assert row[plots.columns.get_loc("yield") + 1] == pytest.approx(
                    expected, rel=2e-3 if sender == "dogwood" else 1e-9
                ), (name, row.block, row.treatment_code)
    counts = tables["reports.row_counts"]
    (plots,) = counts.query("table_name == 'plots'").itertuples()
    assert (
        plots.used == N_PLOTS and plots.delivered == N_PLOTS + plots.title_rows and plots.set_aside == plots.title_rows
    )
    rain = tables["reports.site_years"]
    assert len(rain) and "holds the trial" not in set(tables["reports.findings"]["severity"])
