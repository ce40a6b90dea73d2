"""Deliveries as somebody may send them: tables of the sound tiny program, with cells, headings, rows, encodings, bytes
and parts changed.
"""

from __future__ import annotations

import csv
import io
import random
import re
from dataclasses import dataclass
from datetime import datetime
from functools import cache
from pathlib import Path

from openpyxl import Workbook
from openpyxl.cell import MergedCell
from openpyxl.comments import Comment

from tests.hard_to_break.soak.payloads import hostile
from tests.tiny_program import write_tiny_program
from tests.workbook_parts import parts_of, zipped

TABLES = ("plots", "trials", "treatments", "nitrogen_applications", "weather_daily", "sites", "rain_history")
SEPARATORS = ",,,,,;\t|"
NO_XML = re.compile("[\\x00-\\x08\\x0b\\x0c\\x0e-\\x1f\\ud800-\\udfff\\ufffe\\uffff]")  # what XML cannot hold
LONGEST_CELL, WIDEST_SHEET = 32_767, 16_384  # of a workbook
Rows = list[list[str]]


@dataclass(frozen=True)
class Delivery:
    """One file. rows: what stands in it, where that is known: as long as no byte and no part was changed."""

    name: str
    content: bytes
    rows: Rows | None


@cache
def sound_tables() -> dict[str, Rows]:
    """The tables of a season of the sound tiny program, headings first."""
    import tempfile

    with tempfile.TemporaryDirectory() as scratch:
        tiny = write_tiny_program(Path(scratch) / "program")
        return {table: tiny.rows(table) for table in TABLES}


def csv_delivery(drawn: random.Random, table: str = "", rows: Rows | None = None) -> Delivery:
    """A text file of a table; rows: those of the sound tiny program, where no others are given."""
    table = table or drawn.choice(TABLES)
    rows = mutated(rows or sound_tables()[table], drawn)
    separator = drawn.choice(SEPARATORS)
    text = io.StringIO()
    ends, quoting = drawn.choice(("\r\n", "\n")), drawn.choice((csv.QUOTE_MINIMAL, csv.QUOTE_MINIMAL, csv.QUOTE_ALL))
    if any("\r" in cell for row in rows for cell in row):
        ends = "\r\n"  # else the writer would not quote such a cell, and would end a row there
    csv.writer(text, delimiter=separator, lineterminator=ends, quoting=quoting).writerows(rows)
    encoding = drawn.choice(("utf-8",) * 8 + ("utf-8-sig", "cp1252", "utf-16", "utf-32", "latin-1", "cp037", "utf-7"))
    content = text.getvalue().encode(
        encoding, "surrogatepass" if encoding.startswith("utf") and encoding != "utf-7" else "replace"
    )
    is_known = encoding in ("utf-8", "utf-8-sig") and not text.getvalue().startswith("\ufeff")  # which is no text there
    if drawn.random() < 0.25:
        content, is_known = with_bytes_changed(content, drawn), False
    suffix = drawn.choice((".csv",) * 6 + (".tsv", ".txt"))
    return Delivery(table + suffix, content, rows if is_known else None)


def xlsx_delivery(drawn: random.Random) -> Delivery:
    tables = drawn.sample(TABLES, drawn.choice((1, 1, 1, 2, 3)))
    book = Workbook()
    book.remove(book.active)
    by_sheet = [mutated(sound_tables()[table], drawn) for table in tables]
    is_known = all([_fill(book.create_sheet(table), rows, drawn) for table, rows in zip(tables, by_sheet, strict=True)])
    buffer = io.BytesIO()
    book.save(buffer)
    content, kind = buffer.getvalue(), drawn.random()
    if kind < 0.3:
        content, is_known = with_parts_changed(content, drawn), False
    elif kind < 0.4:
        content, is_known = with_bytes_changed(content, drawn), False
    suffix = drawn.choice((".xlsx",) * 8 + (".xls", ".ods", ".csv"))
    rows = by_sheet[0] if is_known and len(tables) == 1 and suffix == ".xlsx" else None
    return Delivery(f"harvest{suffix}", content, rows)


def mutated(rows: Rows, drawn: random.Random) -> Rows:
    """One to six changes of cells, headings, rows and columns."""
    rows = [list(row) for row in rows]
    for _ in range(drawn.choice((1, 1, 2, 3, 6))):
        _change(rows, drawn)
    return rows


def _change(rows: Rows, drawn: random.Random) -> None:
    kind = drawn.randrange(24)
    row = drawn.randrange(len(rows)) if rows else 0
    if not rows or not rows[row]:
        rows.insert(row, [hostile(drawn)])
    elif kind < 10:
        column = drawn.randrange(len(rows[row]))
        rows[row][column] = hostile(drawn, rows[row][column])
    elif kind < 12:
        column = drawn.randrange(len(rows[0])) if rows[0] else 0
        rows[0][column : column + 1] = [hostile(drawn, rows[0][column] if rows[0] else "")]
    elif kind == 12:
        rows.insert(row, [hostile(drawn) for _ in range(drawn.randrange(1, 9))])
    elif kind == 13:
        rows.insert(drawn.randrange(len(rows)), list(rows[row]))
    elif kind == 14:
        del rows[row]
    elif kind == 15:
        drawn.shuffle(rows)
    elif kind == 16:
        rows[row].append(hostile(drawn))
    elif kind == 17:
        del rows[row][drawn.randrange(len(rows[row])) :]
    elif kind == 18:
        column = drawn.randrange(len(rows[row]))
        for each in rows:
            each[column : column + 1] = drawn.choice(([], [""], each[column : column + 1] * 2))
    elif kind == 19:
        column = drawn.randrange(len(rows[row]))
        for each in rows[1:]:
            each[column : column + 1] = [hostile(drawn, "".join(each[column : column + 1]))]
    elif kind == 20:
        rows.append(["Total", *("" for _ in rows[row]), "123"])
    elif kind == 21:
        rows[row:row] = [[] for _ in range(drawn.choice((1, 3, 40)))]
    elif kind == 22 and drawn.random() < 0.05:
        rows.extend([list(each) for each in rows[1:]] * 200)
    elif kind == 23 and drawn.random() < 0.05:
        rows[row].extend([hostile(drawn)] * drawn.choice((900, 1_100, 17_000)))
    else:
        other = drawn.randrange(len(rows))
        rows[row], rows[other] = rows[other], rows[row]


def with_bytes_changed(content: bytes, drawn: random.Random) -> bytes:
    changed = bytearray(content)
    for _ in range(drawn.choice((1, 1, 3, 20))):
        at = drawn.randrange(len(changed) + 1)
        kind = drawn.randrange(5)
        if kind == 0:
            changed[at : at + 1] = drawn.randbytes(1)
        elif kind == 1:
            changed[at:at] = drawn.choice(
                (b"\0", b"\xff\xfe", b'"', b"\r", b"\x1a", b"\xc3", drawn.randbytes(drawn.randrange(1, 300)))
            )
        elif kind == 2:
            del changed[at : at + drawn.choice((1, 10, 1_000))]
        elif kind == 3:
            changed[at:at] = changed[: drawn.randrange(len(changed) + 1)]
        else:
            del changed[at:]
    return bytes(changed)


def _fill(sheet, rows: Rows, drawn: random.Random) -> bool:
    """Writes the rows as a spreadsheet program stores them; whether the same rows must be found in it again."""
    is_known = as_typed = drawn.random() < 0.5
    for number, row in enumerate(rows, start=1):
        is_known = is_known and len(row) <= WIDEST_SHEET
        for column, text in enumerate(row[:WIDEST_SHEET], start=1):
            stored = NO_XML.sub("", text)[:LONGEST_CELL]
            is_known = is_known and stored == text and not text.startswith("=")
            sheet.cell(number, column).value = stored if as_typed else _number_or_day(stored)
    for _ in range(drawn.choice((0, 0, 0, 1, 2))):
        _mark(sheet, drawn)
        is_known = False
    return is_known


def _number_or_day(text: str) -> object:
    """As a spreadsheet program stores what was typed."""
    if re.fullmatch(r"-?\d{1,15}(\.\d{1,15})?", text):
        return float(text) if "." in text else int(text)
    if re.fullmatch(r"20\d\d-0[1-9]-[012][1-8]", text):
        return datetime.fromisoformat(text)
    return text or None


def _mark(sheet, drawn: random.Random) -> None:
    cell = sheet.cell(drawn.randrange(1, 15), drawn.randrange(1, 9))
    kind = drawn.randrange(8)
    if isinstance(cell, MergedCell):
        return
    if kind == 0:
        cell.value = drawn.choice(("=1+1", "=A1", "=1/0", "=cmd|' /C calc'!A0", '=HYPERLINK("x")', "=NOW()"))
    elif kind == 1:
        row, column = drawn.randrange(1, 12), drawn.randrange(1, 6)
        sheet.merge_cells(
            start_row=row, start_column=column, end_row=row + drawn.randrange(4), end_column=column + drawn.randrange(4)
        )
    elif kind == 2:
        cell.number_format = drawn.choice(
            ("0.00E+00", "yyyy-mm-dd", "[h]:mm", "@", '"x"0', "0%", "# ?/?", "dd/mm/yy", "General;;;", "[$-409]0")
        )
    elif kind == 3:
        cell.comment = Comment(NO_XML.sub("", hostile(drawn))[:3_000], "somebody")
    elif kind == 4:
        sheet.row_dimensions[cell.row].hidden = True
    elif kind == 5:
        sheet.column_dimensions[cell.column_letter].hidden = True
    elif kind == 6:
        sheet.cell(drawn.choice((500, 60_000, 1_048_576)), drawn.choice((1, 200, 16_384))).value = drawn.choice(
            ("x", 1, None)
        )
    else:
        sheet.title = drawn.choice(
            ("Plots", "PLOTS ", "plots (2)", "_plots", "notes", "\u202eplots", "a" * 31, "{row}")
        )


TOKENS = (
    (b"<v>", b"<v>1e999"), (b"<v>", b"<v>-1"), (b"<v>", b"<v>99999999"), (b"<v>", b"<v>\xff"), (b"<v>", b"<v></v><v>"),
    (b't="s"', b't="b"'), (b't="s"', b't="e"'),
    (b't="s"', b't="d"'), (b't="s"', b't="inlineStr"'), (b't="s"', b't="x"'), (b'r="A1"', b'r="A0"'),
    (b'r="A2"', b'r="XFE2"'), (b'r="B2"', b'r="A2"'), (b'r="', b'r="-'),
    (b'r="2"', b'r="1048577"'), (b'r="3"', b'r="2"'), (b'r="2"', b'r="x"'), (b' r="', b' q="'), (b's="', b's="999'),
    (b"<t>", b"<t>_x001B_[2J"), (b"<t>", b"<t>_x0000_"), (b"<t>", b"<t>&#x1b;"),
    (b"<t>", b"<t>&undefined;"), (b"<t>", b"<r><t>"), (b"<sheetData>", b"<sheetData/><sheetData>"),
    (b"</worksheet>", b"<mergeCells><mergeCell ref=\"A1:A3\"/><mergeCell ref=\"A2:B9\"/></mergeCells></worksheet>"),
    (b"</worksheet>", b"<mergeCells><mergeCell ref=\"x\"/></mergeCells></worksheet>"), (b"</worksheet>", b""),
    (b"<workbookPr", b"<workbookPr date1904=\"1\""), (b'sheetId="1"', b'sheetId="x"'),
    (b'state="visible"', b'state="veryHidden"'), (b'name="', b'name="&lt;'), (b"rId1", b"rId9"),
    (b"worksheets/sheet1.xml", b"../../../../etc/passwd"), (b"UTF-8", b"UTF-16"), (b"UTF-8", b"x"),
    (b"<?xml", b"<!DOCTYPE x [<!ENTITY a \"b\">]><?xml"),
    (b"numFmtId=\"0\"", b"numFmtId=\"14\""), (b"<c ", b"<c><f>1+1</f></c><c "),
    (b"<c ", b"<c t=\"str\"><f>A1</f><v>=x</v></c><c "), (b"/>", b">"), (b"xmlns=", b"xmlnt="),
    (b"dimension ref=\"", b"dimension ref=\"A1:XFD1048576"),
)  # fmt: skip


def with_parts_changed(content: bytes, drawn: random.Random) -> bytes:
    """The zipped parts changed: texts within them, their bytes, names and number."""
    parts = parts_of(content)
    for _ in range(drawn.choice((1, 1, 2, 4))):
        name = (
            drawn.choice(sorted(parts))
            if drawn.random() < 0.4
            else drawn.choice([n for n in sorted(parts) if "sheet" in n.lower() or "workbook" in n] or sorted(parts))
        )
        kind = drawn.randrange(10)
        if kind < 6:
            fitting = [pair for pair in TOKENS if pair[0] in parts[name]] or [(b"", b"x")]
            old, new = drawn.choice(fitting)
            parts[name] = parts[name].replace(old, new, drawn.choice((1, 1, 3, -1)))
        elif kind == 6:
            parts[name] = with_bytes_changed(parts[name], drawn)
        elif kind == 7 and len(parts) > 1:
            del parts[name]
        elif kind == 8:
            parts[
                drawn.choice(("xl/calcChain.xml", "../x", "/etc/passwd", name.upper(), "xl/vbaProject.bin", name + "/"))
            ] = parts[name]
        else:
            parts[name] = drawn.choice((b"", b"x", parts[drawn.choice(sorted(parts))]))
    return zipped(parts)
