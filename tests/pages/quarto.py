"""A real Quarto for the tests: the one on PATH, else one set up once a session from the archive beside the checkout."""

from __future__ import annotations

import os
import shutil
import subprocess
from pathlib import Path

import pytest

from tests.made_once import made_once

ROOT = Path(__file__).parents[2]
SET_UP = ROOT.parent / "shared" / "quarto" / "set-up"  # FOLDER: puts a Quarto into it, FOLDER/bin/quarto


def quarto_folder(tmp_path_factory) -> Path:
    """The folder in which Quarto stands, for PATH; without one the test is skipped."""
    if found := shutil.which("quarto"):
        return Path(found).parent
    if not SET_UP.is_file():
        pytest.skip(
            f"no Quarto on PATH and no {SET_UP.relative_to(ROOT.parent)} beside this folder: its pages are not"
            " looked at"
        )
    return made_once(tmp_path_factory, "quarto-itself", _set_up) / "bin"


def _set_up(folder: Path) -> None:
    # R, once started in this process, names libraries of its own that another Python must not load
    environment = {name: value for name, value in os.environ.items() if name != "LD_LIBRARY_PATH"}
    made = subprocess.run([SET_UP, folder], capture_output=True, text=True, env=environment)
    if made.returncode != 0:
        pytest.skip(f"Quarto could not be set up, so its pages are not looked at: {made.stderr.strip()[-300:]}")
