"""Markdown as it reads, and numbers as pages must write them."""

from __future__ import annotations

import re


def plain(text: str) -> str:
    """Markdown as it reads: no marks, true minus and no-break space as typed ones."""
    text = re.sub(r"\[\[[\w-]+\]\{[^{}]*\}\]\([^()]*\)", "", text)
    text = re.sub(r"\\(?=[^\w\s])|\*\*", "", text)
    return re.sub(r"\s+", " ", text.replace("\u2212", "-").replace("\u2060", "").replace("\u00a0", " "))


def shown(value: float, digits: int) -> str:
    """A number as it must stand on a page; one that is not zero shows up to two more decimals before it reads as
    zero.
    """
    more = next((n for n in range(digits, digits + 3) if value == 0 or round(value, n) != 0), digits + 2)
    written = f"{abs(value):,.{more}f}"
    return f"-{written}" if value < 0 and float(written.replace(",", "")) else written


def page_of(said, crop: str) -> str:
    """The season page of a crop; empty where it was not made."""
    return said.pages.get(re.sub(r"[^\w-]+", "-", crop), "")
