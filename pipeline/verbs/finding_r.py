"""An R outside the loader's path, such as one from conda or in /opt, is made findable before a command begins."""

from __future__ import annotations

import ctypes
import os
import shutil
import subprocess
import sys
from pathlib import Path

PATH_OF_LOADER = "LD_LIBRARY_PATH"
LIBRARY = "libR.so"


def make_r_findable() -> None:
    """Starts this command anew with R's libraries on the loader's path, where R is there and the loader does not find
    them.

    A process cannot change that path for itself. Elsewhere than on Linux R's libraries know their own places.
    """
    folder = _folder_of_libraries() if sys.platform == "linux" and not _is_found() else None
    known = os.environ.get(PATH_OF_LOADER, "").split(os.pathsep)
    if folder is None or str(folder) in known:
        return
    os.environ[PATH_OF_LOADER] = os.pathsep.join([str(folder), *filter(None, known)])
    os.execv(sys.executable, [sys.executable, *sys.orig_argv[1:]])


def _is_found() -> bool:
    try:
        ctypes.CDLL(LIBRARY)
    except OSError:
        return False
    return True


def _folder_of_libraries() -> Path | None:
    """Where R says its libraries are; None without R, or where it was built without a shared library."""
    r = shutil.which("R")
    if r is None:
        return None
    home = subprocess.run([r, "RHOME"], capture_output=True, text=True, check=False).stdout.strip()
    folder = Path(home, "lib")
    return folder if (folder / LIBRARY).is_file() else None
