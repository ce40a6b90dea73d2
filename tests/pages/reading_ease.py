"""How easily the sentences of published pages read: the school grade of Kincaid and others (1975, from memory of the
report).

Syllables are counted by the hyphens that the library pyphen sets; it parts no single letter, so grades come out a
little low.

python -m tests.pages.reading_ease PUBLISHED: every page's grade and longest sentence; fails where a sheet for growers
is over its bar.
"""

from __future__ import annotations

import re
import sys
from dataclasses import dataclass
from html.parser import HTMLParser
from pathlib import Path

import pyphen

HARDEST_GRADE = 9.0  # of a sheet for growers
MOST_WORDS = 30  # of one sentence on it
SPOKEN = {"p", "li"}  # what holds sentences; captions and tables are looked up, not read
NOT_SPOKEN = {"script", "style", "table", "nav", "figcaption", "label", "button"}
WORD = re.compile(r"[A-Za-z][\w'\u2019-]*|\d[\d.,%]*")
END = re.compile(r"(?<=[.!?])\s+(?=[A-Z$\d\u2212])")
SYLLABLES = pyphen.Pyphen(lang="en_US")
REFERENCE = re.compile(r"Cite as:|^Ids:|^Funded by|^Planning prices")  # lists of names and numbers, no sentences


class Sentences(HTMLParser):
    """The sentences of a page's paragraphs and list items, without tables, scripts and links around the page."""

    def __init__(self, page: str) -> None:
        super().__init__()
        self._open: list[str] = []
        self._parts: list[str] = []
        self.told: list[str] = []
        self.feed(page)

    def handle_starttag(self, tag: str, attributes: list) -> None:
        if tag in SPOKEN | NOT_SPOKEN:
            self._open.append("nav" if ("class", "links") in attributes else tag)

    def handle_endtag(self, tag: str) -> None:
        if tag not in SPOKEN | NOT_SPOKEN:
            return
        closed = self._open.pop() if self._open else ""
        if closed in SPOKEN and not NOT_SPOKEN & set(self._open):
            text = " ".join("".join(self._parts).split())
            self.told += [
                part for part in END.split(text) if len(WORD.findall(part)) > 1 and not REFERENCE.search(text)
            ]
        self._parts = []

    def handle_data(self, text: str) -> None:
        if self._open and not NOT_SPOKEN & set(self._open):
            self._parts.append(text)


@dataclass(frozen=True)
class Ease:
    grade: float
    longest: str

    @property
    def n_words(self) -> int:
        return len(WORD.findall(self.longest))


def grade_of(sentences: list[str]) -> float:
    """0.39 words a sentence + 11.8 syllables a word - 15.59."""
    words = [word for sentence in sentences for word in WORD.findall(sentence)]
    return 0.39 * len(words) / len(sentences) + 11.8 * sum(map(_syllables, words)) / len(words) - 15.59


def _syllables(word: str) -> int:
    return sum(len(SYLLABLES.positions(part)) + 1 for part in word.split("-") if part)


def ease_of(page: Path) -> Ease | None:
    """None where a page has no sentences."""
    told = Sentences(page.read_text(encoding="utf-8")).told
    if not told:
        return None
    return Ease(grade_of(told), max(told, key=lambda sentence: len(WORD.findall(sentence))))


def too_hard(page: Path) -> list[str]:
    """What is wrong with a sheet for growers, in words; empty where it reads easily."""
    found = ease_of(page)
    wrong = []
    if found and found.grade > HARDEST_GRADE:
        wrong.append(f"{page.name}: grade {found.grade:.1f}, over {HARDEST_GRADE:g}")
    if found and found.n_words > MOST_WORDS:
        wrong.append(f"{page.name}: a sentence of {found.n_words} words: {found.longest}")
    return wrong


def main(published: Path) -> int:
    pages = [path for path in sorted(published.glob("*.html")) if (ease := ease_of(path))]
    print("Flesch-Kincaid grade, words of the longest sentence")
    for path in pages:
        ease = ease_of(path)
        print(f"{ease.grade:6.1f} {ease.n_words:4d}  {path.name}")
    wrong = [each for path in pages if path.stem.endswith("-handout") for each in too_hard(path)]
    print("\n".join(wrong))
    return 1 if wrong or not pages else 0


if __name__ == "__main__":
    sys.exit(main(Path(sys.argv[1])))
