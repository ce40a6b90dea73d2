"""Finds what was delivered in a program folder and reads it against the declared tables.

`seasons/<year>/` holds CSV files (one table each), workbooks (one sheet per table), or subfolders of either.
Headings must fit the contract for a file to be read at all; what the cells hold is judged later, row by row.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from pathlib import Path

from pipeline.errors import UserError
from pipeline.incoming.arriving import take_out_unfinished
from pipeline.incoming.headings import SendersWords
from pipeline.incoming.merged_cells import fill_merged
from pipeline.incoming.misfits import check_fit
from pipeline.incoming.paths import READABLE, cannot_be_read, may_not_be_opened, shown
from pipeline.incoming.readers import read_file
from pipeline.incoming.sheet import Sheet, table_name
from pipeline.incoming.sheet_limits import MOST_BYTES
from pipeline.provenance import sha256_of

WORKBOOKS = (".xlsx", ".xls", ".ods", ".xlsm", ".xlsb", ".numbers")
OF_A_SEASON = ("manifest.csv", "corrections.yml")  # read in the season's folder alone
BESIDE = ("headings.yml", *OF_A_SEASON)
NOT_HASHED = ""  # of a file that is too large to be read
NEEDED_EACH_SEASON = ("trials", "treatments")
NEEDED_ONCE_HARVESTED = "plots"


@dataclass(frozen=True)
class DeliveredFile:
    """One file of a season folder. `file` is its path within the program, as messages call it."""

    path: Path
    file: str
    delivery: str
    season: int
    sha256: str
    size_bytes: int

    @property
    def folder(self) -> str:
        """The folder it lies in, within the program; a headings.yml there speaks for it."""
        return folder_of(self.file)


def folder_of(file: str) -> str:
    """The folder of a file, both as paths within the program."""
    return file.rsplit("/", 1)[0]


def find_files(program_folder: Path) -> list[DeliveredFile]:
    """Every CSV and workbook under seasons/, in order of season and path."""
    seasons = program_folder / "seasons"
    if not seasons.is_dir():
        what = "is a file" if seasons.exists() else "is not there"
        raise UserError(f"{seasons} {what}. Put each season's deliveries into seasons/<year>/.")
    take_out_unfinished(seasons)
    delivered: list[DeliveredFile] = []
    problems: list[str] = []
    for folder in sorted(p for p in seasons.iterdir() if not p.name.startswith(".")):
        try:
            delivered += season_files(folder, program_folder)
        except UserError as problem:
            problems.append(str(problem))
    if problems:
        raise UserError("\n".join(problems))
    if not delivered:
        raise UserError(f"{seasons} holds no season yet. Put each season's deliveries into seasons/<year>/.")
    return delivered


def season_files(folder: Path, program_folder: Path) -> list[DeliveredFile]:
    """The files of one season folder, named by its harvest year."""
    name = folder.relative_to(program_folder).as_posix()
    if not folder.is_dir() or not re.fullmatch(r"\d{4}", folder.name):
        raise UserError(f"{name}: expected a folder named by its harvest year, like seasons/2093")
    if why := may_not_be_opened(folder):
        raise UserError(f"{name}: {why}")
    everything = _visible(folder)
    unread = [f"{shown(p.relative_to(program_folder))}: {why}" for p in everything if (why := cannot_be_read(p))]
    if unread:
        raise UserError("\n".join(unread))
    if misplaced := [p for p in everything if p.name in OF_A_SEASON and p.parent != folder]:
        raise UserError("\n".join(_misplaced(p.relative_to(program_folder).as_posix(), name) for p in misplaced))
    paths = [p for p in everything if p.is_file()]
    readable = [p for p in paths if p.suffix.lower() in READABLE and p.name not in BESIDE]
    if not readable:
        raise UserError(
            f"{name} holds no .csv, .xlsx or other table; nothing was delivered for {folder.name}. Put what came into"
            " it, or take the folder away until something comes."
        )
    return [_delivered(path, program_folder, int(folder.name)) for path in readable]


def _visible(folder: Path) -> list[Path]:
    """All below a folder but what programs hide there, such as locks and earlier versions."""
    return sorted(
        p for p in folder.rglob("*") if not any(part.startswith((".", "~$")) for part in p.relative_to(folder).parts)
    )


def _misplaced(file: str, season: str) -> str:
    own_name = Path(file).name
    return (
        f"{file}: {own_name} speaks for a whole season and is read in {season} alone. Put what it says into"
        f" {season}/{own_name}, or give the file another name."
    )


def _delivered(path: Path, program_folder: Path, season: int) -> DeliveredFile:
    try:
        n_bytes = path.stat().st_size
        sha256 = sha256_of(path) if n_bytes <= MOST_BYTES else NOT_HASHED
    except OSError as problem:
        raise UserError(f"{path}: cannot be read ({problem.strerror})") from None
    file = path.relative_to(program_folder).as_posix()
    delivery = file if path.suffix.lower() in WORKBOOKS else path.parent.relative_to(program_folder).as_posix()
    return DeliveredFile(path, file, delivery, season, sha256, n_bytes)


def beside_files(program_folder: Path) -> list[Path]:
    """What lies beside the deliveries and speaks about them."""
    return [p for p in _visible(program_folder / "seasons") if p.name in BESIDE]


def input_files(program_folder: Path, files: list[DeliveredFile]) -> list[tuple[str, str]]:
    """(path, sha256) of all that decides the numbers beside program.yml: the deliveries and what lies beside them."""
    beside = beside_files(program_folder)
    told = [(p.relative_to(program_folder).as_posix(), sha256_of(p)) for p in beside]
    return [(f.file, f.sha256) for f in files] + told


def read_sheets(
    delivered: DeliveredFile, words: SendersWords, progress: Callable[[float], None] = lambda share: None
) -> list[Sheet]:
    """The tables in one file as they came; UserError where it cannot be read, Misfits where it is read and fits no
    table of ours.
    """
    sheets = read_file(delivered.path, name=delivered.file, words=words, progress=progress)
    for sheet in sheets:
        fill_merged(sheet, words)
    check_fit(sheets, words, file=delivered.file, folder=delivered.folder, season=delivered.season)
    return sheets


def told_table(file: str, sheet: str | None, as_stored: str) -> str:
    """The table that a sheet is named for; a CSV file's contents may have been stored when it had another name."""
    return as_stored if sheet else table_name(Path(file).stem)


def check_season_complete(season: int, tables: Iterable[str], *, is_harvested: bool = False) -> None:
    """UserError if a season's files lack a table without which nothing can be counted.

    is_harvested: a trial of it is; a season of planned trials needs no plots, nor one of trials known only by print.
    """
    there = set(tables)
    needed = [*NEEDED_EACH_SEASON]
    if is_harvested and "printed_means" not in there:
        needed.append(NEEDED_ONCE_HARVESTED)
    missing = [name for name in needed if name not in there]
    if missing:
        raise UserError(
            f"seasons/{season}: no {' and no '.join(missing)} table was delivered "
            f"(a file {missing[0]}.csv, or a sheet named {missing[0]})"
        )
