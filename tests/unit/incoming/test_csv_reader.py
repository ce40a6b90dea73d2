from __future__ import annotations

import csv
import gzip
import io
import time
import zipfile

import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from pipeline.errors import UserError
from pipeline.incoming.csv_reader import ROWS_AT_A_TIME, read_csv
from pipeline.incoming.readers import read_file

NAME = "seasons/2094/brackholm/plots.csv"


@pytest.fixture
def read(tmp_path):
    def read(content: str | bytes):
        path = tmp_path / "Plots.csv"
        path.write_bytes(content.encode() if isinstance(content, str) else content)
        (sheet,) = read_file(path, name=NAME)
        return sheet

    return read


@pytest.fixture
def refused(read):
    def refused(content: str | bytes) -> str:
        with pytest.raises(UserError) as caught:
            read(content)
        message = str(caught.value)
        assert message.startswith(NAME + ":")
        return message

    return refused


def test_a_plain_file(read):
    sheet = read("Trial ID,Harvest  Weight_lb,cultivar\nT1,101.0,\nT1, 2 ,.\n")
    assert (sheet.table, sheet.sheet, sheet.heading_row) == ("plots", None, 1)
    assert sheet.headings == ["trial_id", "harvest_weight_lb", "cultivar"]
    assert sheet.verbatim_headings == ["Trial ID", "Harvest  Weight_lb", "cultivar"]
    assert sheet.columns == {
        "trial_id": ["T1", "T1"],
        "harvest_weight_lb": ["101.0", " 2 "],
        "cultivar": [None, "."],
    }
    assert sheet.row_numbers == [2, 3] and sheet.notes == []


@pytest.mark.parametrize("cell", ["1E2", "007", "1-1", "NA", "-9999", "-", "18.2%", "=A1", "Große Ähre", '5" pipe'])
def test_cells_are_verbatim(read, cell):
    assert read(f"plot,other\n{cell},1\n").columns["plot"] == [cell]


@pytest.mark.parametrize("line_end", ["\n", "\r\n", "\r"])
@pytest.mark.parametrize("mark", ["", "\ufeff"])
@pytest.mark.parametrize("last", ["", "end"])
def test_line_ends_and_byte_order_mark(read, line_end, mark, last):
    sheet = read(mark + line_end.join(["plot,block", "1,2", "3,4"]) + (line_end if last else ""))
    assert sheet.columns == {"plot": ["1", "3"], "block": ["2", "4"]}
    assert sheet.notes == []


def test_row_numbers_count_blank_rows_and_not_the_lines_inside_a_cell(read):
    sheet = read('\nplot,remark\n\n1,"hail\non 2 July"\n , \n2,\n,,,\n3,"a, b"\n')
    assert sheet.heading_row == 2
    assert sheet.row_numbers == [4, 6, 8]
    assert sheet.columns == {"plot": ["1", "2", "3"], "remark": ["hail\non 2 July", None, "a, b"]}


def test_a_line_break_in_a_cell_is_noted(read):
    (note,) = read('plot,remark\n1,x\n2,"hail\non 2 July"\n').notes
    assert (note.row, note.column, note.found, note.what) == (
        3,
        "remark",
        "hail on 2 July",
        "line_break_in_cell",
    )


def test_row_numbers_and_cells_are_right_beyond_one_lot(read):
    rows = 2 * ROWS_AT_A_TIME + 500
    lines = [f"{i},{i % 7}" if i % 100 else "" for i in range(2, rows + 2)]
    sheet = read("plot,block\n" + "\n".join(lines))
    assert sheet.columns["plot"] == [str(row) for row in sheet.row_numbers]
    assert len(sheet.row_numbers) == sum(bool(line) for line in lines)


def test_headings_only_is_a_table_of_no_rows(read):
    sheet = read("plot,block\n")
    assert sheet.columns == {"plot": [], "block": []} and sheet.row_numbers == []


def test_empty_columns_at_the_right_are_dropped(read):
    sheet = read("plot,block,,\n1,2,,\n3,4,,,,\n")
    assert sheet.headings == ["plot", "block"] and sheet.columns["block"] == ["2", "4"]


def test_short_rows_are_filled_and_noted(read):
    sheet = read("plot,block,remark\n1,2\n3,4,x\n5\n6,7\n")
    assert sheet.columns["remark"] == [None, "x", None, None]
    (note,) = sheet.notes
    assert (note.row, note.found, note.what) == (2, "rows 2, 4-5", "short_row")


@pytest.mark.parametrize("content", ["", "\n\n", " \n,,\n", "\ufeff", '""\n'])
def test_empty_file(refused, content):
    assert "the file is empty" in refused(content)


def test_rows_with_more_cells_than_headings(refused):
    message = refused("plot,remark\n1,x\n2,lodged, hail\n3,y,\n4,a,b,c\n")
    assert "row 3, column C: 'hail' lies beyond the last heading" in message
    assert "row 5, column C: 'b'" in message and "row 4" not in message
    assert "double quotes" in message


def test_many_problems_of_a_kind_are_counted_not_listed(refused):
    message = refused("plot\n" + "1,2\n" * 30)
    assert "and 25 more like this" in message and len(message.splitlines()) < 10


def test_doubled_headings(refused):
    message = refused("Plot,block,plot \n1,2,3\n")
    assert "row 1: columns A and C are all headed 'plot'" in message


def test_cells_under_no_heading(refused):
    message = refused("plot,,block\n1,,2\n3,x,4\n")
    assert "row 3, column B: 'x' stands under no heading" in message and "cell B1" in message


def test_several_kinds_of_problem_come_in_one_message(refused):
    message = refused("plot,plot,\n1,2,3\n1,2,3,4\n")
    assert "columns A and B" in message and "row 2, column C" in message and "row 3, column D" in message


@pytest.mark.parametrize(
    ("content", "row"),
    [
        ('plot,remark\n1,x\n2,"hail\n3,y\n', 3),
        ('plot,remark\n1,"x"y\n', 2),
        ('"plot,remark\n1,2\n', 1),
        ("plot,remark\n" + "1,x\n" * 2500 + '2,"hail\n' + "3,yyyyyyyy\n" * 20_000, 2502),
    ],
)
def test_quotes_that_do_not_pair_up(refused, content, row):
    assert f"row {row}: the double quotes do not pair up" in refused(content)


@pytest.mark.parametrize(("separator", "called"), [(";", "semicolons"), ("\t", "tabs"), ("|", "vertical bars")])
def test_other_separators_are_read_with_a_note(read, separator, called):
    sheet = read(f"Harvest, 2095\nplot{separator}block\n1{separator}12.5\n")
    assert sheet.columns == {"plot": ["1"], "block": ["12.5"]} and not sheet.decimal_commas
    assert sheet.notes[-1].found == called and sheet.notes[-1].sentence == f"The file is read with {called}."


def test_decimal_commas_are_kept_and_shown_as_they_are_read(read):
    sheet = read("plot;weight\n1;12\n2;1,5\n")
    assert sheet.columns["weight"] == ["12", "1,5"] and sheet.decimal_commas
    assert (
        sheet.notes[-1].sentence
        == "The file is read with semicolons, decimal commas; row 3, column weight: '1,5' is read as 1.5."
    )


def test_a_comma_that_may_stand_between_thousands_is_not_guessed(refused):
    message = refused("plot;stand\n1;31,800\n2;30,250\n")
    assert "row 2, column stand: '31,800' may be 31.800 or 31800" in message and "read_as: {" in message
    assert "row 2, column a: '1,5', and row 3, column a: '2.5'" in refused("plot;a\n1;1,5\n2;2.5\n")


def test_semicolons_inside_cells_are_text(read):
    assert read('plot,"a; b; c"\n1,x;y;z\n').columns["a;_b;_c"] == ["x;y;z"]


def test_a_separator_line(refused):
    assert "row 1: 'sep=,'" in refused("sep=,\nplot,block\n1,2\n")


@pytest.mark.parametrize("encoding", ["utf-16-le", "utf-16-be", "utf-32", "utf-32-le"])
def test_utf16_without_a_mark_and_utf32(refused, encoding):
    message = refused("plot,block\n1,2\n".encode(encoding))
    assert ("UTF-16" in message or "UTF-32" in message) and "CSV UTF-8" in message
    assert ("NUL byte" in message) == encoding.endswith(("le", "be"))  # without a byte order mark


@pytest.mark.parametrize("order", ["le", "be"])
def test_utf16_with_a_mark_is_read_with_a_note(read, order):
    """As a spreadsheet program writes "Unicode text": tabs, and quotes where a cell holds a line break."""
    text = '\ufeffplot\tGehöft\r\n1\tplain\r\n2\t"Höhe,\n Süd"\r\n3\t雪 𝄞\r\n'
    sheet = read(text.encode(f"utf-16-{order}"))
    assert sheet.columns == {"plot": ["1", "2", "3"], "gehöft": ["plain", "Höhe,\n Süd", "雪 𝄞"]}
    (note,) = [note for note in sheet.notes if note.what == "read_otherwise"]
    assert note.found == "tabs, UTF-16"
    assert note.sentence == "The file is read with tabs, UTF-16; row 3, column gehöft reads 'Höhe, Süd'."


def test_utf16_that_is_cut_off_or_no_text(refused):
    whole = "plot,block\n1,2\n".encode("utf-16")
    for content in (whole[:-1], whole + "\ud800".encode("utf-16-le", "surrogatepass")):
        message = refused(content)
        assert "UTF-16 text that breaks off, or holds what is no text" in message and "CSV UTF-8" in message
    assert "line 2: a NUL byte" in refused("plot,block\n1,\0\n".encode("utf-16"))
    assert "the file is empty" in refused("\r\n".encode("utf-16"))


def test_nul_bytes_name_the_line(refused):
    assert "line 3: a NUL byte" in refused(b"plot,block\n1,2\n3,\0\n")


def test_the_old_windows_encoding_is_read_with_a_note(read):
    sheet = read('plot,Gehöft\n1,plain\n2,"Höhe,\n Süd"\n'.encode("cp1252"))
    assert sheet.columns["gehöft"] == ["plain", "Höhe,\n Süd"]
    (note,) = [note for note in sheet.notes if note.what == "read_otherwise"]
    assert note.sentence == "The file is read with Windows-1252; row 3, column gehöft reads 'Höhe, Süd'."


def test_text_of_no_encoding_shows_the_cells(refused):
    message = refused('plot,Gehöft\n1,plain\n2,"Höhe,\n \x81Süd"\n'.encode("latin-1"))
    assert "row 1, column B: 'Gehöft'" in message and "row 3, column B (Gehöft): 'Höhe," in message
    assert "CSV UTF-8" in message


def _zip(*members: str) -> bytes:
    buffer = io.BytesIO()
    with zipfile.ZipFile(buffer, "w") as archive:
        for member in members:
            archive.writestr(member, "x")
    return buffer.getvalue()


@pytest.mark.parametrize(
    ("content", "mend"),
    [
        (_zip("[Content_Types].xml", "xl/workbook.xml"), "rename it to .xlsx"),
        (_zip("plots.csv"), "Unpack it"),
        (gzip.compress(b"plot,block\n1,2\n", mtime=0), "Unpack it"),
        (b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1" + b"\0" * 600, "unprotected .xlsx"),
        (b"%PDF-1.7\n", "PDF"),
        (b"\x89PNG\r\n\x1a\n\0\0\0\rIHDR", "no text file at all"),
        (b"<html><body><table><tr><td>plot</td></tr></table>", "web page"),
        (bytes(range(128, 256)) * 4, "not UTF-8"),
    ],
)
def test_files_of_another_kind_named_csv(refused, content, mend):
    assert mend in refused(content)


# Text that UTF-8 can hold, without NUL, which no text file holds.
CELL = st.text(st.characters(exclude_categories=["Cs"], exclude_characters="\0"), max_size=8)


@example(rows=[("", ";\n", ";\n0")])  # a quoted cell over lines, each with another separator
@example(rows=[("", ";\n", ";\n")])
@example(rows=[("", "LB", "")])  # a row of units, of which a note tells
@given(st.lists(st.tuples(CELL, CELL, CELL), max_size=6))
def test_no_row_and_no_cell_is_lost(rows):
    buffer = io.StringIO(newline="")
    csv.writer(buffer).writerows([("plot", "block", "remark"), *rows])
    sheet = read_csv(buffer.getvalue().encode(), stem="plots", name=NAME)
    filled = [(number, row) for number, row in enumerate(rows, start=2) if "".join(row).strip()]
    of_units = [note.row for note in sheet.notes if note.what == "unit_row"]
    assert of_units + sheet.row_numbers == [number for number, _ in filled]
    kept = list(zip(*sheet.columns.values(), strict=True))
    assert kept == [tuple(cell if cell.strip() else None for cell in row) for _, row in filled[len(of_units) :]]


@given(
    st.binary(max_size=60) | st.lists(st.sampled_from([b"a", b",", b"\n", b'"', b"\xe4", b";", b"\r"])).map(b"".join)
)
def test_any_bytes_are_read_or_refused(content):
    try:
        read_csv(content, stem="plots", name=NAME)
    except UserError as error:
        assert str(error).startswith(NAME + ":")


@pytest.mark.slow
def test_a_million_rows_in_a_minute(read):
    lines = ("T%d,%d,%.2f,urea,broadcast,RCBD,,1,2,3,4,5,6,7,8" % (i // 48, i, i * 0.37) for i in range(1_000_000))
    content = ",".join(f"h{i}" for i in range(15)) + "\n" + "\n".join(lines)
    start = time.perf_counter()
    sheet = read(content)
    # Loose, so that it holds on a busy machine; a time that grows with the square of the rows would still show.
    assert time.perf_counter() - start < 60
    assert len(sheet.row_numbers) == 1_000_000 and sheet.columns["h1"][-1] == "999999"
