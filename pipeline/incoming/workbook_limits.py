"""Sizes of a zipped workbook (.xlsx, .ods), looked at before any library reads it.

A file of a few kilobytes may unpack to gigabytes, merge all cells of a sheet or repeat one a million times. Its parts
are passed through in small pieces here, and what would fill the memory is refused with its place. The limits are our
own: a workbook within them is read in less than 800 MB.
"""

from __future__ import annotations

import io
import zipfile
import zlib
from collections.abc import Iterator
from dataclasses import dataclass
from xml.parsers import expat

from openpyxl.utils.cell import range_boundaries

from pipeline.incoming.sheet import column_letter, damaged_workbook, refusal

MOST_UNPACKED, MOST_TEXT = 200_000_000, 50_000_000  # bytes: of all parts together, and of those that are XML
# XML elements of the workbook, of which a cell has two to four; the rain of 12 places over 30 years has 2,000,000
MOST_IN_SHEETS, MOST_ELSEWHERE = 2_500_000, 100_000
MOST_RANGES, MOST_CELLS_OF_RANGES = 5_000, 100_000  # merged cells, and links over several cells
MOST_CELLS_OF_A_GRID = 1_000_000  # .ods are read with every cell up to the last row and column
_SHEETS = ("xl/worksheets/", "xl/sharedStrings.xml", "content.xml")
_WEIGHTS = {"row": 3, "f": 2}  # what takes more memory or time than a value
_RANGES = {"mergeCell": ("merged", "Unmerge them"), "hyperlink": ("one link", "Take it off the empty cells")}
_ODS_TABLE = "content.xml"
_PIECE = 1 << 16
_DAMAGES = (zipfile.BadZipFile, zlib.error, OSError, ValueError, RuntimeError, EOFError, NotImplementedError)


class _TooMuch(Exception):
    """What is too much, and how to mend it."""


@dataclass
class _Sums:
    """What the parts of a workbook would be in memory; _TooMuch where that is beyond a limit."""

    in_sheets: int = 0
    elsewhere: int = 0
    ranges: int = 0
    cells_of_ranges: int = 0
    cells_of_grids: int = 0

    def add_element(self, local: str, *, is_sheet: bool) -> None:
        if is_sheet:
            self.in_sheets += _WEIGHTS.get(local, 1)
        else:
            self.elsewhere += 1
        if self.in_sheets > MOST_IN_SHEETS or self.elsewhere > MOST_ELSEWHERE:
            raise _TooMuch(
                "more cells, rows or formats than are read from a workbook (about 700,000 cells). Delete the rows"
                " beneath the table that look empty, or copy its values into a new workbook, or save it as .csv."
            )

    def add_range(self, ref: str, what: str, mend: str) -> None:
        try:
            left, top, right, bottom = range_boundaries(ref)
        except (ValueError, TypeError):
            return  # the library that reads it says what is wrong
        width = 16_384 if left is None else right - left + 1
        height = 1_048_576 if top is None else bottom - top + 1
        self.ranges += 1
        self.cells_of_ranges += max(width * height, 0)
        if self.cells_of_ranges > MOST_CELLS_OF_RANGES or self.ranges > MOST_RANGES:
            most = f"at most {MOST_CELLS_OF_RANGES:,} cells of a workbook may be, in {MOST_RANGES:,} places"
            raise _TooMuch(f"the cells {ref} are {what}; {most}. {mend}.")

    def add_grid(self, row: int, column: int, before: int) -> None:
        self.cells_of_grids = before + row * column
        if self.cells_of_grids > MOST_CELLS_OF_A_GRID:
            raise _TooMuch(
                f"its cells go on to row {row:,}, column {column_letter(column - 1)}; at most {MOST_CELLS_OF_A_GRID:,}"
                " cells are read, empty ones between them too. Clear what stands far from the table."
            )


class _Part:
    """Goes through the XML of one part."""

    def __init__(self, name: str, sums: _Sums) -> None:
        self._sums, self._is_sheet, self._is_ods = sums, name.startswith(_SHEETS), name == _ODS_TABLE
        self._start_table("")
        self._parser = expat.ParserCreate(namespace_separator=" ")
        self._parser.StartElementHandler = self._element
        self._parser.StartDoctypeDeclHandler = self._doctype

    def read(self, pieces: Iterator[bytes]) -> None:
        for piece in pieces:
            self._parser.Parse(piece)

    def _element(self, name: str, attributes: dict[str, str]) -> None:
        local = name.rpartition(" ")[2]
        self._sums.add_element(local, is_sheet=self._is_sheet)
        if local in _RANGES and "ref" in attributes:
            self._sums.add_range(attributes["ref"], *_RANGES[local])
        elif self._is_ods:
            self._of_ods(local, {key.rpartition(" ")[2]: value for key, value in attributes.items()})

    def _doctype(self, *_: object) -> None:
        raise _TooMuch("it holds definitions of its own (DOCTYPE). Open the workbook and save it as .xlsx anew.")

    def _start_table(self, title: str) -> None:
        self.table, self._before = title, self._sums.cells_of_grids
        self._row = self._column = self._last_column = 0

    def _of_ods(self, local: str, attributes: dict[str, str]) -> None:
        """Rows and columns go on by how often each is repeated; a table ends with its last filled cell."""
        if local == "table":
            self._start_table(attributes.get("name", ""))
        elif local == "table-row":
            self._row, self._column = self._row + _times(attributes, "number-rows-repeated"), 0
        elif local in ("table-cell", "covered-table-cell"):
            self._column += _times(attributes, "number-columns-repeated")
        if local == "p" or "value-type" in attributes:
            self._last_column = max(self._last_column, self._column)
            self._sums.add_grid(self._row, self._last_column, self._before)


def _times(attributes: dict[str, str], key: str) -> int:
    text = attributes.get(key, "1")
    return int(text) if text.isdecimal() and len(text) < 10 else 1


def refuse_too_large(content: bytes, *, name: str) -> None:
    """UserError where a workbook would fill the memory; nothing where it is no .zip, which its reader tells."""
    try:
        archive = zipfile.ZipFile(io.BytesIO(content))
    except (zipfile.BadZipFile, OSError, ValueError, NotImplementedError):
        return
    parts = archive.infolist()
    texts = [part for part in parts if _is_xml(archive, part)]
    for some, most in ((parts, MOST_UNPACKED), (texts, MOST_TEXT)):
        unpacked = sum(part.file_size for part in some)
        if unpacked > most:
            largest = max(some, key=lambda part: part.file_size)
            problem = (
                f"the workbook unpacks to {_mb(unpacked)}, its part {largest.filename} to {_mb(largest.file_size)}; at"
                f" most {_mb(most)} are read"
            )
            raise refusal(
                name, [f"{problem}. Delete what is no data (pictures, long texts), or save the table as .csv."]
            )
    sums = _Sums()
    for part in texts:
        reading = _Part(part.filename, sums)
        try:
            reading.read(_pieces(archive, part))
        except _TooMuch as problem:
            where = f"sheet '{reading.table}'" if reading.table else _place(archive, part.filename)
            raise refusal(name, [f"{where}: {problem}"]) from None
        except (expat.ExpatError, *_DAMAGES):
            if part.filename == _ODS_TABLE:
                raise damaged_workbook(name) from None
            # any other is told by its reader, if it reads that part


def _is_xml(archive: zipfile.ZipFile, part: zipfile.ZipInfo) -> bool:
    try:
        with archive.open(part) as file:
            return file.read(100).lstrip(b"\xef\xbb\xbf\xff\xfe\0 \t\r\n").startswith(b"<")
    except _DAMAGES:
        return False


def _pieces(archive: zipfile.ZipFile, part: zipfile.ZipInfo) -> Iterator[bytes]:
    with archive.open(part) as file:
        yield from iter(lambda: file.read(_PIECE), b"")


def _mb(n: int) -> str:
    return f"{n / 1e6:,.0f} MB"


def _place(archive: zipfile.ZipFile, part: str) -> str:
    """ "sheet 'plots'" where a part is a sheet of an .xlsx, else the part's own name."""
    try:
        targets = {
            each["Id"]: each["Target"] for each in _elements(archive, "xl/_rels/workbook.xml.rels", "Relationship")
        }
        for each in _elements(archive, "xl/workbook.xml", "sheet"):
            if part.endswith(targets[each["id"]].lstrip("./")):
                return f"sheet '{each['name']}'"
    except (KeyError, expat.ExpatError, *_DAMAGES):
        pass
    return f"part {part} of the workbook"


def _elements(archive: zipfile.ZipFile, part: str, wanted: str) -> list[dict[str, str]]:
    found = []

    def start(name: str, attributes: dict[str, str]) -> None:
        if name.rpartition(" ")[2] == wanted:
            found.append({key.rpartition(" ")[2]: value for key, value in attributes.items()})

    parser = expat.ParserCreate(namespace_separator=" ")
    parser.StartElementHandler = start
    for piece in _pieces(archive, archive.getinfo(part)):
        parser.Parse(piece)
    return found
