"""A season folder from elsewhere is copied into the program for a run: it stays if the run is stored, and is gone again
if not.

A command that is killed cannot take it out. It leaves a mark beside it, by which the next command does: a file that
names the year and holds a hash of what was copied, and that is locked as long as the command lives.
"""

from __future__ import annotations

import hashlib
import re
import shutil
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path

from filelock import AcquireReturnProxy, FileLock, Timeout

from pipeline.errors import UserError
from pipeline.incoming.paths import cannot_be_read, shown
from pipeline.provenance import sha256_of

MARK = ".{year}.unfinished"


@contextmanager
def brought_in(season_folder: Path, program_folder: Path) -> Iterator[Callable[[], None]]:
    """Copies a season folder into the program. Gives out what to call when the run is about to be stored, and again
    when it is.

    From the first call on a stop or a kill leaves the folder there, from the second also a failure.

    Raises:
        UserError: it is no season folder, or cannot be copied.
    """
    target = program_folder / "seasons" / season_folder.resolve().name
    if not season_folder.is_dir():
        raise UserError(f"{season_folder} is not a folder. Name the season's folder, like seasons/2094.")
    if not re.fullmatch(r"\d{4}", target.name):
        raise UserError(f"{season_folder}: name the folder by its harvest year, like 2094")
    if target.parent.exists() and not target.parent.is_dir():
        raise UserError(f"{target.parent} is a file, and must be the folder of the seasons. Move it away.")
    unread = [f"{shown(p)}: {why}" for p in sorted(season_folder.rglob("*")) if (why := cannot_be_read(p))]
    if unread:
        raise UserError("\n".join(unread))
    take_out_unfinished(target.parent)
    if season_folder.resolve() == target.resolve() or (
        target.exists() and _contents(target) == _contents(season_folder)
    ):
        yield lambda: None
        return
    if target.exists():
        raise UserError(
            f"{target} is there already, with other files. Put the new or corrected files into it and run: make season"
            f" SEASON={target}"
        )
    target.parent.mkdir(exist_ok=True)
    mark = target.with_name(MARK.format(year=target.name))
    n_calls = 0

    def storing() -> None:
        nonlocal n_calls
        n_calls += 1
        mark.unlink(missing_ok=True)

    with _taken(mark):
        try:
            _copy(season_folder, target, mark)
            yield storing
        except BaseException as problem:
            if not n_calls or (n_calls == 1 and isinstance(problem, Exception)):  # a stop may come as all is stored
                shutil.rmtree(target, ignore_errors=True)
            raise
        finally:
            mark.unlink(missing_ok=True)


def _taken(mark: Path) -> AcquireReturnProxy:
    """UserError where another command brings the same season in."""
    try:
        return FileLock(mark, blocking=False).acquire()
    except Timeout:
        year = mark.name.split(".")[1]
        raise UserError(
            f"Another command is bringing season {year} into the program. Let it end, then run this again."
        ) from None


def take_out_unfinished(seasons: Path) -> None:
    """Takes out what a killed command brought in, unless somebody has changed it since."""
    for mark in seasons.glob(MARK.format(year="[0-9]" * 4)):
        target = mark.with_name(mark.name.split(".")[1])
        lock = FileLock(mark, blocking=False)
        try:
            lock.acquire()
        except (Timeout, OSError):
            continue  # that command is still at work, or nothing may be written here
        try:
            shutil.rmtree(_half(target), ignore_errors=True)
            if target.is_dir() and mark.read_text(encoding="utf-8") == _hash(target):
                shutil.rmtree(target)
            mark.unlink()
        finally:
            lock.release()


def _copy(season_folder: Path, target: Path, mark: Path) -> None:
    """Under a name that no run reads until all of it is there."""
    half = _half(target)
    shutil.rmtree(half, ignore_errors=True)
    try:
        shutil.copytree(season_folder, half)
    except shutil.Error as problem:
        source, _, why = problem.args[0][0]
        shutil.rmtree(half, ignore_errors=True)
        raise UserError(f"{source} cannot be copied into the program ({why}). Check who may read it.") from None
    mark.write_text(_hash(half), encoding="utf-8")
    half.rename(target)


def _half(target: Path) -> Path:
    return target.with_name(f".{target.name}.arriving")


def _contents(folder: Path) -> dict[str, str]:
    """Hash of every file by its path within the folder."""
    paths = (p for p in folder.rglob("*") if p.is_file())
    return {p.relative_to(folder).as_posix(): sha256_of(p) for p in paths}


def _hash(folder: Path) -> str:
    return hashlib.sha256(repr(sorted(_contents(folder).items())).encode("utf-8", "surrogatepass")).hexdigest()
