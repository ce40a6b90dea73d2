"""How many examples a test draws: a few in `make test`, all where the thorough tests run too."""

from __future__ import annotations

is_thorough = False  # set by conftest.py from the marks that pytest was asked for


def examples(few: float, many: float) -> float:
    return many if is_thorough else few
