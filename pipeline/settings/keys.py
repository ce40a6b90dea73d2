"""The keys of program.yml, each stated once: with the field of the dataclass that takes its value.

What a key holds, whether it is optional and how its text is read stand beside the field; the reader asks by them and
the data dictionary prints them.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass, field, fields, replace
from itertools import chain
from typing import Any

from pipeline.errors import UserError
from pipeline.settings.file import REQUIRED, Section
from pipeline.settings.mistakes import tell

ALWAYS, OPTIONAL = "required", "optional"
A_DAY = "year-month-day"
ONE, LIST, SECTION, SECTIONS = Section.take, Section.take_list, Section.take_section, Section.take_sections
_KEYS = "keys"


@dataclass(frozen=True)
class Key:
    """One key. name: where it is not that of its field; in <> where it is a word of the user's own.

    cast: from text; of a list, from each entry's. default: what stands where the key does not. kind: how it is taken
    out of a Section. within: what stands in a section: a dataclass, or keys. like: an example for who left the key out;
    of a section it is made of its required keys where none is given.
    """

    holds: str
    cast: Callable[[str], Any] | None = None
    default: Any = REQUIRED
    name: str = ""
    kind: Callable = ONE
    within: type | tuple[Key, ...] = ()
    like: str = ""

    @property
    def example(self) -> str:
        """What to write after the colon; empty where nothing is known."""
        if self.like or not isinstance(self.within, type):
            return self.like
        needed = [(word, key.example) for word, key in chain(*keys_of(self.within).values()) if key.default is REQUIRED]
        inside = "{" + ", ".join(f"{word}: {example}" for word, example in needed) + "}"
        return f"[{inside}]" if self.kind is SECTIONS else inside


@dataclass(frozen=True)
class Named:
    """A key as the data dictionary names it. place: the keys above it, such as 'rainfall: reference'."""

    place: str
    name: str
    holds: str
    filled: str


def stated(*keys: Key, **of_field: Any) -> Any:
    """A dataclass field whose value stands in the file: under this key, or under one or several of these."""
    return field(**of_field, metadata={_KEYS: keys})


def section_of(holds: str, within: type | tuple[Key, ...], **more: Any) -> Key:
    return Key(holds, kind=SECTION, within=within, **more)


def entries(word: str, holds: str, within: type | tuple[Key, ...] = ()) -> tuple[Key, ...]:
    """What stands in a section whose keys are words of the user's own, each called <word>."""
    return (Key(holds, default=None, name=f"<{word}>", within=within),)


def named_keys(into: type | tuple[Key, ...], place: str = "") -> Iterator[Named]:
    """Every key of a dataclass, and after them those of the sections below."""
    keys = [(key.name, key) for key in into] if isinstance(into, tuple) else [*chain(*keys_of(into).values())]
    for word, key in keys:
        yield Named(place or "the file", word, key.holds, ALWAYS if key.default is REQUIRED else OPTIONAL)
    for word, key in keys:
        yield from named_keys(key.within, f"{place}: {word}" if place else word)


def keys_of(into: type) -> dict[str, list[tuple[str, Key]]]:
    """By field, the keys that its value stands under, each with its word."""
    return {
        each.name: [(key.name or each.name, key) for key in each.metadata[_KEYS]]
        for each in fields(into)
        if _KEYS in each.metadata
    }


class Reader:
    """Reads a section into the fields of a dataclass: each key is asked for once, in the order of the fields or of
    take.
    """

    def __init__(self, section: Section, into: type, *, without: str = "", ending: str = "") -> None:
        """without: what comes of a missing key, told with an example of it. ending: only keys that end so are asked
        for.
        """
        self._section, self._without = section, without
        self._keys = {
            name: [(word, key) for word, key in keys if word.endswith(ending)] for name, keys in keys_of(into).items()
        }
        self._values: dict[str, Any] = {}
        self._problems: list[UserError] = []

    def take(self, name: str, cast: Callable | None = None, *, otherwise: Any = REQUIRED, **changed: Any) -> Any:
        """The value of a field. cast and changed (default, like): in place of what is stated with its key.

        A section is cast where it is there. Where a field has several keys, what stands under them is cast together, by
        key. otherwise: what is given where the value is mistaken, so that the rest can be read; `values` tells the
        mistake.

        Raises:
            UserError: the value is mistaken and there is no otherwise; with all that is mistaken in other fields.
        """
        try:
            return self._take(name, cast, **changed)
        except UserError as problem:
            self._problems.append(problem)
            self._values[name] = otherwise
            if otherwise is REQUIRED:
                self.values()
            return otherwise

    def _take(self, name: str, cast: Callable | None, **changed: Any) -> Any:
        keys = [(word, replace(key, cast=cast or key.cast, **changed)) for word, key in self._keys[name]]
        if len(keys) == 1:
            value = self._asked(*keys[0])
        else:
            found = {word: self._asked(word, replace(key, cast=None)) for word, key in keys}
            there = {word: part for word, part in found.items() if part is not None}
            value = cast(there) if cast else there
        self._values[name] = value
        return value

    def leave_out(self, *names: str) -> None:
        """These fields are not to be stated: their keys are not known."""
        for name in names:
            del self._keys[name]

    def values(self, **casts: Callable) -> dict[str, Any]:
        """All fields with their values, those not taken before read now.

        Raises:
            UserError: all that is mistaken, a key that nothing asks for too.
        """
        for name, keys in self._keys.items():
            if keys and name not in self._values:
                self.take(name, casts.get(name), otherwise=None)
        try:
            self._section.done()
        except UserError as problem:
            self._problems.append(problem)
        tell(self._problems)
        return self._values

    def _asked(self, word: str, key: Key) -> Any:
        if not self._section.has(word) and key.default is REQUIRED:
            known = [other for keys in self._keys.values() for other, _ in keys]
            without = f"; {self._without}" if self._without else ""
            raise self._section.lacks(word, f"{word}: {key.example}{without}" if key.example else "", known)
        if key.kind in (ONE, LIST):
            return key.kind(self._section, word, key.cast or str, key.default)
        if key.kind is SECTIONS:
            parts = self._section.take_sections(word)
            return key.cast(parts) if key.cast else parts
        part = self._section.take_section(word, key.default)
        if part is None:
            return key.default
        return key.cast(part) if key.cast else part
