"""What lies behind a failure, and the words that are told of it."""

from __future__ import annotations

import errno

import pytest

from pipeline.errors import MOST_LISTED, is_full_disk, is_full_memory, one_of


def raised(*chain: BaseException, is_cause: bool) -> BaseException:
    """The first of them, raised from the second or while it was handled, and so on."""
    for problem, behind in zip(chain, chain[1:]):
        setattr(problem, "__cause__" if is_cause else "__context__", behind)
    return chain[0]


@pytest.mark.parametrize("is_cause", [True, False])
@pytest.mark.parametrize(
    ("problem", "disk", "memory"),
    [
        (OSError(errno.ENOSPC, "x"), True, False),
        (OSError(errno.EDQUOT, "x"), True, False),
        (RuntimeError("IO Error: No space left on device"), True, False),
        (OSError(errno.ENOMEM, "x"), False, True),
        (MemoryError(), False, True),
        (RuntimeError("Error: cannot allocate vector of size 2 Gb"), False, True),
        (OSError(errno.EACCES, "x"), False, False),
        (RuntimeError("x"), False, False),
    ],
)
def test_a_full_disk_or_memory_is_found_wherever_it_stands_in_the_chain(problem, disk, memory, is_cause):
    for before in ((), (ValueError("a"),), (ValueError("a"), KeyError("b"))):
        first = raised(*before, problem, ValueError("c"), is_cause=is_cause)
        assert (is_full_disk(first), is_full_memory(first)) == (disk, memory)


def test_so_many_words_are_all_listed_and_of_more_the_nearest():
    words = [f"word{n:02}" for n in range(MOST_LISTED + 1)]
    assert one_of(words[:-1], "zzz") == f"known: {', '.join(words[:-1])}"
    assert one_of(words, "zzz").startswith(f"{MOST_LISTED + 1} are known; nearest: ")
