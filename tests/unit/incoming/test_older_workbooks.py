"""Workbooks that calamine reads: tables, row numbers, days, merged cells; the .ods is written here, part by part."""

from __future__ import annotations

import io
import zipfile

import pytest
from openpyxl import Workbook

from pipeline.errors import UserError
from pipeline.incoming.headings import SendersWords
from pipeline.incoming.merged_cells import fill_merged
from pipeline.incoming.older_workbooks import read_older_workbook
from pipeline.incoming.sheet import NotRead
from tests.ods import ods_bytes


def test_tables_days_and_numbers():
    (sheet,) = read_older_workbook(
        ods_bytes({"Plots": [["Harvest"], ["plot", "block", "Day"], [101.0, 1, "2091-10-04"], [], ["A-1", 2, None]]}),
        name="x.ods",
        words=SendersWords(),
    )
    assert (sheet.table, sheet.sheet, sheet.heading_row, sheet.row_numbers) == ("plots", "Plots", 2, [3, 5])
    assert sheet.columns == {"plot": ["101", "A-1"], "block": ["1", "2"], "day": ["2091-10-04", None]}


def test_sheets_without_a_table_are_passed_over_with_a_note():
    words = SendersWords(tables={"photos": "none"})
    content = ods_bytes({"plots": [["plot", "block"], [1, 1]], "Photos": [["x"]], "notes": [["y"]], "Empty": []})
    (sheet,) = read_older_workbook(content, name="x.ods", words=words)
    assert [note.found for note in sheet.notes if note.what == "sheet_passed_over"] == ["Photos", "notes", "Empty"]


def test_our_workbook_saved_as_another_kind_is_read_without_its_example():
    table = [["plot", "block"], [1, 1]]
    content = ods_bytes({"Read me": [["x"]], "plots": table, "Example": table, "Columns": [["Every column"]]})
    assert [sheet.table for sheet in read_older_workbook(content, name="x.ods", words=SendersWords())] == ["plots"]


def test_merged_cells_are_told_and_what_was_weighed_is_not_spread():
    """calamine reads an .xlsx as it does an .xls."""
    workbook = Workbook()
    plots = workbook.active
    plots.title = "plots"
    rows = [[1, "A", 3], [2, None, 4], [3, "B", 5], [4, None, 6], [5, "C", 7], [None, "C", None]]
    for row in [["Harvest"], ["plot", "block", "harvest_weight_lb"], *rows]:
        plots.append(row)
    for cells in ("A1:C1", "B3:B4", "B5:C5", "A7:A8", "C7:C8"):
        plots.merge_cells(cells)
    buffer = io.BytesIO()
    workbook.save(buffer)
    (sheet,) = read_older_workbook(buffer.getvalue(), name="x.xls", words=SendersWords())
    assert sorted(sheet.merged) == [("block", 3, 4), ("harvest_weight_lb", 7, 8), ("plot", 7, 8)]
    told = {(note.row, note.column, note.found) for note in sheet.notes if note.what == "merged_cells"}
    assert told >= {(3, "block", "B3:B4, rows 3-4")} and len(told) == 3
    fill_merged(sheet, SendersWords())
    assert sheet.columns == {
        "plot": ["1", "2", "3", "4", "5", None],
        "block": ["A", "A", "B", None, "C", "C"],
        "harvest_weight_lb": ["3", "4", None, "6", "7", None],
    }
    (filled,) = (note for note in sheet.notes if note.what == "merged_cells_filled")
    assert (filled.row, filled.sentence.partition(":")[0]) == (3, "The cells B3")


def test_the_rows_of_a_refused_workbook_are_counted():
    content = ods_bytes({"plots": [["plot", "block"], [1, 1], [2, 1]], "trials": [["x", "x"], [1, 1]]})
    with pytest.raises(NotRead) as refused:
        read_older_workbook(content, name="x.ods", words=SendersWords())
    assert refused.value.n_rows == 3


def test_what_is_no_workbook():
    buffer = io.BytesIO()
    with zipfile.ZipFile(buffer, "w") as archive:
        archive.writestr("content.xml", "<broken")
    with pytest.raises(UserError, match="x.xls: the file is empty"):
        read_older_workbook(b"", name="x.xls", words=SendersWords())
    for content in (b"x", b"\xd0\xcf\x11\xe0" + bytes(600), buffer.getvalue()):
        with pytest.raises(UserError, match=r"x.xls: the workbook is damaged or of another kind\. Open it"):
            read_older_workbook(content, name="x.xls", words=SendersWords())
