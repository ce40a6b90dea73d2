"""Names looked for in texts: as whole words, whatever stands between their parts.

A name of several words is found in any capitals, a single word as it is written or all in capitals, as May the
cooperator is not may. A name without two letters, or one that is a word of the program's own, cannot be told from other
words and is left. A letter with a mark is one letter, be it stored as one sign or as two.
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Callable, Collection, Iterable, Mapping

WORD, BETWEEN = re.compile(r"[^\W_]+"), r"[\W_]+"
DOUBLE_WORD = re.compile(r"[^\W_]+(?:-[^\W_]+)*")
START, END = r"(?<![^\W_])", r"(?![^\W_])"
NEVER = r"(?!)"
# Words of a name that are no surname.
COMMON = frozenset(
    "farm farms station extension university college county state research center centre coop cooperative ranch growers"
    " seed seeds field fields north south east west upper lower valley ridge hill hills creek river lake prairie flats"
    " brothers bros sisters sons son daughters family partners partnership associates company corp enterprises"
    " agriculture acres land cattle dairy grain the and inc llc ltd co jr sr".split()
)
PERSONS_BETWEEN = re.compile(r"\s+and\s+|[&+/;]", re.IGNORECASE)


def words_of(name: str) -> list[str]:
    return WORD.findall(_one_letter_each(name))


def surnames(name: str) -> set[str]:
    """Those of each person of a name: 'Quist' and 'Holm' of 'Anna Quist & Jon Holm'; a double one and its parts."""
    if len(words_of(name)) < 2:
        return set()
    named = (each for person in PERSONS_BETWEEN.split(name) for each in _named_in(person))
    return set().union(*map(_surname, named))


def _named_in(person: str) -> list[str]:
    """Without what follows a comma, but where that is a name of two words: 'Quist' of 'Quist, Anna'."""
    first, *others = person.split(",")
    return [first, *(other for other in others if len(words_of(other)) > 1)]


def _surname(name: str) -> set[str]:
    """Empty where no word looks like a surname."""
    for word in reversed(DOUBLE_WORD.findall(_one_letter_each(name))):
        parts = {w for w in words_of(word) if len(w) > 2 and w.isalpha() and w[0].isupper() and w.lower() not in COMMON}
        if parts:
            return {word, *parts}
    return set()


def carrying(names: Iterable[str], own: Collection[str]) -> Callable[[str], bool]:
    """Whether a text that is itself a name, such as that of a file, carries one of these, in any capitals."""
    pattern = re.compile("|".join(f"(?i:{_joined(n)})" for n in names if _is_told_apart(n, own)) or NEVER)
    return lambda text: bool(pattern.search(_one_letter_each(text)))


def replacing(stand_ins: Mapping[str, str], own: Collection[str]) -> Callable[[str], str]:
    """A text with what stands for each name in its place, the longest name first. own: words that are never taken for a
    name.
    """
    told_apart = sorted((n for n in stand_ins if _is_told_apart(n, own)), key=len, reverse=True)
    by_words = {_folded(name): stand_ins[name] for name in reversed(told_apart)}
    pattern = re.compile("|".join(map(_as_written, told_apart)) or NEVER)
    return lambda text: pattern.sub(lambda found: by_words[_folded(found[0])], _one_letter_each(text))


def _one_letter_each(text: str) -> str:
    """With each letter and its mark as one sign: names of files have two on some systems."""
    return unicodedata.normalize("NFC", text)


def _is_told_apart(name: str, own: Collection[str]) -> bool:
    words = words_of(name)
    return sum(letter.isalpha() for letter in name) > 1 and not (len(words) == 1 and words[0] in own)


def _folded(name: str) -> str:
    """The same for all that the pattern finds: in any capitals I is also that of the letter i without a dot."""
    return " ".join(words_of(name)).replace("İ", "i").replace("ı", "i").casefold()


def _joined(name: str) -> str:
    return f"{START}{BETWEEN.join(map(re.escape, words_of(name)))}{END}"


def _as_written(name: str) -> str:
    words = words_of(name)
    if len(words) > 1:
        return f"(?i:{_joined(name)})"
    return f"(?:{_joined(name)}|{_joined(name.upper())})"
