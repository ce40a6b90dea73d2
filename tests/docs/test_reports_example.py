"""The examples in the repository are what the program writes today."""

from __future__ import annotations

import pytest
from openpyxl import load_workbook

from tests.reports_example import DICTIONARY, FOLDER, WORKBOOK, write

WRITE_ANEW = "write them anew: .venv/bin/python -m tests.reports_example"


@pytest.fixture(scope="module")
def today(tmp_path_factory):
    folder = tmp_path_factory.mktemp("example")
    write(folder)
    return folder


def test_the_data_dictionary_is_current(today):
    assert (FOLDER / DICTIONARY).read_text() == (today / DICTIONARY).read_text(), WRITE_ANEW


def contents(path) -> dict[str, object]:
    """Cells, widths, lists and limits of every sheet."""
    book = load_workbook(path)
    return {
        sheet.title: (
            [[cell.value for cell in row] for row in sheet.iter_rows()],
            {letter: column.width for letter, column in sheet.column_dimensions.items()},
            [
                (str(rule.sqref), rule.type, rule.formula1, rule.formula2, rule.prompt)
                for rule in sheet.data_validations.dataValidation
            ],
        )
        for sheet in book
    }


def test_the_filled_trial_workbook_is_current(today):
    assert contents(FOLDER / WORKBOOK) == contents(today / WORKBOOK), WRITE_ANEW
