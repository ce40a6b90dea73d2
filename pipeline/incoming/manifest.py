"""manifest.csv of a season folder: what was received, from whom, when, and the hash it had then."""

from __future__ import annotations

import re
from dataclasses import dataclass
from datetime import date
from pathlib import Path

from pipeline.errors import UserError
from pipeline.incoming.readers import read_file

FILE_NAME = "manifest.csv"
HEADINGS = ("file", "sha256", "sender", "received")


@dataclass(frozen=True)
class Received:
    """One line of a manifest. `file` is the path within the program."""

    file: str
    sha256: str
    sender: str
    received: date | None


def read_manifest(season_folder: Path, program_folder: Path) -> list[Received]:
    """The lines of a season's manifest, none where there is no manifest; UserError names the row of a mistake."""
    path = season_folder / FILE_NAME
    if not path.is_file():
        return []
    name = path.relative_to(program_folder).as_posix()
    sheet = read_file(path, name=name)[0]
    missing = [heading for heading in HEADINGS if heading not in sheet.headings]
    if missing:
        raise UserError(
            f"{name}: lacks the column {', '.join(missing)}; it must have the columns {', '.join(HEADINGS)}"
        )
    within = season_folder.relative_to(program_folder).as_posix()
    lines = zip(sheet.row_numbers, *(sheet.columns[heading] for heading in HEADINGS), strict=True)
    found: dict[str, tuple[int, Received]] = {}
    for row, *cells in lines:
        line = _line(name, within, row, *cells)
        if line.file in found:  # its rows would be held against both
            first = found[line.file][0]
            raise UserError(
                f"{name} row {row}, file: {cells[0].strip()} has a line in row {first} already; keep the line of the"
                " file that is there now"
            )
        found[line.file] = row, line
    return [line for _, line in found.values()]


def _line(
    name: str, within: str, row: int, file: str | None, sha256: str | None, sender: str | None, received: str | None
) -> Received:
    if not file:
        raise UserError(f"{name} row {row}, file: is empty; name the file this line is about")
    if not re.fullmatch(r"[0-9a-f]{64}", (sha256 or "").strip()):
        raise UserError(
            f"{name} row {row}, sha256: {sha256!r} is no sha256 (64 characters 0-9 and a-f); sha256sum prints it"
        )
    try:
        day = date.fromisoformat(received.strip()) if received else None
    except ValueError:
        raise UserError(f"{name} row {row}, received: {received!r} is no date; write it like 2093-11-20") from None
    return Received(f"{within}/{file.strip()}", sha256.strip(), (sender or "").strip(), day)
