"""Errors that speak to the analyst. Everything a user can cause is a UserError; a traceback is our own fault."""

from __future__ import annotations


class UserError(Exception):
    """Something in the input, the settings or the machine that the user can mend.

    The message names the file, the place in it, what was found and what to do.
    The command prints it alone and leaves with exit code 1.
    """

    exit_code = 1


def one_of(words: list[str], found: str) -> str:
    """'did you mean "x"?' for the nearest known word, else the list of known words."""
    from difflib import get_close_matches

    near = get_close_matches(found.lower(), [word.lower() for word in words], n=1, cutoff=0.6)
    if near:
        nearest = next(word for word in words if word.lower() == near[0])
        return f'did you mean "{nearest}"?'
    return "known: " + ", ".join(words)
