"""What lies in a season folder: which files are deliveries, and what would be passed over without a word."""

from __future__ import annotations

import os
from pathlib import Path

from pipeline.incoming.readers import TO_BE_SAVED_ANEW

# what is read, and what is told to be saved as something that is
READABLE = (".csv", ".tsv", ".txt", ".xlsx", ".xls", ".ods", *TO_BE_SAVED_ANEW)

OURS = {"headings": "headings.yml", "corrections": "corrections.yml"}


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
        like_a_file = path.suffix.lower() in (*READABLE, ".yml")
        return "a folder named like a file; rename it" if like_a_file else may_not_be_opened(path)
    if path.suffix.lower() in (".yml", ".yaml") and path.stem.lower() in OURS and path.name not in OURS.values():
        return f"is not read under this name; call it {OURS[path.stem.lower()]}"
    return "" if path.is_file() else "neither a file nor a folder; remove it"


def may_not_be_opened(folder: Path) -> str:
    """Why nothing that lies in a folder would be found, with the mend; '' where it may be opened."""
    return "" if os.access(folder, os.R_OK | os.X_OK) else "a folder that may not be opened; check who may read it"
