"""Finds what was delivered in a program folder and reads it against the declared tables.

`seasons/<year>/` holds CSV files (one table each), workbooks (one sheet per table), or subfolders of either.
Headings must fit the contract for a file to be read at all; what the cells hold is judged later, row by row.
"""

from __future__ import annotations

import hashlib
import os
import re
import shutil
from collections.abc import Callable, Iterable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

from pipeline.errors import UserError
from pipeline.incoming.headings import SendersWords
from pipeline.incoming.merged_cells import fill_merged
from pipeline.incoming.misfits import check_fit
from pipeline.incoming.readers import TO_BE_SAVED_ANEW, read_file
from pipeline.incoming.sheet import Sheet, table_name

READABLE = (".csv", ".tsv", ".txt", ".xlsx", ".xls", ".ods")
WORKBOOKS = (".xlsx", ".xls", ".ods", ".xlsm", ".xlsb", ".numbers")
BESIDE = ("headings.yml", "manifest.csv", "corrections.yml")
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


@contextmanager
def brought_in(season_folder: Path, program_folder: Path) -> Iterator[None]:
    """Copies a season folder from elsewhere into the program; taken out again if the run that loads it does not finish."""
    target = program_folder / "seasons" / season_folder.resolve().name
    if not season_folder.is_dir():
        raise UserError(f"{season_folder} is not a folder. Name the season's folder, like seasons/2094.")
    if not re.fullmatch(r"\d{4}", target.name):
        raise UserError(f"{season_folder}: name the folder by its harvest year, like 2094")
    unread = [f"{_shown(p)}: {why}" for p in sorted(season_folder.rglob("*")) if (why := _cannot_be_read(p))]
    if unread:
        raise UserError("\n".join(unread))
    if season_folder.resolve() == target.resolve() or (
        target.exists() and _contents(target) == _contents(season_folder)
    ):
        yield
        return
    if target.exists():
        raise UserError(
            f"{target} is there already, with other files. Put the new or corrected files into it and run: make season SEASON={target}"
        )
    _copy(season_folder, target)
    try:
        yield
    except BaseException:
        shutil.rmtree(target)
        raise


def _copy(season_folder: Path, target: Path) -> None:
    """Under a name that no run reads until all of it is there."""
    half = target.with_name(f".{target.name}.arriving")
    shutil.rmtree(half, ignore_errors=True)
    try:
        shutil.copytree(season_folder, half)
    except shutil.Error as problem:
        source, _, why = problem.args[0][0]
        shutil.rmtree(half, ignore_errors=True)
        raise UserError(f"{source} cannot be copied into the program ({why}). Check who may read it.") from None
    half.rename(target)


def _contents(folder: Path) -> dict[str, str]:
    """Hash of every file by its path within the folder."""
    paths = (p for p in folder.rglob("*") if p.is_file())
    return {p.relative_to(folder).as_posix(): hashlib.sha256(p.read_bytes()).hexdigest() for p in paths}


def find_files(program_folder: Path) -> list[DeliveredFile]:
    """Every CSV and workbook under seasons/, in order of season and path."""
    seasons = program_folder / "seasons"
    if not seasons.is_dir():
        raise UserError(f"{seasons} is not there. Put each season's deliveries into seasons/<year>/.")
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
    shown = folder.relative_to(program_folder).as_posix()
    if not folder.is_dir() or not re.fullmatch(r"\d{4}", folder.name):
        raise UserError(f"{shown}: expected a folder named by its harvest year, like seasons/2093")
    everything = sorted(p for p in folder.rglob("*") if not p.name.startswith((".", "~$")))
    unread = [f"{_shown(p.relative_to(program_folder))}: {why}" for p in everything if (why := _cannot_be_read(p))]
    if unread:
        raise UserError("\n".join(unread))
    paths = [p for p in everything if p.is_file()]
    readable = [p for p in paths if p.suffix.lower() in (*READABLE, *TO_BE_SAVED_ANEW) and p.name not in BESIDE]
    if not readable:
        raise UserError(f"{shown} holds no .csv, .xlsx or other table; nothing was delivered for {folder.name}")
    return [_delivered(path, program_folder, int(folder.name)) for path in readable]


def _shown(path: Path) -> str:
    """A path as a message can hold it, whatever bytes its names are."""
    return os.fsencode(path).decode("utf-8", "replace")


def _cannot_be_read(path: Path) -> str:
    """Why something in a season folder would be passed over without a word, with the mend; '' where it would not."""
    if path.name != _shown(Path(path.name)):
        return "its name is not UTF-8 text; rename it, as to plots.csv"
    if path.is_symlink() and not path.exists():
        return "a link to something that is not there; put the file itself here, or remove the link"
    if path.is_symlink() and path.is_dir():
        return "a link to a folder, which is not followed; copy the folder itself here, or remove the link"
    if path.is_dir():
        return "a folder named like a file; rename it" if path.suffix.lower() in (*READABLE, *TO_BE_SAVED_ANEW) else ""
    return "" if path.is_file() else "neither a file nor a folder; remove it"


def _delivered(path: Path, program_folder: Path, season: int) -> DeliveredFile:
    try:
        content = path.read_bytes()
    except OSError as problem:
        raise UserError(f"{path}: cannot be read ({problem.strerror})") from None
    file = path.relative_to(program_folder).as_posix()
    delivery = file if path.suffix.lower() in WORKBOOKS else path.parent.relative_to(program_folder).as_posix()
    return DeliveredFile(path, file, delivery, season, hashlib.sha256(content).hexdigest(), len(content))


def beside_files(program_folder: Path) -> list[Path]:
    """What lies beside the deliveries and speaks about them."""
    return [p for p in sorted((program_folder / "seasons").rglob("*")) if p.name in BESIDE]


def input_files(program_folder: Path, files: list[DeliveredFile]) -> list[tuple[str, str]]:
    """(path, sha256) of all that decides the numbers beside program.yml: the deliveries and what lies beside them."""
    beside = beside_files(program_folder)
    told = [(p.relative_to(program_folder).as_posix(), hashlib.sha256(p.read_bytes()).hexdigest()) for p in beside]
    return [(f.file, f.sha256) for f in files] + told


def read_sheets(
    delivered: DeliveredFile, words: SendersWords, progress: Callable[[float], None] = lambda share: None
) -> list[Sheet]:
    """The tables in one file as they came; UserError where it cannot be read, Misfits where it is read and fits no table of ours."""
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
