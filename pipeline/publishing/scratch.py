"""A folder to work in beside the files it will replace, so that putting one in place is one rename.

It is locked while it is used. A run that is killed loses its lock but leaves its folder, so the next run takes away
every such folder that nobody holds.
"""

from __future__ import annotations

import shutil
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path

from filelock import FileLock, Timeout

from pipeline.errors import UserError

PREFIX = ".publishing-"
LOCK = ".held"


@contextmanager
def scratch_in(folder: Path, *, what: str) -> Iterator[Path]:
    """A new folder inside `folder` (made where it is missing), gone at the end; what killed runs left goes first.

    Raises:
        UserError: nothing can be written there; `what` says in the message what was to be.
    """
    try:
        folder.mkdir(parents=True, exist_ok=True)
        _sweep(folder)
        scratch = Path(tempfile.mkdtemp(prefix=PREFIX, dir=folder.resolve()))
    except OSError as error:
        raise UserError(f"{folder}: {what} cannot be written here ({error.strerror}).") from error
    lock = _lock(scratch)
    try:
        yield scratch
    finally:
        lock.release()
        shutil.rmtree(scratch, ignore_errors=True)


def _sweep(folder: Path) -> None:
    for left in folder.glob(f"{PREFIX}*"):
        if left.is_dir() and not left.is_symlink() and (lock := _lock(left)).is_locked:
            lock.release()
            shutil.rmtree(left, ignore_errors=True)


def _lock(folder: Path) -> FileLock:
    """The lock of a folder, which the system releases when its process ends; not held where another holds it, or
    nothing can.
    """
    lock = FileLock(folder / LOCK, blocking=False)
    with suppress(Timeout, OSError, NotImplementedError):
        lock.acquire()
    return lock
