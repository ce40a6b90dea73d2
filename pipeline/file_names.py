"""Names of files that are made of words from deliveries and settings: every system takes them, and no two fall
together.
"""

from __future__ import annotations

import hashlib
import re
import unicodedata
from collections import Counter
from collections.abc import Collection, Iterable

LONGEST = 50  # characters, of up to four bytes
RESERVED = re.compile(r"(con|prn|aux|nul|(com|lpt)[\d¹²³])(\..*)?", re.IGNORECASE)  # of devices, on some systems


def file_name(words: str) -> str:
    """A file name without suffix, the words themselves where every system takes them; else it ends in a hash of
    them.
    """
    plain = _short(re.sub(r"[^\w .-]+", "-", words))
    return plain if plain and plain == words and not RESERVED.fullmatch(plain) else _hashed(plain, words)


def page_names(words: Iterable[str], taken: Collection[str] = (), ends: tuple[str, ...] = ()) -> dict[str, str]:
    """A page's name for each of several words, in lower case; it ends in a hash of them where it would not be its own.

    taken: names of other pages; ends: what names of other pages end in. Two names that a disk takes for one, by its
    view of capitals and accents, are the same here.
    """
    plain = {each: re.sub(r"[^\w-]+", "-", each.lower()) for each in words}
    often = Counter(map(_as_a_disk_sees, plain.values()))
    return {
        each: (
            _hashed(name, each)
            if often[_as_a_disk_sees(name)] > 1
            or name in taken
            or name.endswith(ends)
            or RESERVED.fullmatch(name)
            or not name
            or _short(name) != name
            else name
        )
        for each, name in plain.items()
    }


def _short(name: str) -> str:
    return name.strip(" ._-")[:LONGEST].strip(" ._-")


def _as_a_disk_sees(name: str) -> str:
    return unicodedata.normalize("NFKC", name).casefold()


def _hashed(name: str, words: str) -> str:
    told = hashlib.sha256(words.encode("utf-8", "surrogatepass")).hexdigest()[:8]
    return f"{_short(name) or 'x'}-{told}"
