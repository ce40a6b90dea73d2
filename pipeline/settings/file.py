"""Reads a settings file as text with line numbers, so that a message can point at the line.

Plain YAML turns `no` into False and 12:30 into 750 and silently takes the last of doubled keys.
Here every scalar stays text until the caller says what it should be.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable
from datetime import date, datetime
from difflib import get_close_matches
from functools import partial
from math import isfinite
from pathlib import Path

import yaml

from pipeline.errors import UserError, one_of
from pipeline.settings.mistakes import Mistake, all_of, tell

REQUIRED = object()
MOST_BYTES = 1_000_000  # takes about ten seconds to read
MOST_CHARACTERS = 1_000  # of a message
LARGEST = 1e9  # nothing that a program states is larger
AN_EXAMPLE_DAY = re.compile(r"\w+: \d{4}-\d{2}-\d{2}")
# What the YAML library says, in plain words, and whether the fault is where the library began to read.
YAML_PROBLEMS = (
    ("found character '\\t'", "a tab; begin the line with spaces", False),
    ("found character '", "a text begins with a sign that must stand in quotes; put the text in quotes", False),
    (
        "mapping values are not allowed",
        "a colon too many, or a line that begins too far right; put a text with a colon in quotes",
        False,
    ),
    ("could not find expected ':'", "no colon after the name; write it as name: value", True),
    ("found unexpected end of stream", "a quotation mark is not closed", True),
    ("expected ',' or", "a { or [ is not closed, or a comma is missing", True),
    (
        "expected <block end>",
        "the line does not begin in the same column as those it belongs to, or a quotation mark is out of place",
        False,
    ),
)


class Section:
    """One mapping of the file. Every key must be taken once; what is left over is a typo."""

    def __init__(self, node: yaml.MappingNode, file: str, name: str) -> None:
        self.file, self.name, self.line = file, name, node.start_mark.line + 1
        self._nodes: dict[str, yaml.Node] = {}
        self._keys: dict[str, yaml.Node] = {}
        self._taken: list[str] = []
        self._meant: list[str] = []  # keys that a message took for mistyped ones
        problems = []
        for key, value in node.value:
            if not isinstance(key, yaml.ScalarNode):
                raise self.error('a name before a colon must be one word; is a bracket or a "?" out of place?', key)
            if key.value in self._nodes:
                more = ", with the entries of both" if isinstance(value, yaml.MappingNode | yaml.SequenceNode) else ""
                problems.append(self.error(f'"{key.value}" stands here twice; keep one{more}', key))
            self._nodes[key.value], self._keys[key.value] = value, key
        tell(problems)

    def error(self, what: str, node: yaml.Node | None = None) -> Mistake:
        line = node.start_mark.line + 1 if node is not None else self.line
        if len(what) > MOST_CHARACTERS:  # a value that fills the screen
            what = f"{what[: MOST_CHARACTERS // 2]} ... {what[-MOST_CHARACTERS // 2 :]}"
        return Mistake(f"{self.file}, line {line}: {what}", line)

    def take(self, key: str, cast: Callable[[str], object], default: object = REQUIRED):
        """The value of a key as `cast` makes it; `cast` raises ValueError naming what it expects."""
        node = self._node(key, default)
        if node is None:
            return default
        if not isinstance(node, yaml.ScalarNode):
            raise self.error(f'"{key}" must be a single value', node)
        return self._cast(key, node, cast)

    def has(self, key: str) -> bool:
        return key in self._nodes

    def line_of(self, key: str, *below: str) -> int:
        """The line in which the value of a key begins that is there; below: keys within it."""
        node = self._nodes[key]
        return Section(node, self.file, key).line_of(*below) if below else node.start_mark.line + 1

    def take_list(self, key: str, cast: Callable[[str], object], default: object = REQUIRED) -> tuple:
        node = self._node(key, default)
        if node is None:
            return default
        if not isinstance(node, yaml.SequenceNode):
            raise self.error(f'"{key}" must be a list: [a, b]', node)
        return tuple(all_of(partial(self._cast, key, item, cast) for item in node.value))

    def take_sections(self, key: str) -> list[Section]:
        """A list of mappings."""
        node = self._node(key, [])
        if node is None:
            return []
        if not isinstance(node, yaml.SequenceNode) or not all(isinstance(n, yaml.MappingNode) for n in node.value):
            raise self.error(f'"{key}" must be a list of entries, each beginning with "-"', node)
        return all_of(partial(Section, item, self.file, key) for item in node.value)

    def take_section(self, key: str, default: object = REQUIRED) -> Section | None:
        node = self._node(key, default)
        if node is None:
            return None
        if not isinstance(node, yaml.MappingNode):
            raise self.error(f'"{key}" must hold "name: value" entries', node)
        return Section(node, self.file, key)

    def take_each_as(self, cast_key: Callable[[str], object], cast: Callable[[str], object]) -> list[tuple]:
        """All entries of a section whose keys are the user's own, keys and values cast."""
        entries = self.take_each()
        if not entries:
            raise self.error(f'"{self.name}" is empty: fill it in, or remove it if it is optional')
        keys = all_of(
            partial(self._cast, f"{self.name}: {key}", yaml.ScalarNode("", key, node.start_mark), cast_key)
            for key, node in entries
        )
        values = all_of(partial(self.take, own, cast) for own, _ in entries)
        return list(zip(keys, values, strict=True))

    def take_each(self) -> list[tuple[str, yaml.Node]]:
        """All entries of a section whose keys are the user's own words."""
        self._taken = list(self._nodes)
        return list(self._nodes.items())

    def values(self, key: str, node: yaml.Node) -> tuple[str, ...]:
        """One word or a list of words under a key, as text."""
        nodes = node.value if isinstance(node, yaml.SequenceNode) else [node]
        if not nodes or not all(isinstance(n, yaml.ScalarNode) and n.value.strip() for n in nodes):
            raise self.error(f'"{key}" must be a word or a list of words', node)
        return tuple(n.value for n in nodes)

    def done(self) -> None:
        """Fails on the keys that nothing asked for."""
        tell(
            self.error(f'"{key}" is not known in "{self.name}": {one_of(self._taken, key)}', node)
            for key, node in self._keys.items()
            if key not in (*self._taken, *self._meant)
        )

    def lacks(self, key: str, add: str = "", known: Iterable[str] = ()) -> Mistake:
        """That a key is missing, with what may be a misspelling of it, and what to add. known: other keys that may
        stand here.
        """
        strange = [word for word in self._nodes if word not in (*self._taken, *known)]
        near = get_close_matches(key, strange, n=1)
        self._meant += near
        hint = f' (is it "{near[0]}" in line {self._keys[near[0]].start_mark.line + 1}?)' if near else ""
        own = ", the day is yours to fill in" if AN_EXAMPLE_DAY.fullmatch(add) else ""
        return self.error(f'"{key}" is missing in "{self.name}"{hint}{own}' + (f": add {add}" if add else ""))

    def _node(self, key: str, default: object) -> yaml.Node | None:
        self._taken.append(key)
        if key not in self._nodes:
            if default is REQUIRED:
                raise self.lacks(key)
            return None
        return self._nodes[key]

    def _cast(self, key: str, node: yaml.Node, cast: Callable[[str], object]):
        if not isinstance(node, yaml.ScalarNode):
            raise self.error(f'"{key}" must hold single values', node)
        if not node.value and node.style is None:  # a quoted "" is meant, nothing after the colon is forgotten
            raise self.error(f'"{key}" is empty: fill it in, or remove the line if it is optional', node)
        try:
            return cast(node.value)
        except ValueError as problem:
            raise self.error(f'"{key}" is "{node.value}"; expected {problem}', node) from None


def settings_text(path: Path, *, name: str) -> str:
    """The text of a settings file called `name` in messages; UserError where it cannot be opened or is too long to be
    one.
    """
    try:
        n_bytes = path.stat().st_size
        if n_bytes > MOST_BYTES:
            raise UserError(
                f"{name}: the file has {n_bytes / 1e6:,.1f} MB; at most {MOST_BYTES / 1e6:,.0f} MB are read. Is it"
                " another file? Remove what is no setting."
            )
        return path.read_text(encoding="utf-8-sig")
    except OSError as problem:
        raise UserError(f"{name}: cannot be opened ({problem.strerror}). Check who may read it.") from None


def composed(path: Path, *, name: str) -> yaml.Node | None:
    """What a settings file called `name` in messages holds, None where that is nothing; UserError where it is not
    YAML.
    """
    try:
        return yaml.compose(settings_text(path, name=name), Loader=yaml.BaseLoader)
    except UnicodeDecodeError as problem:
        line = path.read_bytes()[: problem.start].count(b"\n") + 1
        raise UserError(f"{name}, line {line}: not UTF-8 text; save the file as UTF-8") from None
    except yaml.reader.ReaderError as problem:
        line = settings_text(path, name=name)[: problem.position].count("\n") + 1
        told = f"a character that cannot be seen (U+{problem.character:04X}); delete it, or type the line again"
        raise UserError(f"{name}, line {line}: {told}") from None
    except yaml.MarkedYAMLError as problem:
        raise UserError(f"{name}, {_in_plain_words(problem)}") from None
    except yaml.YAMLError as problem:
        raise UserError(f"{name}: {problem}") from None
    except RecursionError:
        raise UserError(f"{name}: lists or sections are nested too deeply; is a [ or {{ left open?") from None


def _in_plain_words(problem: yaml.MarkedYAMLError) -> str:
    """'line 12: a tab; begin the line with spaces': the line at fault is where what was not closed begins."""
    told = str(problem.problem)
    words, is_begun = next(
        ((words, is_begun) for said, words, is_begun in YAML_PROBLEMS if told.startswith(said)),
        (f"{told}; check the indentation and the colons", False),
    )
    mark = (problem.context_mark if is_begun else None) or problem.problem_mark
    return f"line {mark.line + 1 if mark else 1}: {words}"


def read_settings(path: Path, *, name: str = "") -> Section:
    """The whole file as one section, called `name` in messages. UserError where it is missing or is not YAML."""
    name = name or path.name
    if not path.is_file():
        raise UserError(f"{path} is not there. A program folder needs a program.yml (make demo writes one to look at).")
    node = composed(path, name=name)
    if not isinstance(node, yaml.MappingNode):
        raise UserError(f'{name}: must hold "name: value" entries')
    return Section(node, name, path.name)


def filled(text: str) -> str:
    if not text.strip():
        raise ValueError("some words")
    return text


def number(text: str) -> float:
    try:
        value = float(text)
    except ValueError:
        raise ValueError("a number") from None
    if not isfinite(value):
        raise ValueError("a number")
    if abs(value) > LARGEST:
        raise ValueError(f"a number from -{LARGEST:,.0f} to {LARGEST:,.0f}")
    return value


def above_zero(text: str) -> float:
    value = number(text)
    if value <= 0:
        raise ValueError("a number above zero")
    return value


def count_to(most: int) -> Callable[[str], int]:
    """A cast to a whole number from 0 to `most`."""

    def cast(text: str) -> int:
        if not re.fullmatch(r"\d{1,9}", text, re.ASCII) or int(text) > most:
            raise ValueError(f"a whole number from 0 to {most:,}")
        return int(text)

    return cast


count = count_to(999_999)


def year(text: str) -> int:
    if not re.fullmatch(r"(19|20|21)\d\d", text, re.ASCII):
        raise ValueError("a year from 1900 to 2199, like 2061")
    return int(text)


def day(text: str) -> date:
    try:
        return datetime.strptime(text, "%Y-%m-%d").date()
    except ValueError:
        raise ValueError("a date as year-month-day") from None


def month_day(text: str) -> str:
    try:
        datetime.strptime(f"2001-{text}", "%Y-%m-%d")
    except ValueError:
        raise ValueError("month-day, like 05-01") from None
    if len(text) != 5:
        raise ValueError("month-day with two digits each, like 05-01")
    return text


def word_of(*words: str) -> Callable[[str], str]:
    """A cast that allows only these words."""

    def cast(text: str) -> str:
        if text not in words:
            hint = one_of(list(words), text)
            raise ValueError(f"one of: {', '.join(words)}" + (f" ({hint})" if hint.startswith("did") else ""))
        return text

    return cast


def known_word(*words: str) -> Callable[[str], str]:
    """As word_of, whatever the capitals."""
    return lambda text: word_of(*words)(text.lower())
