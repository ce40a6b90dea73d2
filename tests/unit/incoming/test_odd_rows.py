from __future__ import annotations

import pytest

from pipeline.incoming.odd_rows import odd_row_notes
from pipeline.incoming.readers import read_file
from pipeline.incoming.sheet import Sheet

HEADINGS = ["trial_id", "block", "plot", "weight", "outcome", "notes"]
PLOTS = [
    ["T1", "1", "101", "42.6", "harvested", None],
    ["T1", "1", "102", "40.1", "harvested", None],
    ["T1", "2", "201", "41.0", "harvested", None],
]


def odd(*rows: tuple[int, list[str | None]]) -> dict[int, str]:
    """What is noted on these rows (by row number) under three plots in rows 2-4."""
    numbered = [*enumerate(PLOTS, start=2), *rows]
    cells = [row + [None] * (6 - len(row)) for _, row in numbered]
    columns = dict(zip(HEADINGS, map(list, zip(*cells, strict=True)), strict=True))
    sheet = Sheet("plots", None, HEADINGS, HEADINGS, 1, columns, [n for n, _ in numbered])
    return {note.row: note.what.removeprefix("looks_like_") for note in odd_row_notes(sheet, sheet.distinct_texts())}


@pytest.mark.parametrize(
    "word",
    ["Total", "MEAN", "Average:", "avg.", "Grand mean", "LSD", "LSD (0.05)", "LSD, 5 %", "LSD (p = 0.05)", "L.S.D. 5%",
     "LSD0.05", "CV", "CV (%)", "C.V. %", "CV, %", "SE", "SED", "SEM",
     "Std. Dev.", "Mean of block 1", "Block mean", "Mean block 2", "Sum", "Totals", "Median", "p value", "Pr > F"],
)  # fmt: skip
@pytest.mark.parametrize("before", [[], ["T1"], ["T1", "1"], [None, None]])
def test_totals(word, before):
    assert odd((5, [*before, word, None, "41.2"][:5])) == {5: "total"}


@pytest.mark.parametrize(
    "text",
    [
        "* hail in block 2",
        "† replanted",
        "Note: wet",
        "Notes - see map",
        "Source: elevator",
        "1) border rows out",
        "weights are from the elevator scale",
    ],
)
@pytest.mark.parametrize("row", [5, 7])
def test_footnotes(text, row):
    assert odd((row, [text])) == {row: "footnote"}


@pytest.mark.parametrize("row", [HEADINGS, ["Trial ID", "Block", None, "WEIGHT"], ["trial_id", "block", "plot"]])
def test_headings_said_again(row):
    assert odd((7, row), (8, PLOTS[0])) == {7: "repeats_headings"}


@pytest.mark.parametrize(
    "row", [["block"], ["T1", "block", "plot", "weight"], ["trial_id", "1", "101", "42.0", "harvested"]]
)
def test_a_row_with_a_cell_of_its_own_repeats_no_headings(row):
    assert "repeats_headings" not in odd((5, row)).values()


def test_a_small_table_under_the_rows_is_no_part_of_them():
    assert odd((7, ["treatment", "bu/ac"]), (8, ["U-120", "181"]), (10, ["C-120", "188"])) == dict.fromkeys(
        (7, 8, 10), "footnote"
    )


@pytest.mark.parametrize(
    "row",
    [
        ["Mean", "2", "202", "41.0", "harvested"],  # fills every cell that the others fill
        ["T1", "2", "202", None, "lost", "average"],  # a remark, far to the right
        ["T1", "2", "202", None, "lost", "hail on the second of July"],
        ["T1", "2", "202", None, "lost"],
        ["Meanwood", None, "202", "41.0", "harvested"],
        ["SE4", None, "202", "41.0", "harvested"],
        ["T2"],
        ["T1", None, None, "41.0"],
    ],
)
def test_rows_of_the_table(row):
    assert odd((5, row)) == {}


def test_a_code_of_whole_rows_is_no_word_for_a_total():
    """SD is sidedressed here, and its second plot lacks a weight."""
    assert odd((5, ["T1", "SD", "202", "40.8", "harvested"]), (6, ["T1", "SD", "203", None, "lost"])) == {}


def test_a_remark_in_a_whole_row_makes_no_code_of_a_total():
    remarked = ["T1", "2", "202", "40.8", "harvested", "average"]
    assert odd((5, remarked), (6, ["average", None, None, "41.2"])) == {6: "total"}


def test_blocks_set_apart_by_empty_rows_are_rows_of_the_table():
    assert odd((6, ["T1", "2", "202", "40.8", "harvested"]), (8, ["T1", "3", "301", None, "lost"])) == {}


def test_what_was_read_stays_in_the_columns(tmp_path):
    path = tmp_path / "plots.csv"
    path.write_text("plot,weight,outcome\n1,41,harvested\n2,43,harvested\nMean,42,\n\n*two plots\n")
    (sheet,) = read_file(path, name="plots.csv")
    assert sheet.columns["plot"] == ["1", "2", "Mean", "*two plots"] and sheet.row_numbers == [2, 3, 4, 6]
    assert [(n.row, n.found, n.what) for n in sheet.notes if n.what != "short_row"] == [
        (4, "Mean", "looks_like_total"),
        (6, "*two plots", "looks_like_footnote"),
    ]
