"""Neutral codes in place of names, and the file that keeps which code stands for what.

A name gets the next free number of its kind when it is first met, and keeps it: codes hold from run to run and when a
season is added. Names that are met together are numbered in random order, so that a code tells nothing of its name.
The file is for the lead and lies beside the warehouse, never among what is published.
"""

from __future__ import annotations

import csv
import os
import random
from collections.abc import Iterable
from pathlib import Path

from pipeline.errors import UserError

FILE = "codes.csv"  # in the program's folder
HEADINGS = ["kind", "name", "code"]
PLACE, SITE, TRIAL, SENDER, DELIVERED_FILE = "place", "site", "trial", "sender", "file"
FORMS = {
    PLACE: "Place {:02}",
    SITE: "Site {:02}",
    TRIAL: "T{:03}",
    SENDER: "sender-{:02}",
    DELIVERED_FILE: "file-{:02}",
}


class Codes:
    """The code of each name by its kind, as kept in `file`."""

    def __init__(self, file: Path) -> None:
        """Raises UserError where the file cannot be read as one of ours: other codes would stand for the same
        places.
        """
        self._file = file
        self._known = _kept(file)
        self._is_changed = False

    def of(self, kind: str, names: Iterable[str]) -> dict[str, str]:
        """The code of each name; new names get one."""
        wanted = sorted(set(names))
        new = [name for name in wanted if (kind, name) not in self._known]
        random.SystemRandom().shuffle(new)
        taken = {code for (of_kind, _), code in self._known.items() if of_kind == kind} | set(wanted)
        number = 0
        for name in new:
            while (code := FORMS[kind].format(number := number + 1)) in taken:
                pass
            self._known[kind, name] = code
            taken.add(code)
        self._is_changed |= bool(new)
        return {name: self._known[kind, name] for name in wanted}

    def keep(self) -> None:
        """Writes the file where a code was added, whole or not at all.

        Raises:
            UserError: it cannot be written.
        """
        if not self._is_changed:
            return
        half = self._file.with_name(f".{self._file.name}.new")
        try:
            with half.open("w", newline="", encoding="utf-8") as file:
                csv.writer(file).writerows([HEADINGS, *((*key, code) for key, code in self._known.items())])
            os.replace(half, self._file)
        except OSError as problem:
            raise UserError(f"{self._file}: the codes cannot be written here ({problem.strerror}).") from problem


def _kept(file: Path) -> dict[tuple[str, str], str]:
    try:
        with file.open(newline="", encoding="utf-8-sig") as opened:
            rows = list(csv.reader(opened))
    except FileNotFoundError:
        return {}
    except (OSError, ValueError, csv.Error) as problem:
        raise _unreadable(file, 1, str(problem)) from None
    known: dict[tuple[str, str], str] = {}
    for number, row in enumerate(rows, start=1):
        if number == 1 and row != HEADINGS:
            raise _unreadable(file, number, f"found {', '.join(row)}; expected {', '.join(HEADINGS)}")
        if number > 1 and (len(row) != len(HEADINGS) or row[0] not in FORMS or not all(row)):
            raise _unreadable(
                file, number, f"found {', '.join(row)}; expected one of {', '.join(FORMS)}, a name and a code"
            )
        if number > 1:
            kind, name, code = row
            if (kind, name) in known or (kind, code) in {(other, had) for (other, _), had in known.items()}:
                raise _unreadable(file, number, f"the {kind} {name} or the code {code} stands here twice")
            known[kind, name] = code
    return known


def _unreadable(file: Path, row: int, what: str) -> UserError:
    return UserError(
        f"{file}, row {row}: {what}. The file says which code stands for which name in what is published. "
        "Take it back from a copy; if there is none, remove it: new codes are then picked."
    )
