"""Is this the text of a table, and how is it written? Refusals made before any cell is read, and readings to be looked at once."""

from __future__ import annotations

import codecs
import csv
import io
import re
from dataclasses import dataclass

from pipeline.incoming.sheet import READING, Note, column_letter, named_places, refusal, shorten

_SAVE_AS_UTF8 = "Open it in a spreadsheet program and save it as 'CSV UTF-8 (comma delimited)'."
_UTF16_OR_32 = (codecs.BOM_UTF32_LE, codecs.BOM_UTF32_BE, codecs.BOM_UTF16_LE, codecs.BOM_UTF16_BE)
_SIGNATURES = (
    (b"\xd0\xcf\x11\xe0", "this is an older or a protected workbook. Save it as an unprotected .xlsx."),
    (b"%PDF", "this is a PDF. Deliver the table it was made from."),
    (b"\x1f\x8b", "this is a compressed file. Unpack it and deliver the .csv inside."),
    (b"PAR1", "this is a Parquet file. Deliver it as 'CSV UTF-8'."),
)
_WEB_PAGE = re.compile(rb"\s*<(!doctype|html|table|\?xml)", re.IGNORECASE)
_SEPARATORS = {";": "semicolons", "\t": "tabs", "|": "vertical bars"}
_NUMBER_WITH = r"(?:^|{separator})\s*\"?([+-]?\d*{sign}\d+)\"?\s*(?={separator}|$)"
_ALWAYS_THREE = re.compile(r"[+-]?\d{1,3},\d{3}")  # could be thousands
DECIMAL_COMMAS = "decimal commas"


@dataclass(frozen=True)
class OpenText:
    """A file's text, open for reading. readings: how it is read where not as commas, points and UTF-8, each with its example."""

    text: io.TextIOWrapper
    separator: str
    readings: dict[str, str]


def open_text(content: bytes, *, name: str) -> OpenText:
    """The file's text with what separates its cells; raises UserError where it is no text, or could be read in two ways."""
    _refuse_other_formats(content, name=name)
    content, readings = _as_utf8(content, name=name)
    content, told = _without_separator_line(content)
    separator, lines = _separator(content, told)
    if separator != ",":
        readings |= {_SEPARATORS[separator]: "Its cells are not separated by commas."} | _decimal_commas(
            lines, separator, name=name
        )
    return OpenText(_open_text(content), separator, readings)


def reading_note(opened: OpenText) -> list[Note]:
    """What to look at once, where the file was not read as comma-separated UTF-8; nothing else."""
    if not opened.readings:
        return []
    return [Note(None, None, ", ".join(opened.readings), READING, " ".join(filter(None, opened.readings.values())))]


def _open_text(content: bytes, errors: str = "strict") -> io.TextIOWrapper:
    return io.TextIOWrapper(io.BytesIO(content), encoding="utf-8-sig", errors=errors, newline="")


def _refuse_other_formats(content: bytes, *, name: str) -> None:
    if not content.strip(b"\xef\xbb\xbf \t\r\n,"):
        raise refusal(name, ["the file is empty. Deliver it with its headings, or leave it out."])
    if content.startswith(b"PK\x03\x04"):
        is_workbook = b"xl/workbook" in content or b"[Content_Types].xml" in content
        kind = "this is a workbook: rename it to .xlsx." if is_workbook else "this is a .zip file. Unpack it first."
        raise refusal(name, [kind])
    for signature, kind in _SIGNATURES:
        if content.startswith(signature):
            raise refusal(name, [kind])
    if _WEB_PAGE.match(content):
        raise refusal(name, [f"this is a web page or XML, not comma-separated rows. {_SAVE_AS_UTF8}"])


def _as_utf8(content: bytes, *, name: str) -> tuple[bytes, dict[str, str]]:
    """The content as UTF-8, and what else it was written in."""
    if content.startswith(_UTF16_OR_32):
        encoding = "utf-32" if content.startswith((codecs.BOM_UTF32_LE, codecs.BOM_UTF32_BE)) else "utf-16"
        try:
            return content.decode(encoding).encode("utf-8"), {
                encoding.upper(): "Its letters are written in two bytes or four."
            }
        except UnicodeDecodeError as error:
            raise refusal(
                name, [f"the file is UTF-16 or UTF-32 text, and is cut off or damaged. {_SAVE_AS_UTF8}"]
            ) from error
    nul = content.find(b"\0")
    if nul >= 0:
        line = content.count(b"\n", 0, nul) + 1
        problem = f"line {line}: a NUL byte, so this is UTF-16 text or no text file at all"
        raise refusal(name, [f"{problem}. {_SAVE_AS_UTF8}"])
    try:
        content.decode("utf-8")
        return content, {}
    except UnicodeDecodeError:
        return _from_cp1252(content, name=name)


def _from_cp1252(content: bytes, *, name: str) -> tuple[bytes, dict[str, str]]:
    cells = _undecodable_cells(content)
    try:
        return content.decode("cp1252").encode("utf-8"), {"Windows-1252": f"Its letters read so: {cells}."}
    except UnicodeDecodeError as error:
        raise refusal(name, [f"{cells}: not UTF-8 text, and not Windows-1252 either. {_SAVE_AS_UTF8}"]) from error


def _undecodable_cells(content: bytes) -> str:
    """Each cell that is not UTF-8, by row and column, as it reads in the old Windows encoding."""
    heading: list[str] = []
    places = []
    try:
        for row_number, row in enumerate(csv.reader(_open_text(content, errors="surrogateescape")), start=1):
            for position, cell in enumerate(row):
                if any("\udc80" <= character <= "\udcff" for character in cell):
                    title = f" ({_as_cp1252(heading[position])})" if position < len(heading) else ""
                    column = column_letter(position) + title
                    places.append(f"row {row_number}, column {column}: '{shorten(_as_cp1252(cell))}'")
            heading = heading or row
    except csv.Error as error:
        places.append(f"the rows cannot be separated after that ({error})")
    return "; ".join(named_places(places))


def _as_cp1252(text: str) -> str:
    return text.encode("utf-8", "surrogateescape").decode("cp1252", "replace")


def _without_separator_line(content: bytes) -> tuple[bytes, str]:
    """The content with a leading 'sep=;' blanked, which is no row, and what it names; empty where there is none."""
    line = re.match(rb'(?:\xef\xbb\xbf)?\s*("?sep=(.)"?)[ \t]*(?=\r|\n|$)', content, re.IGNORECASE)
    return (
        (content[: line.start(1)] + content[line.end(1) :], line[2].decode("utf-8", "replace"))
        if line
        else (content, "")
    )


def _separator(content: bytes, told: str) -> tuple[str, list[str]]:
    """What separates the cells, as told or by the first filled line, and all lines below that."""
    lines = re.split(r"\r\n|\r|\n", content.removeprefix(codecs.BOM_UTF8).decode("utf-8"))
    first = next((i for i, line in enumerate(lines) if line.strip(" \t,")), 0)
    bare = re.sub(r'"[^"]*"', "", lines[first])
    separator = max(_SEPARATORS, key=bare.count)
    found = separator if bare.count(separator) > bare.count(",") else ","
    return told if told in _SEPARATORS else found, lines[first + 1 :]


def _decimal_commas(lines: list[str], separator: str, *, name: str) -> dict[str, str]:
    """That numbers have decimal commas, with an example; refused where a comma could mean thousands."""
    with_comma, with_point = (_numbers_with(sign, lines, separator) for sign in (",", r"\."))
    if not with_comma:
        return {}
    if with_point:
        said = (
            f"there are numbers with a decimal comma ('{with_comma[0]}') and with a decimal point ('{with_point[0]}')"
        )
        raise refusal(name, [f"{said}. Use one of them throughout."])
    if all(_ALWAYS_THREE.fullmatch(number) for number in with_comma):
        said = f"'{with_comma[0]}' could be a decimal number or thousands, and no other number tells"
        raise refusal(name, [f"{said}. Write it without a comma, or with a decimal point."])
    example = next(number for number in with_comma if not _ALWAYS_THREE.fullmatch(number))
    return {DECIMAL_COMMAS: f"'{example}' is read as {example.replace(',', '.')}."}


def _numbers_with(sign: str, lines: list[str], separator: str) -> list[str]:
    pattern = re.compile(_NUMBER_WITH.format(separator=re.escape(separator), sign=sign))
    return [number for line in lines if line for number in pattern.findall(line)]
