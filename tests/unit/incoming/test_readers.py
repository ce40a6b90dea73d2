from __future__ import annotations

import pytest

from pipeline.errors import UserError
from pipeline.incoming.readers import read_file
from pipeline.incoming.sheet import column_letter, row_ranges, table_name, tidy_heading


def test_the_ending_may_be_in_capitals(tmp_path):
    path = tmp_path / "Rain-History 2.CSV"
    path.write_text("place,rain_mm\nQuillmoor Flats,1.2\n")
    (sheet,) = read_file(path, name="x")
    assert sheet.table == "rain_history_2"


@pytest.mark.parametrize("file", ["missing.csv", "missing.xlsx"])
def test_a_file_that_cannot_be_opened(tmp_path, file):
    with pytest.raises(UserError, match="cannot be opened"):
        read_file(tmp_path / file, name=file)


def test_a_folder_with_the_ending_of_a_file(tmp_path):
    (tmp_path / "plots.csv").mkdir()
    with pytest.raises(UserError, match="cannot be opened"):
        read_file(tmp_path / "plots.csv", name="plots.csv")


def test_names():
    assert table_name(" Nitrogen-Applications ") == table_name("nitrogen applications") == "nitrogen_applications"
    assert tidy_heading("  Harvest \n Weight\u00a0(lb) ") == "harvest_weight_(lb)"


@pytest.mark.parametrize(
    ("position", "letters"), [(0, "A"), (25, "Z"), (26, "AA"), (51, "AZ"), (701, "ZZ"), (702, "AAA")]
)
def test_column_letters(position, letters):
    assert column_letter(position) == letters


@pytest.mark.parametrize(
    ("rows", "text"),
    [
        ([4], "row 4"),
        ([4, 7, 8, 9], "rows 4, 7-9"),
        (list(range(2, 40, 2)), "rows 2, 4, 6, 8, 10, and more, 19 rows in all"),
    ],
)
def test_row_ranges(rows, text):
    assert row_ranges(rows) == text
