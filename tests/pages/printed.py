"""Where the words of a PDF stand, by poppler's pdftotext."""

from __future__ import annotations

import re
import shutil
import subprocess
from dataclasses import dataclass
from itertools import takewhile
from pathlib import Path

import pytest

NEEDS_POPPLER = pytest.mark.skipif(
    not shutil.which("pdftotext"), reason="no pdftotext here (Debian: apt-get install poppler-utils)"
)
WORD = re.compile(r'<word xMin="([\d.-]+)" yMin="([\d.-]+)" xMax="([\d.-]+)" yMax="([\d.-]+)">(.*?)</word>')


@dataclass(frozen=True)
class Word:
    """A printed word and its box in points from the page's top left corner; pages count from 1."""

    page: int
    left: float
    top: float
    right: float
    bottom: float
    text: str


def words_of(pdf: Path) -> list[Word]:
    """Every printed word, in reading order."""
    drawn = subprocess.run(["pdftotext", "-bbox", pdf, "-"], capture_output=True, text=True, check=True).stdout
    return [
        Word(page, *map(float, found.groups()[:4]), found[5])
        for page, text in enumerate(drawn.split("<page ")[1:], start=1)
        for found in WORD.finditer(text)
    ]


def printed_over(words: list[Word], *, share: float = 0.1) -> list[str]:
    """Pairs of words whose boxes share more than this part of the smaller box."""
    found = []
    ordered = sorted(words, key=lambda word: (word.page, word.top))
    for at, one in enumerate(ordered):
        below = takewhile(lambda word: word.page == one.page and word.top < one.bottom, ordered[at + 1 :])
        found += [f"page {one.page}: {one.text} / {other.text}" for other in below if _shared(one, other) > share]
    return found


def _shared(one: Word, other: Word) -> float:
    wide = min(one.right, other.right) - max(one.left, other.left)
    high = min(one.bottom, other.bottom) - max(one.top, other.top)
    smaller = min((word.right - word.left) * (word.bottom - word.top) for word in (one, other))
    return max(wide, 0) * max(high, 0) / smaller if smaller else 0.0
