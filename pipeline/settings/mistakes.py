"""The mistakes of a settings file, told all at once, in the order of their lines."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from typing import TypeVar

from pipeline.errors import UserError

T = TypeVar("T")


class Mistake(UserError):
    """One mistake, with the line it stands in."""

    def __init__(self, message: str, line: int) -> None:
        super().__init__(message)
        self.line = line


class Mistakes(UserError):
    """Several of them; the message has one a line of text."""

    def __init__(self, each: Iterable[Mistake]) -> None:
        self.each = sorted(each, key=lambda mistake: mistake.line)
        super().__init__("\n".join(dict.fromkeys(map(str, self.each))))


def each_of(problem: UserError) -> list[UserError]:
    return problem.each if isinstance(problem, Mistakes) else [problem]


def tell(problems: Iterable[UserError]) -> None:
    """Raises what there is: nothing, the one, or all together."""
    each = [one for problem in problems for one in each_of(problem)]
    if each:
        raise each[0] if len(each) == 1 else Mistakes(each)


def all_of(calls: Iterable[Callable[[], T]]) -> list[T]:
    """What each call gives. UserError with the mistakes of all of them."""
    found, problems = [], []
    for call in calls:
        try:
            found.append(call())
        except UserError as problem:
            problems.append(problem)
    tell(problems)
    return found
