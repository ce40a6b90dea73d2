"""Errors that speak to the analyst. Everything a user can cause is a UserError; a traceback is our own fault."""

from __future__ import annotations

import errno
import os
from collections.abc import Iterator


class UserError(Exception):
    """Something in the input, the settings or the machine that the user can mend.

    The message names the file, the place in it, what was found and what to do.
    The command prints it alone and leaves with exit code 1.
    """

    exit_code = 1


# What a terminal would obey rather than show: control characters but line ends and tabs, and what turns the direction
# of text.
_OBEYED = [*range(0x20), *range(0x7F, 0xA0), *range(0x202A, 0x202F), *range(0x2066, 0x206A)]
_SHOWN = {code: f"<U+{code:04X}>" for code in _OBEYED if chr(code) not in "\n\t"}


def printable(text: str) -> str:
    """A text from cells, names or paths as a terminal may be given it: what it would obey stands by its code."""
    return text.translate(_SHOWN)


MOST_LISTED = 40


def one_of(words: list[str], found: str) -> str:
    """'did you mean "x"?' for the nearest known word, else the known words: all, or the nearest few of a long list."""
    from difflib import get_close_matches

    near = get_close_matches(found.lower(), [word.lower() for word in words], n=1, cutoff=0.6)
    if near:
        nearest = next(word for word in words if word.lower() == near[0])
        return f'did you mean "{nearest}"?'
    if len(words) <= MOST_LISTED:
        return "known: " + ", ".join(words)
    return f"{len(words)} are known; nearest: {', '.join(get_close_matches(found, words, n=3, cutoff=0))}"


def forced_word(variable: str, words: list[str]) -> str:
    """What an environment variable forces: one of the words, or empty where it says nothing. UserError for any other
    word.
    """
    word = os.environ.get(variable, "")
    if word not in ("", *words):
        raise UserError(
            f'{variable} is "{word}". It may be {" or ".join(words)}, or be left unset: {one_of(words, word)}'
        )
    return word


# as the system, DuckDB, pyarrow, R, pandoc and typst say it
_WORDS_OF_A_FULL_DISK = ("no space left on device", "disk quota exceeded", "os error 28)", "os error 122)")


_WORDS_OF_FULL_MEMORY = (
    "out of memory",
    "bad_alloc",
    "cannot allocate memory",
    "cannot allocate vector",
    "malloc of size",
    "failed to map segment from shared object",  # a library that is imported
)


def is_full_disk(problem: BaseException | None) -> bool:
    """Whether a full disk lies behind a failure, anywhere along its chain of causes."""
    return any(
        getattr(cause, "errno", None) in (errno.ENOSPC, errno.EDQUOT) or _says(cause, _WORDS_OF_A_FULL_DISK)
        for cause in _causes(problem)
    )


def is_full_memory(problem: BaseException | None) -> bool:
    """Whether there was too little memory, anywhere along a failure's chain of causes."""
    return any(
        isinstance(cause, MemoryError)
        or getattr(cause, "errno", None) == errno.ENOMEM
        or _says(cause, _WORDS_OF_FULL_MEMORY)
        for cause in _causes(problem)
    )


def _causes(problem: BaseException | None) -> Iterator[BaseException]:
    while problem is not None:
        yield problem
        problem = problem.__cause__ or problem.__context__


def _says(problem: BaseException, words: tuple[str, ...]) -> bool:
    said = str(problem).lower()
    return any(each in said for each in words)


def is_ctrl_c(problem: BaseException) -> bool:
    """So duckdb tells that Ctrl-C came while a query ran."""
    return isinstance(problem, RuntimeError) and str(problem) == "Query interrupted"
