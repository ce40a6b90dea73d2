"""The installed program carries all it needs: it runs outside any checkout."""

from __future__ import annotations

import os
import subprocess
import sys
import tomllib
from pathlib import Path

import pytest

from tests.tiny_program import TinyProgram

ROOT = Path(__file__).resolve().parents[2]
NEEDED_TO_BUILD = ("pipeline", "sql", "reports", "README.md", "LICENSE", "pyproject.toml")


@pytest.fixture(scope="module")
def installed(tmp_path_factory) -> Path:
    """A folder that pip installed the program into, from a copy: a build leaves files beside its sources."""
    checkout, target = tmp_path_factory.mktemp("checkout"), tmp_path_factory.mktemp("installed")
    for name in NEEDED_TO_BUILD:
        subprocess.run(["cp", "-r", ROOT / name, checkout], check=True)
    pip = [sys.executable, "-m", "pip", "--disable-pip-version-check", "install", "--quiet"]
    alone = ["--no-deps", "--no-index", "--no-build-isolation", "--target", target, checkout]
    subprocess.run([*pip, *alone], check=True)
    return target


def manyfields(installed: Path, *words: object, **settings: str) -> subprocess.CompletedProcess[str]:
    program = [sys.executable, "-m", "pipeline", *map(str, words)]
    environment = os.environ | {"PYTHONPATH": str(installed)} | settings
    return subprocess.run(program, cwd=installed, env=environment, capture_output=True, text=True)


def test_it_names_its_version(installed):
    version = tomllib.loads((ROOT / "pyproject.toml").read_text())["project"]["version"]
    assert manyfields(installed, "--version").stdout == f"manyfields {version}\n"


@pytest.mark.thorough
def test_it_reports_on_a_program_from_anywhere(installed, tiny: TinyProgram):
    done = manyfields(installed, "report", "--program", tiny.folder, FIT_BY="own")
    assert done.returncode == 0, done.stderr
    page = (tiny.folder / "published" / "index.html").read_text(encoding="utf-8")
    assert "by code version 0." in page


def test_every_folder_of_the_package_is_installed():
    listed = set(tomllib.loads((ROOT / "pyproject.toml").read_text())["tool"]["setuptools"]["packages"])
    folders = {
        path.parent.relative_to(ROOT).as_posix().replace("/", ".") for path in ROOT.glob("pipeline/**/__init__.py")
    }
    assert listed == folders | {"pipeline.sql", "pipeline.reports"}


def test_every_file_that_is_read_is_installed(installed):
    """All but the examples, Python's own and what only Quarto's project needs."""
    here = {path.relative_to(ROOT / "pipeline") for path in (ROOT / "pipeline").rglob("*") if path.is_file()}
    for folder in ("sql", "reports"):
        here |= {path.relative_to(ROOT) for path in (ROOT / folder).rglob("*") if path.is_file()}
    here = {path for path in here if "__pycache__" not in path.parts and path.parts[:2] != ("reports", "example")}
    there = {path.relative_to(installed / "pipeline") for path in (installed / "pipeline").rglob("*") if path.is_file()}
    assert not here - there
