"""Workbooks that are small as files and large in memory are refused with their place, before a library reads them."""

from __future__ import annotations

import io
import zipfile

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from openpyxl import Workbook
from openpyxl.utils import get_column_letter

from pipeline.errors import UserError
from pipeline.incoming import sheet_limits, workbook_limits
from pipeline.incoming.readers import read_file
from tests.ods import ods_bytes
from tests.workbook_parts import rewritten

SHEET, STRINGS = "xl/worksheets/sheet1.xml", "xl/sharedStrings.xml"
END = b"</sheetData>"


@pytest.fixture(scope="module")
def path(tmp_path_factory):
    return tmp_path_factory.mktemp("limits") / "mail"


def workbook(*rows: list[object]) -> bytes:
    book, buffer = Workbook(), io.BytesIO()
    book.active.title = "Harvest"
    for row in rows or (["plot", "block"], [101, 1]):
        book.active.append(row)
    book.save(buffer)
    return buffer.getvalue()


def told(path, content: bytes, suffix: str = ".xlsx") -> str:
    """The refusal, '' where the file is read."""
    file = path.with_suffix(suffix)
    file.write_bytes(content)
    try:
        read_file(file, name="mail")
    except UserError as problem:
        assert str(problem).startswith("mail:")
        return str(problem)
    return ""


def merged(*refs: str) -> bytes:
    cells = "".join(f'<mergeCell ref="{ref}"/>' for ref in refs)
    return rewritten(workbook(), SHEET, END, END + f"<mergeCells>{cells}</mergeCells>".encode())


def linked(ref: str) -> bytes:
    return rewritten(
        workbook(), SHEET, END, END + f'<hyperlinks><hyperlink ref="{ref}" location="x"/></hyperlinks>'.encode()
    )


@pytest.mark.parametrize("ref", ["A5:XFD1048576", "A1:C1048576", "A:C", "A&#58;C"])
def test_whole_columns_that_are_merged(path, ref):
    message = told(path, merged(ref))
    assert (
        f"sheet 'Harvest': the cells {ref.replace('&#58;', ':')} are merged" in message and "Unmerge them." in message
    )


def test_a_link_over_a_whole_sheet(path):
    assert "sheet 'Harvest': the cells A1:XFD99 are one link" in told(path, linked("A1:XFD99"))


def test_many_places_that_are_merged(path):
    refs = [f"A{row}:B{row}" for row in range(3, workbook_limits.MOST_RANGES + 4)]
    assert "sheet 'Harvest': the cells A5003:B5003 are merged" in told(path, merged(*refs))


corner = st.tuples(st.sampled_from([1, 2, 30, 702, 16_384]), st.sampled_from([3, 9, 4_000, 1_048_576]))


@settings(max_examples=15, deadline=None)
@given(corner, corner)
def test_what_is_merged_is_refused_by_its_cells(path, first, last):
    (left, right), (top, bottom) = map(sorted, zip(first, last, strict=True))
    ref = f"{get_column_letter(left)}{top}:{get_column_letter(right)}{bottom}"
    n = (right - left + 1) * (bottom - top + 1)
    assert bool(told(path, merged(ref))) == (n > workbook_limits.MOST_CELLS_OF_RANGES)


def repeated(n_rows: int, n_columns: int) -> bytes:
    """An .ods of 700 bytes, with one text in so many rows and columns."""
    cell = b'<table:table-cell office:value-type="string"'
    content = ods_bytes({"Harvest": [["plot"], ["101"]]})
    with zipfile.ZipFile(io.BytesIO(content)) as archive:
        text = archive.read("content.xml")
    head, row, rest = text.partition(b"</table:table-row><table:table-row>")
    rest = rest.replace(cell, cell + b' table:number-columns-repeated="%d"' % n_columns, 1)
    row = b'</table:table-row><table:table-row table:number-rows-repeated="%d">' % n_rows
    return rewritten(content, "content.xml", b"", head + row + rest)


@settings(max_examples=10, deadline=None)
@given(st.sampled_from([1, 20, 3_000, 1_048_575]), st.sampled_from([1, 2, 16_384]))
def test_what_is_repeated_in_an_ods_is_refused_by_its_cells(path, n_rows, n_columns):
    is_too_large = (n_rows + 1) * n_columns > workbook_limits.MOST_CELLS_OF_A_GRID
    assert (
        "sheet 'Harvest': its cells go on to row" in told(path, repeated(n_rows, n_columns), ".ods")
    ) == is_too_large


def test_a_part_that_unpacks_to_much(path):
    text = b"<sst><si><t>" + b"a" * (workbook_limits.MOST_TEXT + 1) + b"</t></si></sst>"
    message = told(path, rewritten(workbook(), STRINGS, b"", text))
    assert "unpacks to 50 MB, its part xl/sharedStrings.xml to 50 MB" in message and "save the table as .csv" in message


def test_rows_that_look_empty(path):
    rows = b"".join(b'<row r="%d" ht="15"/>' % row for row in range(3, workbook_limits.MOST_IN_SHEETS // 3 + 10))
    message = told(path, rewritten(workbook(), SHEET, END, rows + END))
    assert "sheet 'Harvest': more cells, rows or formats than are read" in message


def test_definitions_of_entities(path):
    content = rewritten(workbook(), SHEET, b"<worksheet", b'<!DOCTYPE x [<!ENTITY a "b">]><worksheet')
    assert "sheet 'Harvest': it holds definitions of its own (DOCTYPE)" in told(path, content)


def test_many_headings(path):
    heads = [f"h{i}" for i in range(sheet_limits.MOST_FILLED + 1)]
    says = "row 1: 1,001 filled cells, the last in column ALM; at most 1,000 columns are read"
    assert f"sheet 'Harvest', {says}" in told(path, workbook(heads))
    assert says in told(path, ",".join(heads).encode(), ".csv")
    assert "line 2: 16,385 cells" in told(path, b"a,b\n" + b"," * 16_384, ".csv")


def test_a_cell_that_is_far_from_the_table(path):
    content = workbook(["plot", "block"], *([i, 1] for i in range(1_300)))
    stray = b'<row r="1302"><c r="XFD1302"><v>1</v></c></row>'
    assert "1,302 rows with cells as far as column XFD" in told(path, rewritten(content, SHEET, END, stray + END))
    wide = ",".join(f"h{i}" for i in range(900)) + "\n" + "1\n" * 23_000
    assert "rows with cells as far as column AHP are more than the 20,000,000 cells" in told(
        path, wide.encode(), ".csv"
    )


def test_empty_columns_to_the_right_of_a_csv_are_no_matter(path):
    assert told(path, (b"plot,block" + b"," * 9_000 + b"\n") + (b"1,2" + b"," * 9_000 + b"\n") * 30, ".csv") == ""


@pytest.mark.parametrize("at", [0, 1])
def test_a_long_cell(path, at):
    rows = [["plot", "remark"], ["101", "a"]]
    rows[at][1] = "x" * 1_000_000
    says = f"row {at + 1}, column B: the cell holds 1,000,000 characters ('xxx"
    content = rewritten(workbook(*rows[:at], ["101", "long"], *rows[at + 1 :]), SHEET, b"long", b"x" * 1_000_000)
    for message in (told(path, content), told(path, "\n".join(map(",".join, rows)).encode(), ".csv")):
        assert says in message and "at most 131,072 are read. Shorten it." in message


def test_a_quote_that_is_never_closed_is_told_as_one(path):
    assert "row 2: the double quotes do not pair up" in told(path, b'plot,remark\n1,"a\n' + b"1,b\n" * 50_000, ".csv")


def test_a_text_in_many_cells(path, monkeypatch):
    monkeypatch.setattr(sheet_limits, "MOST_TEXT", 100)
    assert "sheet 'Harvest', its cells hold 109 characters" in told(path, workbook(["plot"], ["x" * 105]))


def test_a_file_beyond_the_limit_is_not_opened(path, monkeypatch):
    monkeypatch.setattr("pipeline.incoming.readers.MOST_BYTES", 10)
    assert "the file has 0 MB; at most 0 MB are read" in told(path, b"plot,block\n1,2\n", ".csv")


def test_a_newer_workbook_named_as_an_older_one_is_read_as_it_is(path):
    assert told(path, workbook(), ".xls") == ""
    assert "binary workbook (.xlsb)" in told(path, rewritten(workbook(), "xl/workbook.bin", b"", b"x"), ".xls")
