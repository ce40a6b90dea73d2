"""What lies beside the deliveries and speaks about them: senders' words, manifests, corrections. As tables."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass
from pathlib import Path

import pandas as pd

from pipeline.errors import UserError
from pipeline.incoming.corrections import Correction, read_corrections
from pipeline.incoming.headings import DATE_ORDERS, SendersWords, read_senders_words
from pipeline.incoming.manifest import Received, read_manifest


@dataclass(frozen=True)
class Accompanying:
    """Senders' words by folder (path within the program), manifest lines and corrections of all seasons."""

    words: dict[str, SendersWords]
    received: list[Received]
    corrections: list[Correction]

    def words_for(self, folder: str) -> SendersWords:
        return self.words.get(folder, SendersWords())

    def of_seasons(self, seasons: Iterable[int]) -> tuple:
        """What decides the numbers of these seasons: words and corrections, without who received what when."""
        kept = {str(season) for season in seasons}
        words = {folder: senders_words for folder, senders_words in self.words.items() if folder.split("/")[1] in kept}
        received = sorted((r.file, str(r.received)) for r in self.received if r.file.split("/")[1] in kept)
        return words, received, [c for c in self.corrections if str(c.season) in kept]

    def tables(self) -> dict[str, pd.DataFrame]:
        """The rows of the reference tables that the queries read."""
        return (
            _words_tables(self.words)
            | _correction_tables(self.corrections)
            | {
                "reference.manifest": pd.DataFrame(
                    {"file": r.file, "sha256": r.sha256, "sender": r.sender, "received": r.received}
                    for r in self.received
                )
            }
        )


def read_accompanying(program_folder: Path, folders: Iterable[str]) -> Accompanying:
    """Reads all of it; UserError names file and line of every mistake. `folders` are those that hold delivered
    files.
    """
    of_senders = sorted({program_folder / folder for folder in folders})
    seasons = sorted({program_folder / "seasons" / folder.split("/")[1] for folder in folders})
    problems: list[str] = []
    words = _read_each(of_senders, read_senders_words, program_folder, problems)
    received = _read_each(seasons, read_manifest, program_folder, problems)
    corrections = _read_each(seasons, read_corrections, program_folder, problems)
    if problems:
        raise UserError("\n".join(problems))
    return Accompanying(
        words={folder: found for folder, found in words.items() if found != SendersWords()},
        received=[line for lines in received.values() for line in lines],
        corrections=[line for lines in corrections.values() for line in lines],
    )


def _read_each(folders: list[Path], read: Callable, program_folder: Path, problems: list[str]) -> dict:
    """What `read` finds in each folder, by its path within the program; what it refuses goes into problems."""
    found = {}
    for folder in folders:
        try:
            found[folder.relative_to(program_folder).as_posix()] = read(folder, program_folder)
        except UserError as problem:
            problems.append(str(problem))
    return found


def _words_tables(words: dict[str, SendersWords]) -> dict[str, pd.DataFrame]:
    cells = [
        {"folder": f, "table_name": table, "heading": heading, "theirs": t, "ours": o}
        for f, w in words.items()
        for (table, heading, t), o in w.words.items()
    ]
    read_as = [
        {"file": f"{folder}/{name}", "date_order": next((each for each in said if each in DATE_ORDERS), None)}
        for folder, w in words.items()
        for name, said in w.read_as.items()
    ]
    return {"reference.senders_words": pd.DataFrame(cells), "reference.read_as": pd.DataFrame(read_as)}


def _correction_tables(corrections: list[Correction]) -> dict[str, pd.DataFrame]:
    ids = [f"{c.file} line {c.line}" for c in corrections]
    rows, conditions, changes = [], [], []
    for position, (identity, c) in enumerate(zip(ids, corrections, strict=True)):
        says = ", ".join(f"{heading} is {text}" for heading, text in c.where.items())
        rows.append(
            {
                "correction": identity,
                "position": position,
                "season": c.season,
                "table_name": c.table,
                "n_conditions": len(c.where),
                "says": says,
                "cause": c.cause,
                "who": c.who,
                "date": c.date,
                "treatment_known": c.treatment_known,
            }
        )
        conditions += [
            {"correction": identity, "heading": heading, "text": text.strip()} for heading, text in c.where.items()
        ]
        changes += [
            {"correction": identity, "heading": h, "old": old.strip(), "new": new} for h, (old, new) in c.change.items()
        ]
        changes += [{"correction": identity, "heading": h, "moved_to": to} for h, to in c.move.items()]
    return {
        "reference.corrections": pd.DataFrame(rows),
        "reference.correction_conditions": pd.DataFrame(conditions),
        "reference.correction_changes": pd.DataFrame(changes),
    }
