"""What lies in a season folder: which files are deliveries, and what would be passed over without a word."""

from __future__ import annotations

import os
from pathlib import Path

from pipeline.incoming.readers import TO_BE_SAVED_ANEW

# what is read, and what is told to be saved as something that is
READABLE = (".csv", ".tsv", ".txt", ".xlsx", ".xls", ".ods", *TO_BE_SAVED_ANEW)


def shown(path: Path) -> str:
    """A path as a message can hold it, whatever bytes its names are."""
    return os.fsencode(path).decode("utf-8", "replace")


def cannot_be_read(path: Path) -> str:
    """Why something in a season folder would be passed over without a word, with the mend; '' where it would not."""
    if path.name != shown(Path(path.name)):
        return "its name is not UTF-8 text; rename it, as to plots.csv"
    if path.is_symlink() and not path.exists():
        return "a link to something that is not there; put the file itself here, or remove the link"
    if path.is_symlink() and path.is_dir():
        return "a link to a folder, which is not followed; copy the folder itself here, or remove the link"
    if path.is_dir():
        return "a folder named like a file; rename it" if path.suffix.lower() in READABLE else ""
    return "" if path.is_file() else "neither a file nor a folder; remove it"
