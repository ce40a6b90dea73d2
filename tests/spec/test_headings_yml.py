"""What headings.yml says, as drawn sheets: a sender's cells in, rows of our tables out, each traced to its cell.

A test reads its own mail as far as the cast cells; what the checks say is read of all these mails in one program.
"""

from __future__ import annotations

import pytest

from pipeline.errors import UserError
from pipeline.incoming.headings import read_senders_words
from tests.mail import Mail
from tests.tiny_program import write_tiny_program


@pytest.fixture
def mail(tiny):
    return Mail(tiny, "corn-1")


SAME = "same_for_all: {plots: {trial_id: corn-1, outcome: harvested}}\n"
LONG = [["block", "plot", "treatment_code", "yield_bu_ac"], ["1", "101", "ZERO", "90"], ["2", "201", "C-120", "160"]]


def test_what_is_the_same_in_every_row_is_said_once(mail):
    mail.csv(*LONG)
    said = mail.said()
    assert (
        "if it is the same in every row, put into seasons/2091/mail/headings.yml: same_for_all: {plots: {trial_id:"
        " <trial_id>}}" in said
    )
    assert said.endswith("same_for_all:\n      plots: {trial_id: <trial_id>, outcome: harvested}")
    mail.says(SAME)
    assert mail.plots() == [
        (None, 2, "corn-1", "1", "101", "ZERO", 90.0, "harvested"),
        (None, 3, "corn-1", "2", "201", "C-120", 160.0, "harvested"),
    ]


BY_SHEET = """\
tables: {corn 1: plots, corn 2: plots}
same_for_all: {plots: {trial_id: "{sheet}", outcome: harvested}}
words: {plots: {trial_id: {corn 1: corn-1, corn 2: corn-2}}}
"""


def test_one_sheet_per_trial(tiny):
    mail = Mail(tiny, "corn-1", "corn-2")
    mail.workbook(corn_1=LONG, corn_2=LONG[:2])
    said = mail.said()
    assert 'sheet "corn 1": "corn_1" is no table of ours' in said and "by its headings it may be plots" in said
    assert said.endswith(
        'plots: {trial_id: "{sheet}", outcome: harvested}\n    tables: {"corn 1": plots, "corn 2": plots}'
    )
    mail.says(BY_SHEET)
    assert [row[:5] for row in mail.plots()] == [
        ("corn 1", 2, "corn-1", "1", "101"),
        ("corn 1", 3, "corn-1", "2", "201"),
        ("corn 2", 2, "corn-2", "1", "101"),
    ]


OF_EACH_SHEET = """\
tables: {Trial 7: plots, Trial 8: plots}
same_for_all:
  {Trial 7: {trial_id: corn-1}, Trial 8: {trial_id: corn-2}, plots: {trial_id: none, outcome: harvested}}
"""


def test_what_is_the_same_in_a_sheet_goes_before_what_is_the_same_in_a_table(tiny):
    mail = Mail(tiny, "corn-1", "corn-2")
    mail.workbook(Trial_7=LONG, Trial_8=LONG[:2])
    mail.says(OF_EACH_SHEET)
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
        ("same_for_all: {plots: {outcom: harvested}}", '"outcom" is no heading of plots: did you mean "outcome"?'),
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


WITH_CROP = [["Crop", *LONG[0]], ["corn", *LONG[1]], ["wheat", *LONG[1]], ["", *LONG[2]]]
ALDER = ("alder-corn", "alder-wheat")
BY_CROP = 'same_for_all: {plots: {trial_id: "alder-{Crop}", outcome: harvested, plot: "row {row}"}}\n'


def test_the_trial_is_told_by_a_column(tiny):
    mail = Mail(tiny, *ALDER)
    mail.csv(*WITH_CROP)
    mail.says(BY_CROP)
    assert [row[1:5] for row in mail.plots()] == [
        (2, "alder-corn", "1", "101"),
        (3, "alder-wheat", "1", "101"),
        (4, None, "2", "201"),
    ]


def test_a_name_in_braces_that_no_heading_has(mail):
    mail.csv(*LONG)
    mail.says('same_for_all: {plots: {trial_id: "alder-{Crop}", outcome: harvested}}\n')
    assert 'same_for_all says trial_id is "alder-{Crop}", and there is no heading "Crop"' in mail.said()


WITH_TRIAL = [["trial_id", *LONG[0]], ["corn-1", *LONG[1]]]
OTHERWISE = "same_for_all: {plots: {trial_id: other, outcome: harvested, block: 9}}\n"


def test_a_column_of_the_sheet_wins(mail):
    mail.csv(*WITH_TRIAL)
    mail.says(OTHERWISE)
    assert mail.plots() == [(None, 2, "corn-1", "1", "101", "ZERO", 90.0, "harvested")]


BY_BLOCK = [["Trt", "Rep 1", "Rep 2", "Mean"], ["ZERO", 90, 92, 91], ["C-120", 160, None, 160]]
BLOCKS = (
    SAME
    + """\
headings: {plots: {Trt: treatment_code}}
wide: {plots: {Rep 1: {block: 1, holds: yield_bu_ac}, Rep 2: {block: 2, holds: yield_bu_ac}}}
"""
)


def test_blocks_as_columns(mail):
    mail.workbook(plots=BY_BLOCK)
    said = mail.said()
    assert 'sheet "plots": holds several plots in a row, blocks side by side (2 columns, 2 plots a row).' in said
    assert "lacks the column block" not in said and "lacks the column plot " not in said
    assert 'plots: {"Rep 1": {block: "1", holds: yield_bu_ac}, "Rep 2": {block: "2", holds: yield_bu_ac}}' in said
    mail.says(BLOCKS)
    assert mail.plots() == [
        ("plots, column Rep 1", 3, "corn-1", "1", "Rep 1, row 3", "C-120", 160.0, "harvested"),
        ("plots, column Rep 1", 2, "corn-1", "1", "Rep 1, row 2", "ZERO", 90.0, "harvested"),
        ("plots, column Rep 2", 3, "corn-1", "2", "Rep 2, row 3", "C-120", None, "harvested"),
        ("plots, column Rep 2", 2, "corn-1", "2", "Rep 2, row 2", "ZERO", 92.0, "harvested"),
    ]


BY_TREATMENT = [["Rep", "ZERO", "C-120"], ["1", "90", "160"], ["2", "92", "158"]]
TREATMENTS = (
    SAME
    + """\
headings: {plots: {Rep: block}}
wide:
  plots: {ZERO: {treatment_code: ZERO, holds: yield_bu_ac}, C-120: {treatment_code: C-120, holds: yield_bu_ac}}
"""
)


def test_treatments_as_columns(mail):
    mail.csv(*BY_TREATMENT)
    said = mail.said()
    assert "headings: {plots: {Rep: block}}" in said
    mail.says("headings: {plots: {Rep: block}}\n")
    said = mail.said()
    assert "treatments side by side (2 columns, 2 plots a row)" in said
    assert ('plots: {ZERO: {treatment_code: ZERO, holds: yield_bu_ac}, C-120: {treatment_code: C-120, holds:'
            ' yield_bu_ac}}') in said  # fmt: skip
    assert "or another heading of ours, if the cells are not bushels per acre" in said
    mail.says(TREATMENTS)
    assert [(row[0], row[1], row[3], row[5], row[6]) for row in mail.plots()] == [
        ("column C-120", 2, "1", "C-120", 160.0), ("column ZERO", 2, "1", "ZERO", 90.0),
        ("column C-120", 3, "2", "C-120", 158.0), ("column ZERO", 3, "2", "ZERO", 92.0),
    ]  # fmt: skip


BY_BOTH = [["C-120 R1", "C-120 R2", "R1 moisture", "R2 moisture"], ["160", "158", "18", "19"]]
BOTH = (
    SAME
    + """\
wide:
  plots:
    C-120 R1: {block: 1, treatment_code: C-120, holds: yield_bu_ac}
    R1 moisture: {block: 1, treatment_code: C-120, holds: moisture_pct}
"""
)


def test_blocks_and_treatments_as_columns_of_one_row_with_two_measures(mail):
    mail.csv(*BY_BOTH)
    said = mail.said()
    assert "blocks and treatments side by side" in said
    assert 'C-120 R1": {treatment_code: C-120, block: "1", holds: yield_bu_ac}' in said
    mail.says(BOTH)
    assert [(row[0], row[3], row[4], row[6]) for row in mail.plots()] == [
        ("columns C-120 R1 and R1 moisture", "1", "C-120 R1 and R1 moisture, row 2", 160.0)
    ]


WITH_MEANS = {"plots": [["trial_id", *LONG[0], "outcome"], ["corn-1", *LONG[1], "harvested"]],
              "Means": [["a", "a"], [1, 2]]}  # fmt: skip
NO_MEANS = "tables: {Means: none}\n"


def test_a_sheet_that_holds_no_table_is_passed_over(mail):
    mail.workbook(**WITH_MEANS)
    mail.says(NO_MEANS)
    assert len(mail.plots()) == 1


# folder: its sheets, or the rows of its plots.csv; what its headings.yml says; rows of plots that it delivers
MAILS = {
    "the same in every row": (LONG, SAME, 2),
    "a sheet per trial": ({"corn_1": LONG, "corn_2": LONG[:2]}, BY_SHEET, 3),
    "said of each sheet": ({"Trial_7": LONG, "Trial_8": LONG[:2]}, OF_EACH_SHEET, 3),
    "trial told by a column": (WITH_CROP, BY_CROP, 3),
    "a column wins": (WITH_TRIAL, OTHERWISE, 1),
    "blocks as columns": ({"plots": BY_BLOCK}, BLOCKS, 4),
    "treatments as columns": (BY_TREATMENT, TREATMENTS, 4),
    "both as columns": (BY_BOTH, BOTH, 1),
    "a sheet passed over": (WITH_MEANS, NO_MEANS, 1),
}


@pytest.fixture(scope="module")
def together(tmp_path_factory):
    """What the checks say of all these mails, each in a folder of its own and of trials of its own."""
    tiny = write_tiny_program(tmp_path_factory.mktemp("mails") / "program")
    for folder, (sheets, says, _) in MAILS.items():
        own = {name: f"{name} of {folder}" for name in ("corn-1", "corn-2")}
        mail = Mail(tiny, *(own.values() if "corn-" in f"{sheets} {says}" else ALDER), folder=folder)
        if isinstance(sheets, dict):
            mail.workbook(**{title: renamed(rows, own) for title, rows in sheets.items()})
        else:
            mail.csv(*renamed(sheets, own))
        mail.says(says.replace("corn-1", own["corn-1"]).replace("corn-2", own["corn-2"]))
    return tiny.checked()


def renamed(rows: list[list], names: dict[str, str]) -> list[list]:
    return [[names.get(cell, cell) for cell in row] for row in rows]


def of_mail(tables, folder: str):
    findings = tables["reports.findings"]
    return findings[findings["file"].str.startswith(f"seasons/2091/{folder}/")]


def test_no_row_is_lost(together):
    counts = together["reports.row_counts"]
    assert (counts[["used", "set_aside", "held", "superseded"]].sum(axis=1) == counts["delivered"]).all()
    mailed = counts.query("season == 2091 and table_name == 'plots'")["delivered"].sum() - 12
    assert mailed == sum(n_rows for *_, n_rows in MAILS.values())


def test_a_column_that_nothing_is_said_of_and_an_empty_cell_of_a_block_are_found(together):
    findings = of_mail(together, "blocks as columns")
    assert len(findings.query("check_name == 'unknown column'")) == 1  # the means
    (empty,) = findings.query("check_name == 'harvested plot without yield'").itertuples()
    assert (empty.sheet, empty.row_number) == ("plots, column Rep 2", 3)


def test_a_sheet_that_was_passed_over_is_noted(together):
    notes = of_mail(together, "a sheet passed over").query("found == 'Means'")["mend"].tolist()
    assert notes == ["The sheet 'Means' was passed over: headings.yml says that it holds no table."]


def test_one_line_confirms_how_all_files_of_a_folder_are_read(tiny):
    """headings.yml has one read_as: a line for each file could not all be put into it."""
    for name in ("plots", "treatments"):
        rows = tiny.rows(name)
        tiny.path(name).write_text("\n".join(";".join(row) for row in rows))
    found = tiny.checked()["reports.findings"]
    assert set(found["check_name"]) == {"file read otherwise"} and len(found) == 2
    first, second = found.sort_values("file")["mend"]
    line = first.split("put into seasons/2091/headings.yml: ")[1].removesuffix(".")
    assert second.endswith("If that is right, confirm it with the line told for seasons/2091/plots.csv.")
    (tiny.folder / "seasons/2091/headings.yml").write_text(line + "\n")
    assert tiny.checked()["reports.findings"].empty


def test_one_place_under_two_names_is_mended_by_the_line_that_is_told(tiny):
    """As when a sender calls a place otherwise in another season: the later name is read as the earlier one."""
    heads, alder, _ = tiny.rows("sites")
    tiny.write("sites", [heads, [cell if cell != "Alder" else "Alder Farm" for cell in alder]], "2092")
    weather = tiny.rows("weather_daily", 2092)
    tiny.write("weather_daily", [[cell if cell != "Alder" else "Alder Farm" for cell in row] for row in weather], 2092)
    found = tiny.checked()["reports.findings"].query("check_name == 'site described differently'").set_index("file")
    assert "headings.yml" not in found.loc["seasons/2091/sites.csv", "mend"]
    line = found.loc["seasons/2092/sites.csv", "mend"].split("put into headings.yml: ")[1]
    assert line == 'words: {sites: {place: {"Alder Farm": "Alder"}}, weather_daily: {place: {"Alder Farm": "Alder"}}}'
    (tiny.folder / "seasons/2092/headings.yml").write_text(line + "\n")
    assert tiny.checked()["reports.findings"].empty
