"""Names looked for in texts: as whole words, whatever stands between their parts.

A name of several words is found in any capitals, a single word as it is written or all in capitals, as May the
cooperator is not may. A name without two letters, or one that is a word of the program's own, cannot be told from other
words and is left.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Collection, Iterable, Mapping

WORD, BETWEEN = re.compile(r"[^\W_]+"), r"[\W_]+"
START, END = r"(?<![^\W_])", r"(?![^\W_])"
NEVER = r"(?!)"
# Words of a name that are no surname.
COMMON = frozenset(
    "farm farms station extension university college county state research center centre coop cooperative ranch growers"
    " seed seeds field fields north south east west upper lower valley ridge hill hills creek river lake prairie flats"
    " the and inc llc ltd co jr sr".split()
)


def words_of(name: str) -> list[str]:
    return WORD.findall(name)


def surname(name: str) -> str | None:
    """'Quist' of 'Anna Quist' and of 'Quist, A.'; None where no word looks like one."""
    last, comma, _ = name.partition(",")
    words = words_of(last if comma else name)
    if len(words_of(name)) < 2:
        return None
    likely = (w for w in reversed(words) if len(w) > 2 and w.isalpha() and w[0].isupper() and w.lower() not in COMMON)
    return next(likely, None)


def carrying(names: Iterable[str], own: Collection[str]) -> Callable[[str], bool]:
    """Whether a text that is itself a name, such as that of a file, carries one of these, in any capitals."""
    pattern = re.compile("|".join(f"(?i:{_joined(n)})" for n in names if _is_told_apart(n, own)) or NEVER)
    return lambda text: bool(pattern.search(text))


def replacing(stand_ins: Mapping[str, str], own: Collection[str]) -> Callable[[str], str]:
    """A text with what stands for each name in its place, the longest name first. own: words that are never taken for a
    name.
    """
    told_apart = sorted((n for n in stand_ins if _is_told_apart(n, own)), key=len, reverse=True)
    by_words = {_folded(name): stand_ins[name] for name in reversed(told_apart)}
    pattern = re.compile("|".join(map(_as_written, told_apart)) or NEVER)
    return lambda text: pattern.sub(lambda found: by_words[_folded(found[0])], text)


def _is_told_apart(name: str, own: Collection[str]) -> bool:
    words = words_of(name)
    return sum(letter.isalpha() for letter in name) > 1 and not (len(words) == 1 and words[0] in own)


def _folded(name: str) -> str:
    return " ".join(words_of(name)).casefold()


def _joined(name: str) -> str:
    return f"{START}{BETWEEN.join(map(re.escape, words_of(name)))}{END}"


def _as_written(name: str) -> str:
    words = words_of(name)
    if len(words) > 1:
        return f"(?i:{_joined(name)})"
    return f"(?:{_joined(name)}|{_joined(name.upper())})"
