from __future__ import annotations

import datetime as dt
import re
import zipfile
from pathlib import Path

import pytest
from openpyxl import Workbook
from openpyxl.chart import BarChart
from openpyxl.utils.datetime import CALENDAR_MAC_1904

from pipeline.errors import UserError
from pipeline.incoming.readers import read_file
from pipeline.incoming.xlsx_cells import cell_text

NAME = "seasons/2094/dunnavel.xlsx"
PLOTS = [["Plot", "Weight lb"], [101, 12.5], [102, 13]]


@pytest.fixture
def path(tmp_path) -> Path:
    return tmp_path / "dunnavel.xlsx"


def workbook(rows=PLOTS, title="plots") -> Workbook:
    book = Workbook()
    book.active.title = title
    for row in rows:
        book.active.append(row)
    return book


def read(book: Workbook, path: Path):
    book.save(path)
    return read_file(path, name=NAME)


def refused(book: Workbook, path: Path) -> str:
    with pytest.raises(UserError) as caught:
        read(book, path)
    assert str(caught.value).startswith(NAME + ":")
    return str(caught.value)


def store_value(path: Path, coordinate: str, value: str, kind: str) -> None:
    """Put a stored result beside a formula, as spreadsheet programs do and openpyxl does not."""
    with zipfile.ZipFile(path) as archive:
        members = {name: archive.read(name) for name in archive.namelist()}
    sheet = members["xl/worksheets/sheet1.xml"].decode()
    cell = re.compile(rf'<c r="{coordinate}"([^>]*)>(<f>.*?</f>)<v ?/>|<c r="{coordinate}"([^>]*)>(<f>.*?</f>)<v></v>')
    sheet, count = cell.subn(
        lambda m: f'<c r="{coordinate}"{m[1] or m[3] or ""} t="{kind}">{m[2] or m[4]}<v>{value}</v>', sheet
    )
    assert count == 1
    with zipfile.ZipFile(path, "w") as archive:
        for name, content in members.items():
            archive.writestr(name, sheet if name == "xl/worksheets/sheet1.xml" else content)


def kinds(sheet) -> list[str]:
    return [note.what for note in sheet.notes]


def test_a_plain_sheet(path):
    (sheet,) = read(workbook(title="Nitrogen-Applications "), path)
    assert (sheet.table, sheet.sheet, sheet.heading_row) == (
        "nitrogen_applications",
        "Nitrogen-Applications ",
        1,
    )
    assert sheet.headings == ["plot", "weight_lb"] and sheet.verbatim_headings == ["Plot", "Weight lb"]
    assert sheet.columns == {"plot": ["101", "102"], "weight_lb": ["12.5", "13"]}
    assert sheet.row_numbers == [2, 3] and sheet.notes == []


@pytest.mark.parametrize(
    ("value", "number_format", "text"),
    [
        (None, "General", None),
        ("  ", "General", None),
        (" x ", "General", " x "),
        (101.0, "General", "101"),
        (18.2, "General", "18.2"),
        (0.1 + 0.2, "General", "0.30000000000000004"),
        (12345678901234567, "General", "12345678901234567"),
        (1e-5, "0.00E+00", "0.00001"),
        (1e16, "General", "10000000000000000"),
        (-0.0, "General", "0"),
        (-2.50, "0.00", "-2.5"),
        (1200, "#,##0", "1200"),
        (0.182, "0.0%", "18.2%"),
        (0.29, "0%", "29%"),
        (1, "0%", "100%"),
        (0.182, '0.000" % as fraction"', "0.182"),
        (0.182, r"0.000\%", "0.182"),
        (7, "000", "007"),
        (1007, "000", "1007"),
        (7.5, "000", "7.5"),
        (0, "0", "0"),
        (True, "General", "yes"),
        (False, "General", "no"),
        (dt.datetime(2094, 5, 1), "d-mmm", "2094-05-01"),
        (dt.datetime(2094, 5, 1, 6, 30), "General", "2094-05-01T06:30:00"),
        (dt.time(6, 30), "h:mm", "06:30:00"),
        ("#N/A", "General", "#N/A"),
        ("007", "@", "007"),
    ],
)
def test_cell_text(value, number_format, text):
    assert cell_text(value, number_format) == text


def test_percent_and_padded_cells_read_as_they_are_shown(path):
    book = workbook([["plot", "moisture_pct"], [7, 0.182]])
    book.active["A2"].number_format, book.active["B2"].number_format = "000", "0.0%"
    (sheet,) = read(book, path)
    assert sheet.columns == {"plot": ["007"], "moisture_pct": ["18.2%"]}


@pytest.mark.parametrize("epoch", ["1900", "1904"])
def test_both_date_systems_give_the_same_day(path, epoch):
    book = workbook([["planted"], [dt.date(2094, 4, 28)]])
    if epoch == "1904":
        book.epoch = CALENDAR_MAC_1904
    (sheet,) = read(book, path)
    assert sheet.columns["planted"] == ["2094-04-28"]
    assert kinds(sheet) == ([] if epoch == "1900" else ["dates_from_1904"])


def test_blank_rows_are_skipped_and_row_numbers_kept(path):
    book = workbook([])
    sheet = book.active
    for coordinate, value in {"B3": "plot", "C3": "block", "B4": 1, "C6": 2, "B7": " ", "B9": 3}.items():
        sheet[coordinate] = value
    (sheet,) = read(book, path)
    assert (sheet.heading_row, sheet.row_numbers) == (3, [4, 6, 9])
    assert sheet.columns == {"plot": ["1", None, "3"], "block": [None, "2", None]}


def test_a_stray_format_at_the_far_end_costs_nothing(path):
    book = workbook()
    book.active["XFD1"].number_format = book.active["A1048576"].number_format = "0.0"
    (sheet,) = read(book, path)
    assert sheet.headings == ["plot", "weight_lb"] and sheet.row_numbers == [2, 3]


def test_a_formula_without_stored_value(path):
    message = refused(workbook([["plot", "weight"], [1, "=3*4"], [2, 5]]), path)
    assert "sheet 'plots', row 2, column B: cell B2 holds a formula" in message and "let it calculate" in message


@pytest.mark.parametrize(
    ("value", "kind", "text"),
    [("12.5", "n", "12.5"), ("lost", "str", "lost"), ("1", "b", "yes"), ("", "str", None)],
)
def test_a_formula_with_its_stored_value(path, value, kind, text):
    workbook([["plot", "weight"], [1, "=IF(A2,1,2)"], [2, 5]]).save(path)
    store_value(path, "B2", value, kind)
    (sheet,) = read_file(path, name=NAME)
    assert sheet.columns["weight"] == [text, "5"] and sheet.notes == []


def test_a_formula_that_gives_a_percent_or_a_date(path):
    book = workbook([["share", "planted"], ["=1/4", "=DATE(2094,4,28)"]])
    book.active["A2"].number_format, book.active["B2"].number_format = "0%", "yyyy-mm-dd"
    book.save(path)
    store_value(path, "A2", "0.25", "n")
    store_value(path, "B2", "70976", "n")
    (sheet,) = read_file(path, name=NAME)
    assert sheet.columns["share"] == ["25%"]
    assert sheet.columns["planted"] == [(dt.date(1899, 12, 30) + dt.timedelta(70976)).isoformat()]


@pytest.mark.parametrize("error", ["#N/A", "#REF!", "#DIV/0!"])
def test_error_values_are_kept_and_noted(path, error):
    workbook([["plot", "Weight lb"], [1, "=1/0"], [2, error]]).save(path)
    store_value(path, "B2", error, "e")
    (sheet,) = read_file(path, name=NAME)
    assert sheet.columns["weight_lb"] == [error, error]
    assert [(n.row, n.column, n.found, n.what) for n in sheet.notes] == [
        (2, "weight_lb", error, "error_value"),
        (3, "weight_lb", error, "error_value"),
    ]


def test_text_that_looks_like_a_formula_is_text(path):
    book = workbook()
    book.active["B2"].value = "=12"
    book.active["B2"].data_type = "s"
    (sheet,) = read(book, path)
    assert sheet.columns["weight_lb"][0] == "=12"


def test_merged_cells_are_noted_and_not_filled(path):
    book = workbook([["block", "plot"], [1, 101], [None, 102], [None, 103]])
    book.active.merge_cells("A2:A4")
    (sheet,) = read(book, path)
    assert sheet.columns["block"] == ["1", None, None]
    (note,) = sheet.notes
    assert (note.row, note.column, note.found, note.what) == (2, "block", "A2:A4, rows 2-4", "merged_cells")


def test_hidden_rows_columns_and_sheets_are_read_and_noted(path):
    book = workbook([["plot", "block", "weight", "remark"], [1, 1, 5, "a"], [2, 1, 6, "b"], [3, 2, 7, "c"]])
    book.active.row_dimensions[3].hidden = True
    book.active.row_dimensions[90].hidden = True
    book.active.column_dimensions.group("B", "C", hidden=True)
    book.create_sheet("sites").append(["id"])
    book["sites"].sheet_state = "hidden"
    plots, sites = read(book, path)
    assert plots.columns["plot"] == ["1", "2", "3"] and plots.columns["weight"] == ["5", "6", "7"]
    assert [(n.row, n.column, n.found, n.what) for n in plots.notes] == [
        (3, None, "row 3", "hidden_rows"),
        (None, "block", "B", "hidden_column"),
        (None, "weight", "C", "hidden_column"),
    ]
    assert kinds(sites) == ["hidden_sheet"]


def test_rows_hidden_by_a_filter_say_so(path):
    book = workbook()
    book.active.auto_filter.ref = "A1:B3"
    book.active.row_dimensions[2].hidden = True
    (sheet,) = read(book, path)
    assert "perhaps by a filter" in sheet.notes[0].sentence


def test_sheets_that_are_no_tables_are_passed_over_with_a_note(path):
    book = workbook()
    for title in ("_lists", "Notes", "read-me", "Instructions"):
        book.create_sheet(title).append(["anything"])
    book.create_sheet("Sheet2")
    book.create_chartsheet("chart").add_chart(BarChart())
    (sheet,) = read(book, path)
    assert [note.found for note in sheet.notes] == ["_lists", "Notes", "read-me", "Instructions", "Sheet2"]
    assert set(kinds(sheet)) == {"sheet_passed_over"} and "it is empty" in sheet.notes[-1].sentence


def test_every_sheet_is_its_own_table(path):
    book = workbook()
    book.create_sheet("Sites").append(["id", "place"])
    assert [sheet.table for sheet in read(book, path)] == ["plots", "sites"]


def test_no_table_at_all(path):
    assert "no sheet of the workbook holds a table" in refused(workbook([], title="Sheet1"), path)
    assert "no sheet of the workbook holds a table" in refused(workbook([[" "]]), path)


def test_a_sheet_of_formulas_that_give_nothing(path):
    workbook([['=""']]).save(path)
    store_value(path, "A1", "", "str")
    with pytest.raises(UserError, match="all its formulas give empty text"):
        read_file(path, name=NAME)


def test_two_sheets_for_one_table(path):
    book = workbook(title="rain history")
    book.create_sheet("Rain-History").append(["place"])
    assert "'rain history' and 'Rain-History' both give the table 'rain_history'" in refused(book, path)


def test_a_title_above_the_headings(path):
    message = refused(workbook([["Harvest 2094"], ["tree", "apples"], [1, 2]]), path)
    assert "sheet 'plots', row 2, column B: 'apples' stands under no heading" in message and "title" in message


def test_problems_of_all_sheets_come_in_one_message(path):
    book = workbook([["plot", "Plot"], [1, "=1+1"]])
    book.create_sheet("sites").append(["id", None])
    book["sites"].append(["A", "x"])
    message = refused(book, path)
    assert "sheet 'plots', row 2, column B" in message and "columns A and B are all headed 'plot'" in message
    assert "sheet 'sites', row 2, column B: 'x'" in message


def _damaged(path: Path) -> bytes:
    workbook().save(path)
    content = path.read_bytes()
    return content[: len(content) // 2]


def _without_sheet(path: Path) -> bytes:
    with zipfile.ZipFile(path, "w") as archive:
        archive.writestr("[Content_Types].xml", "<Types/>")
    return path.read_bytes()


def _bad_xml(path: Path) -> bytes:
    workbook().save(path)
    with zipfile.ZipFile(path) as archive:
        members = {name: archive.read(name) for name in archive.namelist()}
    members["xl/worksheets/sheet1.xml"] = members["xl/worksheets/sheet1.xml"][:-60]
    with zipfile.ZipFile(path, "w") as archive:
        for name, content in members.items():
            archive.writestr(name, content)
    return path.read_bytes()


PROTECTED = b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1" + b"\0" * 512 + "EncryptedPackage".encode("utf-16-le")


@pytest.mark.parametrize(
    ("make", "mend"),
    [
        (lambda path: b"", "the file is empty"),
        (lambda path: b"plot,block\n1,2\n", "rename it to .csv"),
        (lambda path: b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1" + b"\0" * 512, "older workbook"),
        (lambda path: PROTECTED, "protected by a password"),
        (lambda path: b"PK\x03\x04" + b"\0" * 50, "damaged"),
        (_damaged, "damaged or of another kind. Open it"),
        (_without_sheet, "damaged or of another kind. Open it"),
        (_bad_xml, "damaged"),
    ],
)
def test_files_that_are_no_workbook(path, make, mend):
    path.write_bytes(make(path))
    with pytest.raises(UserError) as caught:
        read_file(path, name=NAME)
    assert str(caught.value).startswith(NAME + ":") and mend in str(caught.value)
