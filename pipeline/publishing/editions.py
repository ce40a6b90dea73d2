"""What was published when: each edition keeps its crop reports and gains, and is never changed afterwards.

An edition is written only when inputs, settings, code or the lock file differ from those of the edition before.
"""

from __future__ import annotations

import json
import shutil
from collections.abc import Iterable
from pathlib import Path

import pandas as pd

from pipeline.publishing.exports import write_csv

FOLDER = "editions"
CARD = "edition.json"
DECIDES = ("inputs_sha256", "settings_sha256", "code_commit", "lock_sha256")
COLUMNS = ("edition", *DECIDES)


def editions_with(program: pd.Series, published: Path) -> pd.DataFrame:
    """The editions so far, newest first, with the one this run will add where it differs from the newest.

    Args:
        program: the row of reports.program.
        published: the published folder, which may be empty.

    Returns: columns COLUMNS and `is_new`; edition is its folder's name, the time the run started.
    """
    cards = [json.loads(path.read_text(encoding="utf-8")) for path in sorted((published / FOLDER).glob(f"*/{CARD}"))]
    kept = [card | {"is_new": False} for card in reversed(cards)]
    present = {"edition": f"{program['started']:%Y-%m-%d-%H%M%S}"} | {name: str(program[name]) for name in DECIDES}
    if not kept or any(kept[0][name] != present[name] for name in DECIDES):
        kept.insert(0, present | {"is_new": True})
    return pd.DataFrame(kept, columns=[*COLUMNS, "is_new"])


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
