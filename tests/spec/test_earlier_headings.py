"""A column that has another heading now is still read under its earlier one, wherever somebody may have written it."""

from __future__ import annotations

import pandas as pd
import pytest

from pipeline.contract.tables import declared_tables
from tests.earlier_headings import with_earlier_headings
from tests.mail import Mail
from tests.tiny_program import TinyProgram


def test_no_earlier_heading_is_one_of_today():
    for table in declared_tables().values():
        earlier = [column.formerly for column in table.plain_columns if column.formerly]
        assert not set(earlier) & set(table.known_headings) and len(set(earlier)) == len(earlier)


def test_files_under_earlier_headings_are_the_same_trials(tiny: TinyProgram):
    names = ("plots", "trials", "findings", "row_counts")
    now = {name: tiny.checked()[f"reports.{name}"] for name in names}
    with_earlier_headings(tiny)
    assert "became" in tiny.rows("plots")[0]
    earlier = tiny.checked()
    for name in names:
        pd.testing.assert_frame_equal(earlier[f"reports.{name}"], now[name], obj=name)


CORRECTION = """\
- table: plots
  where: {{trial_id: 2091-A-corn, plot: 102, {name}: harvested}}
  change: {{{name}: {{old: harvested, new: lost}}, cause: {{old: "", new: deer}}}}
  cause: forgotten on the sheet
  who: analyst 2
  date: 2091-12-01
  treatment_known: no
"""


@pytest.mark.parametrize("in_file", ["outcome", "became"])
@pytest.mark.parametrize("in_correction", ["outcome", "became"])
def test_a_correction_may_say_either(tiny: TinyProgram, in_file, in_correction):
    tiny.rename("plots", "outcome", in_file)
    path = tiny.folder / "seasons/2091/corrections.yml"
    path.write_text(CORRECTION.format(name=in_correction))
    plots = tiny.checked()["reports.plots"]
    assert plots.loc[plots["reason"].eq("lost: deer"), "plot"].tolist() == ["102"]


SAID = {
    "headings": "headings: {plots: {How it ended: became}}\n",
    "same_for_all": "same_for_all: {plots: {became: harvested}}\n",
    "words": "headings: {plots: {How it ended: outcome}}\nwords: {plots: {became: {fine: harvested}}}\n",
}


@pytest.mark.parametrize("said", SAID)
def test_headings_yml_may_say_the_earlier_one(tiny: TinyProgram, said):
    mail = Mail(tiny, "corn-1")
    heads, *rows = tiny.rows("plots")
    at, first = heads.index("outcome"), heads.index("trial_id")
    mine = [["corn-1" if i == first else cell for i, cell in enumerate(row)] for row in rows if "corn" in row[first]]
    heads[at] = "How it ended" if said != "same_for_all" else "notes"
    mail.csv(heads, *([*row[:at], "fine" if said == "words" else row[at], *row[at + 1 :]] for row in mine))
    mail.says(SAID[said])
    assert {plot[-1] for plot in mail.plots()} == {"harvested"} and len(mail.plots()) == len(mine)


def test_a_sheet_with_both_is_held(tiny: TinyProgram):
    tiny.fill("plots", "became", "lost")
    (said,) = tiny.held().values()
    assert "outcome" in said and "became" in said
