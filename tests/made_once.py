"""Things that are dear to make and cheap to read: made once a session, by whichever worker asks first, and read by
all.
"""

from __future__ import annotations

import os
from collections.abc import Callable
from pathlib import Path

from filelock import FileLock


def made_once(tmp_path_factory, name: str, make: Callable[[Path], object]) -> Path:
    """A temporary folder that the first worker to ask for it makes, and all workers of a session read."""
    own = tmp_path_factory.getbasetemp()
    folder = (own.parent if "PYTEST_XDIST_WORKER" in os.environ else own) / f"once-{name}"
    is_made = folder.with_suffix(".made")
    with FileLock(folder.with_suffix(".lock")):
        if not is_made.exists():
            make(folder)
            is_made.touch()
    return folder
