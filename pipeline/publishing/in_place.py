"""The published folder as the last run left it: its list of files, a mark on pages that are of an earlier run, and new
files put in place of the old.
"""

from __future__ import annotations

import os
import re
from pathlib import Path

from pipeline.errors import UserError
from pipeline.publishing.editions import FOLDER as EDITIONS

# What the last run published, so that a page whose trials are gone does not stay behind.
LIST_OF_FILES = Path("data") / "published_files.txt"
EARLIER = (
    '<p role="note" style="border:2px solid;padding:.5em">This page is of an earlier run. '
    "A newer run has stored its numbers; its pages are not finished.</p>"
)
BODY = re.compile(rb"<body[^>]*>")  # in bytes: a page that someone edited may be no UTF-8


def mark_as_earlier(folder: Path) -> None:
    """Says on each published page that its run is not the last, until it is replaced: numbers must not look newer than
    they are.
    """
    for path in _published_before(folder):
        if path.suffix == ".html":
            page = path.read_bytes()
            if EARLIER.encode() not in page:
                half = path.with_name(f".{path.name}.marked")
                half.write_bytes(BODY.sub(lambda body: body[0] + f"\n{EARLIER}".encode(), page, count=1))
                os.replace(half, path)


def is_all_there(folder: Path) -> bool:
    """Whether every file that the last run published still stands."""
    listed = _listed(folder)
    return bool(listed) and _published_before(folder) == {folder / name for name in listed}


def move_into_place(new: Path, folder: Path) -> set[Path]:
    """Puts every file below `new` in its place below `folder`, and takes away what was put there before and is no more.

    Returns: what was taken away.

    Raises:
        UserError: a file cannot be replaced.
    """
    files = sorted(path.relative_to(new).as_posix() for path in new.rglob("*") if path.is_file())
    gone = _published_before(folder) - {folder / file for file in files}
    replaceable = [file for file in files if not file.startswith(f"{EDITIONS}/")]  # editions stay
    (new / LIST_OF_FILES).write_text("\n".join(replaceable) + "\n", encoding="utf-8")
    try:
        for file in sorted([*files, LIST_OF_FILES.as_posix()], key=lambda file: file == "index.html"):
            (folder / file).parent.mkdir(parents=True, exist_ok=True)
            os.replace(new / file, folder / file)
        for path in gone:
            path.unlink(missing_ok=True)
    except OSError as error:
        raise UserError(f"{error.filename}: cannot be replaced ({error.strerror}). Is it open elsewhere?") from error
    return gone


def _published_before(folder: Path) -> set[Path]:
    """The files that the last run listed. The list lies where anyone may write: what is not a file inside is left
    alone.
    """
    inside = folder.resolve()
    paths = {folder / name for name in _listed(folder)}
    return {path for path in paths if path.resolve().is_relative_to(inside) and path.is_file()}


def _listed(folder: Path) -> list[str]:
    try:
        names = (folder / LIST_OF_FILES).read_text(encoding="utf-8").splitlines()
    except (OSError, UnicodeDecodeError):
        return []
    return [name for name in names if name and "\0" not in name]
