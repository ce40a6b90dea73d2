"""Names of files that are made of words from deliveries and settings: every system takes them, and no two fall
together.
"""

from __future__ import annotations

import hashlib
import re
import unicodedata
from collections import Counter
from collections.abc import Callable, Collection, Iterable

LONGEST = 50  # characters, of up to four bytes
RESERVED = re.compile(r"(con|prn|aux|nul|(com|lpt)[\d¹²³]) *(\..*)?", re.IGNORECASE)  # of devices, on some systems


def file_name(words: str) -> str:
    """A file name without suffix, the words themselves where every system takes them; else it ends in a hash of
    them.
    """
    plain = _plain(words)
    is_itself = plain == words == unicodedata.normalize("NFC", words)
    return plain if is_itself and _is_taken_everywhere(plain) else _hashed(plain, words)


def file_names(words: Iterable[str]) -> dict[str, str]:
    """A file name without suffix for each of several words; it ends in a hash of them where it would not be its own."""
    return _own({each: _plain(each) for each in words})


def page_names(words: Iterable[str], taken: Collection[str] = (), ends: tuple[str, ...] = ()) -> dict[str, str]:
    """A page's name for each of several words, in lower case; it ends in a hash of them where it would not be its own.

    taken: names of other pages; ends: what names of other pages end in.
    """
    plain = {each: re.sub(r"[^\w-]+", "-", each.lower()) for each in words}
    return _own(plain, lambda name: name not in taken and not name.endswith(ends))


def _own(plain: dict[str, str], is_free: Callable[[str], bool] = lambda name: True) -> dict[str, str]:
    """Two names that a disk takes for one, by its view of capitals and accents, are the same here."""
    often = Counter(map(_as_a_disk_sees, plain.values()))
    return {
        each: (
            name
            if often[_as_a_disk_sees(name)] == 1 and is_free(name) and _is_taken_everywhere(name)
            else _hashed(name, each)
        )
        for each, name in plain.items()
    }


def _plain(words: str) -> str:
    return re.sub(r"[^\w .-]+", "-", words)


def _is_taken_everywhere(name: str) -> bool:
    return name != "" and _short(name) == name and not RESERVED.fullmatch(name)


def _short(name: str) -> str:
    return name.strip(" ._-")[:LONGEST].strip(" ._-")


def _as_a_disk_sees(name: str) -> str:
    return unicodedata.normalize("NFKC", name).casefold()


def _hashed(name: str, words: str) -> str:
    told = hashlib.sha256(words.encode("utf-8", "surrogatepass")).hexdigest()[:8]
    return f"{_short(name) or 'x'}-{told}"
