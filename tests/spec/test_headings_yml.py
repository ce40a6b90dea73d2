"""What headings.yml says, as drawn sheets: a sender's cells in, rows of our tables out, each traced to its cell."""

from __future__ import annotations

import pytest

from pipeline.errors import UserError
from pipeline.incoming.headings import read_senders_words
from tests.mail import Mail


@pytest.fixture
def mail(tiny):
    return Mail(tiny, "corn-1")


LONG = [["block", "plot", "treatment_code", "yield_bu_ac"], ["1", "101", "ZERO", "90"], ["2", "201", "C-120", "160"]]


def test_what_is_the_same_in_every_row_is_said_once(mail):
    mail.csv(*LONG)
    said = mail.said()
    assert (
        "if it is the same in every row, put into seasons/2091/mail/headings.yml: same_for_all: {plots: {trial_id:"
        " <trial_id>}}" in said
    )
    assert said.endswith("same_for_all:\n      plots: {trial_id: <trial_id>, became: harvested}")
    mail.says("same_for_all: {plots: {trial_id: corn-1, became: harvested}}\n")
    assert mail.plots() == [
        (None, 2, "corn-1", "1", "101", "ZERO", 90.0, "harvested"),
        (None, 3, "corn-1", "2", "201", "C-120", 160.0, "harvested"),
    ]


def test_one_sheet_per_trial(tiny):
    mail = Mail(tiny, "corn-1", "corn-2")
    mail.workbook(corn_1=LONG, corn_2=LONG[:2])
    said = mail.said()
    assert 'sheet "corn 1": "corn_1" is no table of ours' in said and "by its headings it may be plots" in said
    assert said.endswith(
        'plots: {trial_id: "{sheet}", became: harvested}\n    tables: {"corn 1": plots, "corn 2": plots}'
    )
    mail.says(
        "tables: {corn 1: plots, corn 2: plots}\n"
        'same_for_all: {plots: {trial_id: "{sheet}", became: harvested}}\n'
        "words: {plots: {trial_id: {corn 1: corn-1, corn 2: corn-2}}}\n"
    )
    assert [row[:5] for row in mail.plots()] == [
        ("corn 1", 2, "corn-1", "1", "101"),
        ("corn 1", 3, "corn-1", "2", "201"),
        ("corn 2", 2, "corn-2", "1", "101"),
    ]


def test_what_is_the_same_in_a_sheet_goes_before_what_is_the_same_in_a_table(tiny):
    mail = Mail(tiny, "corn-1", "corn-2")
    mail.workbook(Trial_7=LONG, Trial_8=LONG[:2])
    mail.says(
        "tables: {Trial 7: plots, Trial 8: plots}\nsame_for_all: {Trial 7: {trial_id: corn-1}, Trial 8: {trial_id:"
        " corn-2}, plots: {trial_id: none, became: harvested}}\n"
    )
    assert [row[:3] for row in mail.plots()] == [
        ("Trial 7", 2, "corn-1"),
        ("Trial 7", 3, "corn-1"),
        ("Trial 8", 2, "corn-2"),
    ]


@pytest.mark.parametrize(
    ("text", "said"),
    [
        (
            "tables: {Trial 7: plots}\nsame_for_all: {Trial 8: {trial_id: x}}",
            'line 2: "Trial 8" is no table of ours, nor a sheet or file that "tables" names',
        ),
        ("same_for_all: {plots: {becam: harvested}}", '"becam" is no heading of plots: did you mean "became"?'),
        ("same_for_all: {plots: harvested}", 'line 1: "plots" must hold "name: value" entries'),
        ("wide: {plots: {Rep 1: {block: 1}}}", '"holds" is missing in "Rep 1"'),
        ("read_as: {a.csv: [commas]}", "expected one of: semicolons, tabs"),
    ],
)
def test_a_mistake_is_named_with_its_line(tmp_path, text, said):
    (tmp_path / "headings.yml").write_text(text)
    with pytest.raises(UserError) as refused:
        read_senders_words(tmp_path, tmp_path)
    assert said in str(refused.value)


def test_the_trial_is_told_by_a_column(tiny):
    mail = Mail(tiny, "alder-corn", "alder-wheat")
    mail.csv(["Crop", *LONG[0]], ["corn", *LONG[1]], ["wheat", *LONG[1]], ["", *LONG[2]])
    mail.says('same_for_all: {plots: {trial_id: "alder-{Crop}", became: harvested, plot: "row {row}"}}\n')
    assert [row[1:5] for row in mail.plots()] == [
        (2, "alder-corn", "1", "101"),
        (3, "alder-wheat", "1", "101"),
        (4, None, "2", "201"),
    ]


def test_a_name_in_braces_that_no_heading_has(mail):
    mail.csv(*LONG)
    mail.says('same_for_all: {plots: {trial_id: "alder-{Crop}", became: harvested}}\n')
    assert 'same_for_all says trial_id is "alder-{Crop}", and there is no heading "Crop"' in mail.said()


def test_a_column_of_the_sheet_wins(mail):
    mail.csv(["trial_id", *LONG[0]], ["corn-1", *LONG[1]])
    mail.says("same_for_all: {plots: {trial_id: other, became: harvested, block: 9}}\n")
    assert mail.plots() == [(None, 2, "corn-1", "1", "101", "ZERO", 90.0, "harvested")]


BY_BLOCK = [["Trt", "Rep 1", "Rep 2", "Mean"], ["ZERO", 90, 92, 91], ["C-120", 160, None, 160]]
SAME = "same_for_all: {plots: {trial_id: corn-1, became: harvested}}\n"


def test_blocks_as_columns(mail):
    mail.workbook(plots=BY_BLOCK)
    said = mail.said()
    assert 'sheet "plots": holds several plots in a row, blocks side by side (2 columns, 2 plots a row).' in said
    assert "lacks the column block" not in said and "lacks the column plot " not in said
    assert 'plots: {"Rep 1": {block: "1", holds: yield_bu_ac}, "Rep 2": {block: "2", holds: yield_bu_ac}}' in said
    mail.says(SAME + ("headings: {plots: {Trt: treatment_code}}\nwide: {plots: {Rep 1: {block: 1, holds: yield_bu_ac},"
                      " Rep 2: {block: 2, holds: yield_bu_ac}}}\n"))  # fmt: skip
    assert mail.plots() == [
        ("plots, column Rep 1", 3, "corn-1", "1", "Rep 1, row 3", "C-120", 160.0, "harvested"),
        ("plots, column Rep 1", 2, "corn-1", "1", "Rep 1, row 2", "ZERO", 90.0, "harvested"),
        ("plots, column Rep 2", 3, "corn-1", "2", "Rep 2, row 3", "C-120", None, "harvested"),
        ("plots, column Rep 2", 2, "corn-1", "2", "Rep 2, row 2", "ZERO", 92.0, "harvested"),
    ]
    findings = mail.tiny.checked()["reports.findings"].query("file.str.contains('/mail/')", engine="python")
    assert len(findings.query("check_name == 'unknown column'")) == 1  # the means
    (empty,) = findings.query("check_name == 'harvested plot without yield'").itertuples()
    assert (empty.sheet, empty.row_number) == ("plots, column Rep 2", 3)


def test_treatments_as_columns(mail):
    mail.csv(["Rep", "ZERO", "C-120"], ["1", "90", "160"], ["2", "92", "158"])
    said = mail.said()
    assert "headings: {plots: {Rep: block}}" in said
    mail.says("headings: {plots: {Rep: block}}\n")
    said = mail.said()
    assert "treatments side by side (2 columns, 2 plots a row)" in said
    assert ('plots: {ZERO: {treatment_code: ZERO, holds: yield_bu_ac}, C-120: {treatment_code: C-120, holds:'
            ' yield_bu_ac}}') in said  # fmt: skip
    assert "or another heading of ours, if the cells are not bushels per acre" in said
    mail.says(SAME + ("headings: {plots: {Rep: block}}\nwide: {plots: {ZERO: {treatment_code: ZERO, holds:"
                      " yield_bu_ac}, C-120: {treatment_code: C-120, holds: yield_bu_ac}}}\n"))  # fmt: skip
    assert [(row[0], row[1], row[3], row[5], row[6]) for row in mail.plots()] == [
        ("column C-120", 2, "1", "C-120", 160.0), ("column ZERO", 2, "1", "ZERO", 90.0),
        ("column C-120", 3, "2", "C-120", 158.0), ("column ZERO", 3, "2", "ZERO", 92.0),
    ]  # fmt: skip


def test_blocks_and_treatments_as_columns_of_one_row_with_two_measures(mail):
    mail.csv(["C-120 R1", "C-120 R2", "R1 moisture", "R2 moisture"], ["160", "158", "18", "19"])
    said = mail.said()
    assert "blocks and treatments side by side" in said
    assert 'C-120 R1": {treatment_code: C-120, block: "1", holds: yield_bu_ac}' in said
    wide = (
        "{C-120 R1: {block: 1, treatment_code: C-120, holds: yield_bu_ac}, R1 moisture: {block: 1, treatment_code:"
        " C-120, holds: moisture_pct}}"
    )
    mail.says(SAME + f"wide: {{plots: {wide}}}\n")
    assert [(row[0], row[3], row[4], row[6]) for row in mail.plots()] == [
        ("columns C-120 R1 and R1 moisture", "1", "C-120 R1 and R1 moisture, row 2", 160.0)
    ]


def test_a_sheet_that_holds_no_table_is_passed_over(mail):
    mail.workbook(
        plots=[["trial_id", *LONG[0], "became"], ["corn-1", *LONG[1], "harvested"]], Means=[["a", "a"], [1, 2]]
    )
    mail.says("tables: {Means: none}\n")
    assert len(mail.plots()) == 1
    notes = mail.tiny.checked()["reports.findings"].query("found == 'Means'")["mend"].tolist()
    assert notes == ["The sheet 'Means' was passed over: headings.yml says that it holds no table."]
