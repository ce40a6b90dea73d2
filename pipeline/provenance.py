"""The run card: which code, software, settings and inputs made the numbers."""

from __future__ import annotations

import hashlib
import json
import platform
import subprocess
from collections.abc import Iterable
from dataclasses import asdict, dataclass
from datetime import UTC, datetime
from functools import cache
from importlib.metadata import Distribution, PackageNotFoundError, distributions, version
from pathlib import Path

from pipeline import folders

NAME = "manyfields"
PACKAGES = ("duckdb", "pandas", "polars", "pymer4", "rpy2", "statsmodels", "scipy", "numpy", "plotnine")


@dataclass(frozen=True)
class RunCard:
    """Everything that could make the same question give another number."""

    run_id: str
    started: datetime
    command: str
    code_commit: str
    lock_sha256: str
    python: str
    packages: str
    settings_sha256: str
    inputs_sha256: str = ""
    r_versions: str = ""
    deciding_texts: str = "{}"

    def as_row(self) -> dict:
        return asdict(self)


def start_run(command: str, settings_file: Path) -> RunCard:
    """A card for a run that begins now."""
    started = datetime.now(UTC).replace(tzinfo=None)
    settings = sha256_of(settings_file)
    return RunCard(
        run_id=f"{started:%Y%m%d-%H%M%S-%f}-{settings[:6]}",
        started=started,
        command=command,
        code_commit=_commit(),
        lock_sha256=sha256_of(folders.PACKAGE.parent / "requirements.lock") if folders.IS_CHECKOUT else "",
        python=platform.python_version(),
        packages=json.dumps({name: _version(name) for name in PACKAGES}),
        settings_sha256=settings,
    )


def sha256_of(path: Path) -> str:
    """Hash of a file's content, which is read piece by piece; empty where there is no file."""
    if not path.is_file():
        return ""
    with path.open("rb") as file:
        return hashlib.file_digest(file, "sha256").hexdigest()


@cache
def code_sha256() -> str:
    """One hash over the program's own files, wherever they lie: modules, declarations, queries and page sources."""
    found = {}
    for folder in (folders.PACKAGE, folders.SQL, folders.REPORTS):
        for path in folder.rglob("*"):
            if path.is_file() and "__pycache__" not in path.parts:
                found[f"{folder.name}/{path.relative_to(folder).as_posix()}"] = sha256_of(path)
    return inputs_hash(found.items())


@cache
def software_sha256() -> str:
    """One hash over the program's own files, the Python that runs them and every installed package."""
    packages = map(_name_and_version, distributions())
    return inputs_hash([("code", code_sha256()), ("python", platform.python_version()), *packages])


def _name_and_version(package: Distribution) -> tuple[str, str]:
    """Both empty of what an installation that was cut short left. Where the package importlib_metadata was imported, it
    is that which finds packages, and it has an error for this.
    """
    try:
        return package.name or "", package.version or ""
    except FileNotFoundError:
        return "", ""


def inputs_hash(files: Iterable[tuple[str, str]]) -> str:
    """One hash over (file, sha256) pairs, whatever their order."""
    text = "\n".join(f"{file} {sha256}" for file, sha256 in sorted(files))
    return hashlib.sha256(text.encode()).hexdigest()


def short_id(*parts: object) -> str:
    """Eight characters that name one estimate: the same parts give the same name."""
    return hashlib.sha256("|".join(map(str, parts)).encode()).hexdigest()[:8]


def program_version() -> str:
    """Of this program, as installed or set up."""
    return _version(NAME)


@cache
def _version(name: str) -> str:
    try:
        return version(name)
    except PackageNotFoundError:
        return "not installed"


def _commit() -> str:
    """The commit of the code, marked where files differ from it; the version where it was installed without a
    checkout.
    """
    if not (folders.PACKAGE.parent / ".git").exists():  # else git could answer for a checkout around the environment
        return f"version {program_version()}"
    try:
        commit = _git("rev-parse", "--short=12", "HEAD")
        return commit + (" with changes" if _git("status", "--porcelain", "--untracked-files=no") else "")
    except (OSError, subprocess.CalledProcessError):  # no git here
        return f"version {program_version()}, commit unknown"


def _git(*words: str) -> str:
    command = [
        "git",
        "--no-optional-locks",
        "-C",
        str(folders.PACKAGE.parent),
        *words,
    ]  # a lock would outlast a killed git
    run = subprocess.run(command, capture_output=True, text=True, check=True)
    return run.stdout.strip()
