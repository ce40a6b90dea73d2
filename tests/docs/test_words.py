"""Printed text keeps the house style: plain US English, no idiom that had to be explained to a grower."""

from __future__ import annotations

import ast
import re
from functools import cache
from pathlib import Path

import pytest

from pipeline.estimates.engines.interval_rules import TO_COME

ROOT = Path(__file__).parents[2]
NO_LONGER = (
    r"\d %", r"^ % [a-z]+\)",
    "seasons? to come", r"\bhangs? on", r"\blie apart", "until settled", "What to doubt", "Other roads",
    "brackets",
    r"\bleans? on", "pays best", "summaris", "cannot be told", "colour", "licence", r"\bin grey", "else taken",
    "may be left out", "where nothing is said",
    "could be none", r"\bmend\b", r"stands? beside", "is not to be had",
)  # fmt: skip
# in code and its comments, where a reader of one spelling searches in vain for the other
BRITISH = re.compile(
    r"fertilis|optimis[ei]|neighbour|centred|labelled|analysed|maximis|minimis|normalis|standardis|recognis|organis"
    r"|summaris|towards|colour|behaviour|favour|metre\b|metres\b|litre|licence",
    re.IGNORECASE,
)
# a target in program.yml and in estimates, a column of the findings and of the queries that make them
STORED = {TO_COME, "mend"}
# beside these, what is hashed for the ids of curves
NOT_PRINTED = re.compile(r"\(\\1 % coated\)| as mend\b|or seasons to come \(future seasons\)")


def _in_python(path: Path) -> list[str]:
    """The string constants of a module that are no docstring and no stored word."""
    tree = ast.parse(path.read_text())
    documented = (ast.Module, ast.ClassDef, ast.FunctionDef)
    docs = {
        id(node.body[0].value) for node in ast.walk(tree) if isinstance(node, documented) and ast.get_docstring(node)
    }
    texts = [node for node in ast.walk(tree) if isinstance(node, ast.Constant) and isinstance(node.value, str)]
    return [node.value for node in texts if id(node) not in docs and node.value not in STORED]


def _in_page(path: Path) -> list[str]:
    """The prose of a page: its fenced blocks hold code, or words as program.yml stores them."""
    return re.sub(r"^```.*?^```$", "", path.read_text(), flags=re.S | re.M).splitlines()


def _in_check(path: Path) -> list[str]:
    """The rule of a check and the texts its query prints."""
    lines = path.read_text().splitlines()
    said = [line for line in lines if line.startswith("-- says:")]
    return said + [text for line in lines if not line.startswith("--") for text in re.findall(r"'([^']*)'", line)]


def _in_contract(path: Path) -> list[str]:
    """The meanings that the data dictionary prints."""
    return re.findall(r'(?:meaning|holds|expected): "([^"]*)"', path.read_text())


def _in_makefile(path: Path) -> list[str]:
    return [line for line in path.read_text().splitlines() if "## " in line or "echo" in line]


@cache
def printed() -> list[tuple[str, str]]:
    """(file, text) of everything printed that is looked at here."""
    sources = {
        _in_python: (ROOT / "pipeline").rglob("*.py"),
        _in_contract: (ROOT / "pipeline" / "contract").rglob("*.yml"),
        _in_page: [*(ROOT / "reports").glob("*.qmd"), ROOT / "README.md"],
        _in_check: (ROOT / "sql" / "checks").glob("*.sql"),
        _in_makefile: [ROOT / "Makefile"],
    }
    return [
        (path.name, NOT_PRINTED.sub("", text))
        for read, paths in sources.items()
        for path in paths
        for text in read(path)
    ]


@pytest.mark.parametrize("phrase", NO_LONGER)
def test_no_phrase_comes_back_that_growers_stumbled_on(phrase):
    found = [(name, text) for name, text in printed() if re.search(phrase, text)]
    assert not found


@pytest.mark.parametrize("folder", ["pipeline", "sql", "reports", "tests"])
def test_code_has_one_spelling_the_one_that_is_printed(folder):
    """Not in what other programs wrote, nor in words that senders may use."""
    kept = {"r_answers", "example", "reference", "incoming", Path(__file__).name, "published_checks.yml"}
    files = [path for path in (ROOT / folder).rglob("*") if path.suffix in (".py", ".sql", ".qmd", ".yml", ".lua")]
    found = [
        f"{path.relative_to(ROOT)}: {word[0]}"
        for path in files
        if not kept & set(path.parts)
        for word in [BRITISH.search(path.read_text(encoding="utf-8"))]
        if word
    ]
    assert files and found == []


def test_every_kind_of_source_is_read():
    names = {name for name, _ in printed()}
    assert {"answers.py", "season.qmd", "README.md", "yield_unusual.sql", "Makefile"} <= names
