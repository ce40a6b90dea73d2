"""Is this the text of a separated file, and by what? Refusals made before any cell is read."""

from __future__ import annotations

import codecs
import csv
import io
import re
from collections import Counter
from dataclasses import dataclass

from pipeline.incoming.headings import UTF16, WINDOWS
from pipeline.incoming.sheet import column_letter, empty_file, named_places, refusal, shorten
from pipeline.incoming.sheet_limits import MOST_COLUMNS

_SAVE_AS_UTF8 = "Open it in a spreadsheet program and save it as 'CSV UTF-8 (comma delimited)'."
_UTF16_MARKS, _UTF32_MARKS = (codecs.BOM_UTF16_LE, codecs.BOM_UTF16_BE), (codecs.BOM_UTF32_LE, codecs.BOM_UTF32_BE)
_SIGNATURES = (
    (b"\xd0\xcf\x11\xe0", "this is an older or a protected workbook. Save it as an unprotected .xlsx."),
    (b"\x1f\x8b", "this is a compressed file. Unpack it and deliver the .csv inside."),
    (b"PAR1", "this is a Parquet file. Deliver it as 'CSV UTF-8'."),
)
_LINES_COMPARED = 20
_LINE_ENDS = re.compile(r"\r\n|\r|\n")
_WEB_PAGE = re.compile(rb"\s*<(!doctype|html|table|\?xml)", re.IGNORECASE)
SEPARATORS = {";": "semicolons", "\t": "tabs", "|": "vertical bars"}


@dataclass(frozen=True)
class Text:
    """A file's text, open for reading, the separator of its cells, and its encoding: WINDOWS, UTF16, "" for UTF-8."""

    lines: io.TextIOWrapper
    separator: str
    encoding: str


def separated_text(content: bytes, *, name: str) -> Text:
    """The file's text with its separator; raises UserError where it is no separated text in UTF-8, in UTF-16
    that says so, or in Windows-1252.
    """
    is_utf16 = content.startswith(_UTF16_MARKS) and not content.startswith(_UTF32_MARKS)
    if is_utf16:
        content = _utf16_as_utf8(content, name=name)
    _refuse_other_formats(content, name=name)
    is_cp1252 = _is_cp1252(content, name=name)
    codec = "cp1252" if is_cp1252 else "utf-8-sig"
    separator = _separator(content, codec, name=name)
    _refuse_wide_lines(content, separator, name=name)
    encoding = UTF16 if is_utf16 else WINDOWS if is_cp1252 else ""
    return Text(io.TextIOWrapper(io.BytesIO(content), encoding=codec, newline=""), separator, encoding)


def _utf16_as_utf8(content: bytes, *, name: str) -> bytes:
    """The text of spreadsheet programs' "Unicode text"; its first two bytes leave no doubt how it is read."""
    try:
        return content.decode("utf-16").encode()
    except UnicodeDecodeError as error:
        problem = "the file is UTF-16 text that breaks off, or holds what is no text"
        raise refusal(name, [f"{problem}. {_SAVE_AS_UTF8}"]) from error


def _refuse_wide_lines(content: bytes, separator: str, *, name: str) -> None:
    """Before its cells are made: a line of a million separators would fill the memory."""
    if not _has_long_line(content):
        return
    long_lines = ((i, line) for i, line in enumerate(io.BytesIO(content), start=1) if len(line) >= MOST_COLUMNS)
    for number, line in long_lines:
        n_cells = 1 + max(part.count(separator.encode()) for part in line.split(b"\r"))
        if n_cells > MOST_COLUMNS:
            problem = f"line {number}: {n_cells:,} cells; a spreadsheet has {MOST_COLUMNS:,} columns at most"
            raise refusal(name, [f"{problem}. Deliver the table alone, a plot to a row."])


def _has_long_line(content: bytes) -> bool:
    start = 0
    while len(content) - start >= MOST_COLUMNS:
        last_end = content.rfind(b"\n", start, start + MOST_COLUMNS - 1)
        if last_end < 0:
            return True
        start = last_end + 1
    return False


def _open_text(content: bytes, errors: str = "strict") -> io.TextIOWrapper:
    return io.TextIOWrapper(io.BytesIO(content), encoding="utf-8-sig", errors=errors, newline="")


def _refuse_other_formats(content: bytes, *, name: str) -> None:
    if not content.strip(b"\xef\xbb\xbf \t\r\n,"):
        raise empty_file(name)
    if content.startswith(b"PK\x03\x04"):
        is_workbook = b"xl/workbook" in content or b"[Content_Types].xml" in content
        kind = "this is a workbook: rename it to .xlsx." if is_workbook else "this is a .zip file. Unpack it first."
        raise refusal(name, [kind])
    if content.startswith(b"%PDF"):
        raise refusal(name, ["this is a PDF. Deliver the table it was made from."], only_sender_mends=True)
    for signature, kind in _SIGNATURES:
        if content.startswith(signature):
            raise refusal(name, [kind])
    if _WEB_PAGE.match(content):
        raise refusal(name, [f"this is a web page or XML, not comma-separated rows. {_SAVE_AS_UTF8}"])


def _is_cp1252(content: bytes, *, name: str) -> bool:
    """Whether the text is no UTF-8 and can be read in the old Windows encoding."""
    if content.startswith(_UTF32_MARKS):
        raise refusal(name, [f"the file is UTF-32 text. {_SAVE_AS_UTF8}"])
    nul = content.find(b"\0")
    if nul >= 0:
        line = content.count(b"\n", 0, nul) + 1
        problem = f"line {line}: a NUL byte, so this is UTF-16 text or no text file at all"
        raise refusal(name, [f"{problem}. {_SAVE_AS_UTF8}"])
    try:
        content.decode("utf-8")
        return False
    except UnicodeDecodeError as error:
        try:
            content.decode("cp1252")
            return True
        except UnicodeDecodeError:
            raise refusal(name, _undecodable_cells(content)) from error


def _undecodable_cells(content: bytes) -> list[str]:
    """Each cell that is not UTF-8, by row and column, as it reads in the old Windows encoding."""
    heading: list[str] = []
    places = []
    try:
        for row_number, row in enumerate(csv.reader(_open_text(content, errors="surrogateescape")), start=1):
            for position, cell in enumerate(row):
                if any("\udc80" <= character <= "\udcff" for character in cell):
                    title = f" ({shorten(_as_cp1252(heading[position]))})" if position < len(heading) else ""
                    column = column_letter(position) + title
                    places.append(f"row {row_number}, column {column}: '{shorten(_as_cp1252(cell))}'")
            heading = heading or row
    except csv.Error as error:
        places.append(f"the rows cannot be separated after that ({error})")
    meaning = "not UTF-8 text, shown as it reads in the Windows-1252 encoding"
    return [f"{'; '.join(named_places(places))}: {meaning}. {_SAVE_AS_UTF8}"]


def _as_cp1252(text: str) -> str:
    return text.encode("utf-8", "surrogateescape").decode("cp1252", "replace")


def _separator(content: bytes, encoding: str, *, name: str) -> str:
    """What splits the lines; commas where nothing does."""
    text = content.removeprefix(codecs.BOM_UTF8)[:65536].decode(encoding, "ignore")
    lines = _LINE_ENDS.split(text)
    row_number, heading = next(((i, line) for i, line in enumerate(lines, start=1) if line.strip(" \t,;")), (1, ""))
    if heading.lower().startswith("sep="):
        problem = f"row {row_number}: '{heading}' is an instruction to a spreadsheet program"
        raise refusal(name, [f"{problem}. Delete the row. {_SAVE_AS_UTF8}"])
    # a quoted cell may go on over several lines
    unquoted = _LINE_ENDS.split(re.sub(r'"[^"]*"', "", text))
    bare = [line for line in unquoted if line.strip()][:_LINES_COMPARED]
    return max((",", *SEPARATORS), key=lambda separator: _n_alike(bare, separator))


def _n_alike(lines: list[str], separator: str) -> tuple[int, int]:
    """In how many lines a separator stands equally often, and how often: a title or a decimal comma is no separator."""
    counts = Counter(n for line in lines if (n := line.count(separator)))
    often, n_lines = max(counts.items(), key=lambda each: (each[1], each[0]), default=(0, 0))
    return n_lines, often
