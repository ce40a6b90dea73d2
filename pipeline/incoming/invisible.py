"""Characters that cannot be seen: zero-width spaces, soft hyphens, marks of direction, spaces that are none."""

from __future__ import annotations

import re
import unicodedata

from pipeline.incoming.sheet import INVISIBLE, Note, Sheet, shorten

_SENTENCE = (
    "The cell holds a character that cannot be seen. It is kept, and the text matches none without it: "
    "delete it, unless it belongs there."
)
# an unusual space looks like a space and is none; at either end of a cell it is taken off, as a space is
_SPACES = "\u00a0\u1680" + "".join(map(chr, range(0x2000, 0x200B))) + "\u202f\u205f\u3000"
_UNSEEN = re.compile(f"{INVISIBLE.pattern}|[{_SPACES}]")


def invisible_notes(sheet: Sheet, texts: dict[str, set[str | None]]) -> list[Note]:
    """One note for each column with such characters: the first row, the character's number and name, what it stands
    after. texts: the sheet's distinct texts by heading.
    """
    notes = []
    for heading, cells in sheet.columns.items():
        telling = {text for text in texts[heading] if text and not text.isascii() and _UNSEEN.search(_bare(text))}
        rows = [i for i, text in enumerate(cells) if text in telling] if telling else []
        if rows:
            where = _named(cells[rows[0]]) + (f", and in {len(rows) - 1} more" if len(rows) > 1 else "")
            row = sheet.row_numbers[rows[0]]
            notes.append(Note(row=row, column=heading, found=where, what="invisible_character", sentence=_SENTENCE))
    return notes


def _bare(text: str) -> str:
    return text.strip(f" {_SPACES}")


def _named(text: str) -> str:
    """ "U+200B, zero width space, after '2091'"."""
    text = _bare(text)
    unseen = _UNSEEN.search(text)
    name = unicodedata.name(unseen[0], "a control character").lower()
    before = shorten(text[: unseen.start()])
    where = f"after '{before}'" if before else "at the start"
    return f"U+{ord(unseen[0]):04X}, {name}, {where}"
