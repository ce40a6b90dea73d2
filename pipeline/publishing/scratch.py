"""A folder to work in beside the files it will replace, so that putting one in place is one rename.

It is locked while it is used. A run that is killed loses its lock but leaves its folder, so the next run takes away
every such folder that nobody holds.
"""

from __future__ import annotations

import fcntl
import os
import shutil
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from pipeline.errors import UserError

PREFIX = ".publishing-"


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
        shutil.rmtree(scratch, ignore_errors=True)
        if lock is not None:
            os.close(lock)


def _sweep(folder: Path) -> None:
    for left in folder.glob(f"{PREFIX}*"):
        lock = _lock(left) if left.is_dir() and not left.is_symlink() else None
        if lock is not None:
            shutil.rmtree(left, ignore_errors=True)
            os.close(lock)


def _lock(folder: Path) -> int | None:
    """An open, locked handle on a folder, released by the system when its process ends; None where another holds it or folders cannot be locked."""
    handle = os.open(folder, os.O_RDONLY | os.O_DIRECTORY)
    try:
        fcntl.flock(handle, fcntl.LOCK_EX | fcntl.LOCK_NB)
    except OSError:
        os.close(handle)
        return None
    return handle
