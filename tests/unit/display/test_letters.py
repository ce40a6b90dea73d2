"""Letters to senders: who gets which finding, and that what a sender typed stays text."""

from __future__ import annotations

import html
from datetime import date

import pandas as pd
import pytest

from pipeline.contract.tables import HOLDS_TRIAL, SETS_ASIDE
from pipeline.display.letters.letter import HOW_TO_ANSWER, NOTHING_OPEN, letters

FILES = pd.DataFrame(
    [
        ("seasons/2094/plots.csv", 2094, 40),
        ("seasons/2094/north/plots.csv", 2094, 12),
        ("seasons/2094/north/book.xlsx", 2094, 1),
        ("seasons/2093/north/plots.csv", 2093, 12),
    ],
    columns=["file", "season", "n_rows"],
)


def finding(file: str = "seasons/2094/north/plots.csv", **changed) -> dict:
    return {
        "severity": HOLDS_TRIAL,
        "check_name": "plots.moisture outside its hard range",
        "file": file,
        "sheet": None,
        "row_number": 4,
        "column_name": "moisture_pct",
        "headed": None,
        "trial_id": "2094-A-corn",
        "found": "0.182",
        "expected": "8 to 45%",
        "mend": "a fraction typed as percent?",
    } | changed


def written(*findings: dict) -> dict:
    frame = pd.DataFrame(findings, columns=list(finding()))
    made = letters(frame, FILES, program="Elm trials", today=date(2094, 12, 1))
    return {letter.name: letter for letter in made}


def test_each_sender_reads_of_their_own_rows_only():
    made = written(finding(), finding("seasons/2094/plots.csv", row_number=9, trial_id="2094-B-corn"))
    assert sorted(made) == ["2093-north", "2094", "2094-north"]
    assert "2094-A-corn" in made["2094-north"].text and "2094-A-corn" not in made["2094"].text
    assert "2094-B-corn" in made["2094"].text and made["2093-north"].n_open == 0
    assert NOTHING_OPEN in made["2093-north"].text.replace("\n", " ")
    assert "plots.csv (12 rows) and book.xlsx (1 row)" in made["2094-north"].text


def test_rows_with_the_same_fault_are_one_thing_to_do():
    said = written(*(finding(row_number=n, found=f"0.1{n}") for n in (4, 5, 6, 7, 12)))["2094-north"]
    assert said.n_open == 5 and "1. plots.csv, rows 4 to 7, 12, moisture_pct" in said.text and "2." not in said.text
    assert "We found: 0.14; 0.15; 0.16 and 2 more" in said.text


def test_both_forms_of_a_letter_number_alike():
    """Where a heading's list goes on: a sender may answer by number."""
    said = written(finding(), finding(column_name="yield", found="1"), finding(severity=SETS_ASIDE))["2094-north"]
    assert '<ol start="1">' in said.html and '<ol start="3">' in said.html and "\n3. plots.csv" in said.text


def test_lines_of_headings_yml_are_no_senders_letter():
    mend = 'nearest known word: "urea"; or put into headings.yml: words: {treatments: {n_source: {"ureaa": urea}}}'
    said = written(finding(mend=mend))["2094-north"].text
    assert 'Nearest known word: "urea"' in said and "headings.yml" not in said


def test_a_file_that_is_not_read_is_told_by_its_name():
    north = "seasons/2094/north/book.xlsx"
    mend = f"{north}: the workbook is damaged. Send it again."
    said = written(finding(north, row_number=None, column_name=None, expected=None, mend=mend))["2094-north"].text
    assert "1. book.xlsx\n   The workbook is damaged. Send it again.\n" in said and "seasons/" not in said


@pytest.mark.parametrize("typed", ["<script>alert(1)</script>", '"><img src=x>', "&lt;"])
def test_what_a_sender_typed_stays_text(typed):
    for typed_as in ({"found": typed, "column_name": typed}, {"headed": typed}):
        said = written(finding(**typed_as))["2094-north"]
        assert typed in said.text.replace("\n", " ") and typed not in said.html


def test_what_the_analyst_does_with_a_second_file_is_not_asked_of_its_sender():
    mend = "say which is right; if one file as a whole corrects the other, take the older out of the season's folder"
    text = written(finding(found="A, 101 (first in row 5)", expected="once; first delivered in x", mend=mend))
    assert "What to do: Say which is right\n" in text["2094-north"].text


def test_many_dates_of_a_column_are_one_thing_to_do():
    def dates(n):
        mends = [f"write it like 2094-03-{day}; or put into headings.yml: read_as: x" for day in range(13, 13 + n)]
        dated = {"check_name": "x", "expected": "a date as year-month-day"}
        return written(*(finding(row_number=i, found=m[-10:], mend=m, **dated) for i, m in enumerate(mends, 2)))

    assert "What to do: Write it like 2094-03-15\n" in dates(3)["2094-north"].text
    text = dates(40)["2094-north"].text
    assert "1. plots.csv, rows 2 to 41" in text and "2." not in text.replace("2094", "")
    assert "What to do: Write it like 2094-03-13, and the others in the same way\n" in text


def test_many_fractions_of_a_column_are_one_thing_to_do():
    small = "a hundred times too small: a fraction typed as a percent? If so, write {}"
    text = written(*(finding(row_number=n, found=f"0.1{n}", mend=small.format(f"1{n}")) for n in range(5, 37)))
    text = text["2094-north"].text.replace("\n     ", " ")
    assert "rows 5 to 36" in text and "If so, write 15, and the others in the same way\n" in text


ONE_OF_NORTH = """\
Elm trials: your files for season 2094

To north, December 1, 2094.
Thank you for plots.csv (12 rows) and book.xlsx (1 row).

PLEASE ANSWER THESE FIRST. UNTIL THEN THE TRIAL IS IN NO AVERAGE.

1. plots.csv, row 4, moisture_pct
   We found: 0.182
   We expected: 8 to 45%
   What to do: A fraction typed as percent?
   Trial: 2094-A-corn

Correct the file and send the whole file again, under the same name. If a
value is right as it is, write and tell us. Please don't change a yield
because it looks odd: tell us what happened in the field.
"""


def test_a_letter_word_by_word():
    letter = written(finding())["2094-north"]
    assert letter.text == ONE_OF_NORTH
    assert f"<p>{html.escape(HOW_TO_ANSWER)}</p>" in letter.html and NOTHING_OPEN not in letter.html
    open_to_none = written()["2094-north"]
    assert f"<p>{html.escape(NOTHING_OPEN)}</p>" in open_to_none.html and HOW_TO_ANSWER not in open_to_none.html


def test_files_in_the_seasons_own_folder_are_of_whoever_sent_them():
    assert "To whoever sent the files of season 2094, December 1, 2094." in written()["2094"].text


@pytest.mark.parametrize(
    ("changed", "item"),
    [
        (
            {"found": None, "trial_id": None},
            ["   We expected: 8 to 45%", "   What to do: A fraction typed as percent?"],
        ),
        ({"expected": None, "found": "0.2", "trial_id": None}, ["   A fraction typed as percent?", "   We found: 0.2"]),
    ],
)
def test_an_item_has_no_line_for_what_is_not_known(changed, item):
    lines = written(finding(**changed))["2094-north"].text.splitlines()
    assert lines[lines.index("1. plots.csv, row 4, moisture_pct") + 1 :][: len(item) + 1] == [*item, ""]


def test_an_item_of_very_many_rows_says_how_many_and_which_is_the_first():
    scattered = [finding(row_number=n) for n in range(2, 90, 2)]
    text = written(*scattered, finding(row_number=None, found=None))["2094-north"].text
    assert "1. plots.csv, 44 rows, the first row 2, moisture_pct\n   We found: 0.182\n" in text


def test_as_many_examples_as_are_told_have_no_more():
    text = written(*(finding(row_number=n, found=f"0.1{n}") for n in (4, 5, 6)))["2094-north"].text
    assert "We found: 0.14; 0.15; 0.16\n" in text


def test_an_item_names_its_sheet_and_the_heading_as_it_was_typed():
    text = written(finding(sheet="Yields", headed="Moist. %"))["2094-north"].text
    assert '1. plots.csv, sheet "Yields", row 4, column "Moist. %"' in text
