"""What was published when: each edition keeps its crop reports and gains, and is never changed afterwards.

An edition is written only when inputs, settings, code or the lock file differ from those of the edition before. One
that names more than program.yml now lets be named is moved out of what is published, and kept beside it.
"""

from __future__ import annotations

import json
import os
import shutil
from collections.abc import Iterable
from pathlib import Path

import pandas as pd

from pipeline.contract.vocabulary import COOPERATOR, NOBODY, PLACE_ONLY
from pipeline.errors import UserError
from pipeline.publishing.exports import write_csv

FOLDER = "editions"
WITHDRAWN = "editions_withdrawn"  # in the program's folder
CARD = "edition.json"
MAY_BE_NAMED = "may_be_named"
NAMES_MORE = (NOBODY, PLACE_ONLY, COOPERATOR)  # from those that name least
DECIDES = ("inputs_sha256", "settings_sha256", "code_commit", "lock_sha256")
COLUMNS = ("edition", MAY_BE_NAMED, *DECIDES)


def editions_with(program: pd.Series, published: Path) -> pd.DataFrame:
    """The editions so far, newest first, with the one this run will add where it differs from the newest.

    Args:
        program: the row of reports.program.
        published: the published folder, which may be empty.

    Returns: columns COLUMNS and `is_new`; edition is its folder's name, the time the run started. Those to be withdrawn
    are not among them.
    """
    cards = [card for card in _cards(published).values() if not _names_too_much(card, program[MAY_BE_NAMED])]
    kept = [card | {"is_new": False} for card in reversed(cards)]
    present = {"edition": f"{program['started']:%Y-%m-%d-%H%M%S}"} | {name: str(program[name]) for name in COLUMNS[1:]}
    if not kept or any(kept[0][name] != present[name] for name in DECIDES):
        kept.insert(0, present | {"is_new": True})
    return pd.DataFrame(kept, columns=[*COLUMNS, "is_new"])


def _cards(published: Path) -> dict[Path, dict]:
    """By edition's folder, what its card says. One that cannot be read, or of a version that knew no such setting,
    names everybody.
    """
    found = sorted((published / FOLDER).glob(f"*/{CARD}"))
    return {path.parent: _unread(path) | _said(path) for path in found}


def _unread(path: Path) -> dict:
    return {"edition": path.parent.name, MAY_BE_NAMED: COOPERATOR} | dict.fromkeys(DECIDES, "")


def _said(path: Path) -> dict:
    try:
        card = json.loads(path.read_text(encoding="utf-8"))
    except (OSError, ValueError):
        return {}
    return card if isinstance(card, dict) else {}


def _names_too_much(card: dict, allowed: str) -> bool:
    """A word that is none of ours is taken for the one that names most: the card lies where anyone may write."""
    said = card[MAY_BE_NAMED] if card[MAY_BE_NAMED] in NAMES_MORE else COOPERATOR
    return NAMES_MORE.index(said) > NAMES_MORE.index(allowed)


def withdraw_editions(published: Path, allowed: str) -> None:
    """Moves editions that name more than is allowed now into the program's folder, beside `published`.

    Raises:
        UserError: one cannot be moved, and is still published.
    """
    for folder, card in _cards(published).items():
        if not _names_too_much(card, allowed):
            continue
        target = published.parent / WITHDRAWN / folder.name
        try:
            target.parent.mkdir(exist_ok=True)
            os.rename(folder, target)
        except OSError as problem:
            raise UserError(
                f"{folder}: this edition names more than program.yml allows now, and cannot be moved to {target}"
                f" ({problem.strerror}). Move it yourself."
            ) from problem


def keep_edition(editions: pd.DataFrame, gains: pd.DataFrame, pdfs: Iterable[Path], new: Path) -> None:
    """Writes the new edition, if there is one, below `new`: its PDFs, gains.csv and its card."""
    added = editions[editions["is_new"]]
    if added.empty:
        return
    card = added.iloc[0][list(COLUMNS)].to_dict()
    folder = new / FOLDER / card["edition"]
    folder.mkdir(parents=True)
    for pdf in pdfs:
        shutil.copy(pdf, folder / pdf.name)
    write_csv(gains, folder / "gains.csv")
    (folder / CARD).write_text(json.dumps(card, indent=1) + "\n", encoding="utf-8")
