"""What draws the pages: Quarto wherever it is found, else pandoc and typst.

The environment variable DRAW_BY=quarto or DRAW_BY=pandoc forces one.
"""

from __future__ import annotations

import re
import shutil
import subprocess
import sys
from functools import cache
from pathlib import Path

from pipeline.errors import UserError, forced_word

DRAW_BY = "DRAW_BY"
QUARTO, PANDOC = "quarto", "pandoc"
# pandoc by itself fills 64 MB of memory before it tidies up, which costs a short page a tenth of its time or more
SMALL_HEAP = ("+RTS", "-H16m", "-RTS")
OLDEST_QUARTO = (1, 9)  # the first whose typst PDFs can be PDF/UA-1; from memory of its release notes


def quarto() -> Path | None:
    """The Quarto to draw with; None where pandoc and typst draw.

    Raises:
        UserError: DRAW_BY holds another word, or asks for a Quarto that is not here.
    """
    word = forced_word(DRAW_BY, [QUARTO, PANDOC])
    found = None if word == PANDOC else _find_quarto()
    if word == QUARTO and found is None:
        raise UserError(
            f"{DRAW_BY}={QUARTO}, but no Quarto {_oldest()} or later is on PATH. Install it, or leave {DRAW_BY} unset."
        )
    return found


def drawn_by() -> str:
    """What draws the pages, in the words that the methods page and the run card print."""
    found = quarto()
    if found:
        return f"Quarto {_answer(str(found), '--version')}; DOCX and PPTX by pandoc {pandoc_version()}"
    why = (
        f"{DRAW_BY}={PANDOC} was set"
        if forced_word(DRAW_BY, [QUARTO, PANDOC])
        else f"Quarto {_oldest()} or later was not found"
    )
    return f"pandoc {pandoc_version()} and typst {_typst_version()} ({why})"


def pandoc() -> list[str]:
    """The words that begin a pandoc command: our own pandoc, or where it is missing the one inside Quarto.

    Raises:
        UserError: neither is here.
    """
    import pypandoc

    try:
        return [pypandoc.get_pandoc_path(), *SMALL_HEAP]
    except OSError:
        inside = _find_quarto()
    if inside is None:
        raise UserError("pandoc is missing. Install the Python package pypandoc_binary, or put pandoc on PATH.")
    return [str(inside), "pandoc"]


def pandoc_version() -> str:
    return _answer(*pandoc(), "--version").split()[1]


def _find_quarto() -> Path | None:
    """Quarto on PATH or beside this Python, when it answers and is not too old."""
    found = shutil.which("quarto") or shutil.which("quarto", path=str(Path(sys.executable).parent))
    is_used = found and _numbers(_answer(found, "--version")) >= OLDEST_QUARTO
    return Path(found) if is_used else None


def _oldest() -> str:
    return ".".join(map(str, OLDEST_QUARTO))


def _numbers(version: str) -> tuple[int, ...]:
    return tuple(int(part) for part in re.findall(r"\d+", version)[:2])


def _typst_version() -> str:
    from importlib.metadata import version

    return version("typst")


@cache
def _answer(*command: str) -> str:
    """What a command prints; empty where it cannot be run or fails."""
    try:
        answer = subprocess.run(command, capture_output=True, text=True, timeout=60)
    except (OSError, subprocess.TimeoutExpired):
        return ""
    return answer.stdout.strip() if answer.returncode == 0 else ""
